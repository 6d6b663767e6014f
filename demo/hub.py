"""Starts, stops, kills and restarts a real Home Assistant in a prepared directory."""

import asyncio
import contextlib
import os
from pathlib import Path
import signal
import subprocess
import sys
import time
from types import TracebackType
from typing import Self

import aiohttp

from .hub_client import HubClient
from .hub_directory import HubDirectory
from .hub_log import LogEntry, read_log
from .hub_states import PATIENCE


class HubError(Exception):
    """Home Assistant failed; the message has the end of its log."""


class Hub:
    """A Home Assistant process. As a context manager it starts the process, and stops it at the end."""

    def __init__(self, directory: HubDirectory, *, hass: Path | None = None) -> None:
        """Choose the directory; `hass` is the executable, by default the one beside this Python."""
        self.directory = directory
        self._hass = hass or Path(sys.executable).parent / "hass"
        self._process: subprocess.Popen[bytes] | None = None
        self._log_start = 0

    async def __aenter__(self) -> Self:
        """Start Home Assistant."""
        try:
            await self.start()
        except BaseException:
            self.kill()
            raise
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop Home Assistant, whatever happened."""
        if error is not None and self._process is not None and self.pid is None:
            code = self._process.returncode
            error.add_note(f"Home Assistant had ended ({code}):\n{self.log_tail()}")
        try:
            await self.stop()
        finally:
            self.kill()

    @property
    def pid(self) -> int | None:
        """Return the process id, if the process runs."""
        process = self._process
        return process.pid if process is not None and process.poll() is None else None

    async def start(self, timeout: float = 300.0) -> float:
        """Start the process and wait until Home Assistant runs; return the seconds that took.

        The `timeout` is in s, and longer by `PATIENCE`.
        """
        if self.pid is not None:
            raise HubError("Home Assistant runs already")
        began = time.monotonic()
        log = self.directory.log
        self._log_start = log.stat().st_size if log.exists() else 0
        environment = {
            key: value
            for key, value in os.environ.items()
            # Home Assistant must find only what is in its own directory.
            if not key.startswith(("PYTHON", "COV_", "COVERAGE_", "PYTEST_"))
        }
        if preferred := os.environ.get("GATEWRIGHT_HUB_PATH"):
            # Packages to try instead of the installed ones.
            environment["PYTHONPATH"] = preferred
        with log.open("ab") as output:
            self._process = subprocess.Popen(  # noqa: ASYNC220 - Starting is quick.
                [
                    self._hass,
                    "-c",
                    self.directory.path,
                    "--log-no-color",
                    "--skip-pip",
                ],
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                env={**environment, "HA_DISABLE_LOG_FILE": "1"},
                # Ctrl-C in a terminal goes to the demo, which then stops Home Assistant properly.
                start_new_session=True,
            )
        await self._wait_until_running(began + timeout * PATIENCE)
        return time.monotonic() - began

    async def stop(self, timeout: float = 240.0) -> float:
        """Stop Home Assistant properly, and wait for its end; return the seconds that took.

        It gives its integrations and its recorder 210 s before it ends without them.
        """
        process = self._process
        if process is None or process.poll() is not None:
            return 0.0
        began = time.monotonic()
        process.send_signal(signal.SIGTERM)
        while process.poll() is None:
            if time.monotonic() > began + timeout:
                self.kill()
                raise HubError(
                    f"Home Assistant did not stop within {timeout:g} s\n{self.log_tail()}"
                )
            await asyncio.sleep(0.05)
        return time.monotonic() - began

    def kill(self) -> None:
        """End the process at once, as a power cut would. Does nothing if there is none."""
        process = self._process
        if process is None or process.poll() is not None:
            return
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()

    async def restart(self, timeout: float = 300.0) -> float:
        """Restart Home Assistant; return the seconds that took."""
        return await self.stop() + await self.start(timeout)

    async def ended(self) -> int:
        """Wait until the process ends on its own; return its exit code."""
        process = self._process
        if process is None:
            raise HubError("Home Assistant was not started")
        while (code := process.poll()) is None:  # noqa: ASYNC110 - Nothing tells the loop.
            await asyncio.sleep(0.2)
        return code

    def client(self) -> HubClient:
        """Return a client, to be used as an async context manager."""
        return HubClient(self.directory.url, self.directory.token)

    def troubles(self, *, all_starts: bool = False) -> list[LogEntry]:
        """Return the warnings and errors since the last start, or since the first one."""
        return read_log(self.directory.log, 0 if all_starts else self._log_start)

    def log_tail(self, lines: int = 40) -> str:
        """Return the end of the log."""
        if not self.directory.log.exists():
            return ""
        text = self.directory.log.read_text("utf-8", errors="replace")
        return "\n".join(text.splitlines()[-lines:])

    async def _wait_until_running(self, deadline: float) -> None:
        """Poll Home Assistant's state until it runs."""
        url = f"{self.directory.url}/api/config"
        headers = {"Authorization": f"Bearer {self.directory.token}"}
        async with aiohttp.ClientSession(headers=headers) as session:
            while True:
                if self.pid is None:
                    raise HubError(f"Home Assistant ended at once\n{self.log_tail()}")
                with contextlib.suppress(aiohttp.ClientError, TimeoutError):
                    async with session.get(
                        url, timeout=aiohttp.ClientTimeout(5)
                    ) as answer:
                        if answer.status == 401:
                            raise HubError(
                                "Another Home Assistant answers at this port"
                            )
                        if answer.ok and (await answer.json())["state"] == "RUNNING":
                            return
                if time.monotonic() > deadline:
                    raise HubError(
                        f"Home Assistant did not get to run\n{self.log_tail()}"
                    )
                await asyncio.sleep(0.1)
