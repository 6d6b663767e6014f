"""A real MQTT broker on the loopback address, which can be killed and started again."""

import asyncio
from contextlib import AbstractAsyncContextManager
import os
from pathlib import Path
import shutil
import subprocess
from types import TracebackType
from typing import Self, override

from demo.hub_directory import ROOT
from demo.ports import HOST, hold_port

# The same names as in scripts/setup.
PROGRAMS = (
    "mosquitto",
    "/usr/sbin/mosquitto",
    str(ROOT / ".toolchain" / "mosquitto" / "run"),
)


def find_program() -> str:
    """Return the broker's program; raises `FileNotFoundError` with what to do about it."""
    chosen = os.environ.get("GATEWRIGHT_MOSQUITTO")
    for name in (chosen,) if chosen else PROGRAMS:
        if (program := shutil.which(name)) is not None:
            return program
    raise FileNotFoundError(
        "There is no MQTT broker: run scripts/setup mqtt, install mosquitto, or name "
        "the program of one in GATEWRIGHT_MOSQUITTO"
    )


class Broker(AbstractAsyncContextManager["Broker"]):
    """A mosquitto process without persistence: after a kill its retained messages are gone."""

    def __init__(self, path: Path) -> None:
        """Prepare its settings in a directory."""
        self.port = hold_port()
        self._program = find_program()
        self._settings = path / "mosquitto.conf"
        self._settings.write_text(
            f"listener {self.port} {HOST}\n"
            "allow_anonymous true\n"
            "persistence false\n"
            # Started by root it would switch to a user who may not exist.
            "user root\n",
            "utf-8",
        )
        self._log = path / "mosquitto.log"
        self._process: subprocess.Popen[bytes] | None = None

    @override
    async def __aenter__(self) -> Self:
        await self.start()
        return self

    @override
    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.kill()

    async def start(self) -> None:
        """Start the process and wait until it listens; raises `TimeoutError` with its log."""
        with self._log.open("ab") as output:
            self._process = subprocess.Popen(  # noqa: ASYNC220 - Starting is quick.
                [self._program, "-c", self._settings],
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        try:
            async with asyncio.timeout(20):
                while not await self._listens():  # noqa: ASYNC110 - Nothing tells.
                    await asyncio.sleep(0.05)
        except TimeoutError:
            self.kill()
            raise TimeoutError(
                f"The broker does not listen:\n{self.log_tail()}"
            ) from None

    def log_tail(self, lines: int = 40) -> str:
        """Return the end of the log."""
        text = self._log.read_text("utf-8", errors="replace")
        return "\n".join(text.splitlines()[-lines:])

    def kill(self) -> None:
        """End the process at once, as a power cut would."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    async def _listens(self) -> bool:
        try:
            _, writer = await asyncio.open_connection(HOST, self.port)
        except OSError:
            return False
        writer.close()
        await writer.wait_closed()
        return True
