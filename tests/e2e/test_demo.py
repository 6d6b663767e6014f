"""The demo, as a user runs it with one command."""

import asyncio
from asyncio.subprocess import PIPE, STDOUT, Process
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass
import os
from pathlib import Path
import re
import signal
import socket
import sys

import pytest

from demo.hub_directory import ROOT
from demo.play import PROMPT
from demo.ports import HOST, hold_port, listens
from demo.purge_scene import SCENES

STEPS = [
    "Starting Home Assistant",
    "Setting Gatewright up, through its forms",
    "1. A machine starts",
    "2. A second machine joins, and the first one finishes",
    "3. Stop-start cuts at the miter saw",
    "4. A vacuum that is not docked makes noise",
    "5. Air is asked for at the floor sweep",
    "6. Home Assistant restarts while the jointer runs",
    "7. Everything comes to rest",
    "8. The table saw starts again, and its gate is known",
    "9. The record, beside what Home Assistant's recorder kept",
    "10. The bin fills, is reported, and is emptied",
    "11. A drop box is emptied into the main",
    "12. A vacuum robot docks, and is emptied",
    "What came of it",
]
LINE = re.compile(r" *(?P<at>\d+\.\d) s  (?P<who>\w+) +(?P<what>\S.*)")


@dataclass(slots=True)
class Demo:
    """A started demo, and its output so far."""

    process: Process
    port: int
    printed: str = ""

    async def until(self, text: str) -> None:
        """Read until a text comes; fail with the whole output if it doesn't."""
        assert self.process.stdout
        # Home Assistant starts in it, which takes time on a busy machine.
        async with asyncio.timeout(300):
            while text not in self.printed:
                line = (await self.process.stdout.readline()).decode()
                self.printed += line
                assert line, f"{text!r} did not come:\n{self.printed}"

    async def end(self, timeout: float) -> int | None:
        """Read the rest, and wait for its end; return its exit code."""
        async with asyncio.timeout(timeout):
            self.printed += (await self.process.communicate())[0].decode()
        return self.process.returncode


type Start = Callable[..., Awaitable[Demo]]


@pytest.fixture
async def start(tmp_path: Path) -> AsyncIterator[Start]:
    """Return how to start the demo; none is left at the end."""
    started: list[Demo] = []

    async def start_demo(*options: str) -> Demo:
        # Held here, so that nobody else can answer there.
        port = hold_port()
        arguments = ("--dir", str(tmp_path / "demo"), "--port", str(port), *options)
        process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            "demo",
            *arguments,
            cwd=ROOT,
            env={**os.environ, "PYTHONDONTWRITEBYTECODE": ""},
            stdout=PIPE,
            stderr=STDOUT,
        )
        started.append(Demo(process, port))
        return started[-1]

    yield start_demo
    for demo in started:
        if demo.process.returncode is None:
            demo.process.terminate()
            await demo.end(60)


async def test_the_session(start: Start) -> None:
    demo = await start("--once")
    code = await demo.end(600)
    printed = demo.printed
    assert code == 0, printed
    assert not listens(demo.port)
    assert "WRONG" not in printed
    assert "\x1b" not in printed

    lines = printed.splitlines()
    assert [line for line in lines if line in STEPS] == STEPS
    assert [line for line in lines if len(line) > 100] == []
    checks = re.fullmatch(r"All (\d+) checks held\.", lines[-1])
    assert checks
    assert int(checks[1]) == sum(line.startswith(f"{'':11}ok  ") for line in lines) > 40

    reported = [match for line in lines if (match := LINE.fullmatch(line))]
    instants = [float(line["at"]) for line in reported]
    assert instants == sorted(instants)
    # It plays for almost three minutes, and every start of Home Assistant takes more.
    assert instants[-1] > 130
    # A person's action, the plug's report, and the shop's response.
    first = [f"{line['who']}: {line['what']}" for line in reported][:8]
    assert first[0] == "You: switch the table saw on"
    assert re.fullmatch(r"Plug: Table saw: [\d.,]+ W", first[1])
    # The gate opens at the first reading, before the saw is known to run.
    assert first[2] == "Gate: Table saw gate opens"
    assert first[3].startswith("Machine: Table saw")
    assert "Gate: Table saw gate is open" in first
    assert "Collector: is on" in first
    # Three times for machines, and once each for the drop box and the robot.
    started = sum(
        (line["who"], line["what"]) == ("Collector", "is on") for line in reported
    )
    assert started == 3 + len(SCENES)

    reaction = next(line for line in lines if "to the gate's command" in line)
    times, middle, longest = re.findall(r"[\d.]+", reaction)
    assert int(times) == 5
    assert 0 <= float(middle) <= float(longest) <= PROMPT


async def test_an_interruption(start: Start) -> None:
    demo = await start()
    await demo.until("the system was created")
    assert listens(demo.port)

    # A second one must not take the first one's files.
    second = await start()
    assert await second.end(60) == 2, second.printed
    assert "Another demo runs" in second.printed

    demo.process.send_signal(signal.SIGINT)
    assert await demo.end(300) == 130, demo.printed
    assert demo.printed.splitlines()[-1] == "Stopped.", demo.printed
    assert "Traceback" not in demo.printed
    assert not listens(demo.port)


async def test_a_port_in_use_is_refused(start: Start) -> None:
    with socket.socket() as other:
        other.bind((HOST, 0))
        other.listen()
        demo = await start("--port", str(other.getsockname()[1]))
        assert await demo.end(60) == 2, demo.printed
    assert "is in use" in demo.printed
