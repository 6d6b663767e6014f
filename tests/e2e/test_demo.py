"""The demo as somebody runs it who typed one command."""

import asyncio
from asyncio.subprocess import PIPE, STDOUT, Process
import os
from pathlib import Path
import re
import signal
import socket
import sys

from demo.hub_directory import HOST, ROOT, free_port
from demo.play import PROMPT
from demo.shop_floor import START_SETTLE

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
    "8. The record, beside what the hub's recorder kept",
    "9. The bin fills, is told of, and is emptied",
    "What came of it",
]
LINE = re.compile(r" *(?P<at>\d+\.\d) s  (?P<who>\w+) +(?P<what>\S.*)")


async def start(path: Path, *options: str) -> tuple[Process, int]:
    """Start the demo; return its process and its port."""
    port = free_port()
    arguments = ("--dir", str(path), "--port", str(port), *options)
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
    return process, port


def answers(port: int) -> bool:
    """Whether anybody listens at a port."""
    with socket.socket() as probe:
        return probe.connect_ex((HOST, port)) == 0


async def until(process: Process, text: str) -> None:
    """Read what a process prints until some text comes."""
    assert process.stdout
    async with asyncio.timeout(90):
        while text not in (line := (await process.stdout.readline()).decode()):
            assert line, f"{text} did not come"


async def test_the_session(tmp_path: Path) -> None:
    process, port = await start(tmp_path / "demo", "--once")
    async with asyncio.timeout(300):
        printed = (await process.communicate())[0].decode()
    assert process.returncode == 0, printed
    assert not answers(port)
    assert "WRONG" not in printed
    assert "\x1b" not in printed

    lines = printed.splitlines()
    assert [line for line in lines if line in STEPS] == STEPS
    assert [line for line in lines if len(line) > 100] == []
    checks = re.fullmatch(r"All (\d+) checks held\.", lines[-1])
    assert checks
    assert int(checks[1]) == sum(line.startswith(f"{'':11}ok  ") for line in lines) > 40

    told = [match for line in lines if (match := LINE.fullmatch(line))]
    instants = [float(line["at"]) for line in told]
    assert instants == sorted(instants)
    # It plays for two and a half minutes, and every hub start takes its time on top.
    assert 110 < instants[-1] < 240
    # What somebody does, what the plug says to it, and what the shop makes of that.
    first = [f"{line['who']}: {line['what']}" for line in told][:8]
    assert first[0] == "You: switch the table saw on"
    assert re.fullmatch(r"Plug: Table saw: [\d.,]+ W", first[1])
    assert first[2].startswith("Machine: Table saw")
    assert "Gate: Table saw gate opens" in first
    assert "Gate: Table saw gate is open" in first
    assert "Collector: is on" in first
    assert sum(line["what"] == "is on" for line in told) == 2

    reaction = next(line for line in lines if "to the gate's command" in line)
    times, middle, longest = re.findall(r"[\d.]+", reaction)
    assert int(times) == 4
    assert START_SETTLE <= float(middle) <= float(longest) <= START_SETTLE + PROMPT


async def test_an_interruption(tmp_path: Path) -> None:
    process, port = await start(tmp_path / "demo")
    await until(process, "the system was created")
    assert answers(port)

    # A second one must not take the files from under the first.
    second, _ = await start(tmp_path / "demo")
    async with asyncio.timeout(30):
        printed = (await second.communicate())[0].decode()
    assert second.returncode == 2
    assert "Another demo runs" in printed

    process.send_signal(signal.SIGINT)
    async with asyncio.timeout(30):
        printed = (await process.communicate())[0].decode()
    assert process.returncode == 130
    assert printed.splitlines()[-1] == "Stopped."
    assert "Traceback" not in printed
    assert not answers(port)
