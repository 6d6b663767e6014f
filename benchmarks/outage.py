"""What a shop notices when its database server goes offline: only missing history."""

import asyncio
from datetime import UTC, datetime
import shlex
from typing import override

from demo.hub_socket import CommandError
from demo.play import Play
from demo.shop_floor import ShopFloor
from demo.timeline import Timeline

TABLE_SAW = "Table saw"
PLANER = "Planer"

_WRITTEN = 10.0
"""The latest time for the last events to be in the database [s]."""
_GIVEN_UP = 60.0
"""The longest start of Home Assistant without its database [s]."""


class Outage(Play):
    """The server goes offline at work, and is offline again when Home Assistant starts."""

    def __init__(
        self, floor: ShopFloor, timeline: Timeline, stop: str, start: str
    ) -> None:
        super().__init__(floor, timeline)
        self._stop, self._start = stop, start
        self._since = 0.0

    @override
    async def play(self) -> None:
        """Play it; the server is there again at the end."""
        self.begin()
        self._since = (await self.floor.truth()).now
        await self._work(TABLE_SAW)
        self.check(await self._simulate() == "", "What was recorded can be simulated")
        await self._at_work()
        await self._at_the_start()

    @override
    async def summary(self) -> None:
        """Print nothing more: everything was checked."""

    async def _at_work(self) -> None:
        self.timeline.title("The server goes away at work")
        await self._do(self._stop)
        try:
            await self._work(PLANER)
            refused = await self._simulate()
            self.check(
                "cannot be read" in refused,
                "A simulation says that the database cannot be read",
                refused,
            )
        finally:
            await self._do(self._start)
        await asyncio.sleep(_WRITTEN)
        await self._work(PLANER)
        self.check(await self._simulate() == "", "With the server back, it simulates")

    async def _at_the_start(self) -> None:
        floor, hub = self.floor, self.floor.hub
        self.timeline.title("The server is away when Home Assistant starts")
        await floor.leave()
        await hub.stop()
        await self._do(self._stop)
        try:
            took = await hub.start()
            await floor.enter()
            await floor.until_measured()
            self.check(
                took < _GIVEN_UP,
                f"Home Assistant runs after {took:.0f} s, without history",
            )
            await self._work(TABLE_SAW)
        finally:
            await self._do(self._start)
        await floor.leave()
        took = await hub.restart()
        await floor.enter()
        await floor.until_measured()
        self.check(await self._simulate() == "", "After a restart, there is history")

    async def _work(self, machine: str) -> None:
        """Run a machine until it's served, and come to rest."""
        before = await self.floor.truth()
        self.say(f"switch the {machine.lower()} on")
        await self.floor.run(machine)
        await self.until("collecting", "on", machine)
        truth = await self.floor.truth()
        self.reacted(machine, truth, before.now, starting=True)
        await self.floor.stop(machine)
        await self.until("phase", "idle", timeout=60)
        await asyncio.sleep(_WRITTEN)

    async def _simulate(self) -> str:
        """Simulate the session; return the reason for a failure, empty without one."""
        try:
            await self.floor.client.ask(
                "gatewright.simulate",
                config_entry_id=self.floor.entry_id,
                start=datetime.fromtimestamp(self._since, UTC).isoformat(),
            )
        except CommandError as err:
            return str(err)
        return ""

    async def _do(self, command: str) -> None:
        self.timeline.note(command)
        process = await asyncio.create_subprocess_exec(
            *shlex.split(command),
            stdin=asyncio.subprocess.DEVNULL,
            stdout=asyncio.subprocess.DEVNULL,
        )
        if code := await process.wait():
            raise TimeoutError(f"{command} ended with {code}")
