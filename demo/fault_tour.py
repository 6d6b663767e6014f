"""What goes wrong in a workshop: each fault with its alarm, what the shop does about it, and its recovery."""

import asyncio
from typing import override

from .forms import Form
from .hub_states import StateChange
from .play import Play
from .shop_floor import Truth

PLANER = "Planer"
JOINTER = "Jointer"
TABLE_SAW = "Table saw"

GRACE = 8.0
"""For how long the table saw is to keep its air when its plug is lost [s]; an hour would make a long tour."""
PATIENCE = 40.0
"""How long an alarm may take that waits for a device to answer, twice [s]."""


class FaultTour(Play):
    """A stuck gate, a tripped breaker and a lost plug."""

    first: Truth

    @override
    async def play(self) -> None:
        await self._shorten_the_grace()
        self.first = await self.floor.truth()
        self.begin()
        await self._a_stuck_gate()
        await self._a_tripped_breaker()
        await self._a_lost_plug()
        await self._all_well()

    async def _shorten_the_grace(self) -> None:
        floor = self.floor
        form = await Form.change_part(
            floor.client, floor.entry_id, "machine", floor.part_id(TABLE_SAW)
        )
        await form.fill(grace=GRACE)

    async def _a_stuck_gate(self) -> None:
        floor = self.floor
        self.timeline.title("1. A gate is stuck")
        before = await floor.truth()
        self.say("jam the planer's gate, and switch the planer on")
        await floor.break_part("planer_gate", "gate_stuck")
        await floor.run(PLANER)
        await self._alarm("Planer gate")
        truth = await floor.truth()
        self.check(
            truth["motor_starts"] == before["motor_starts"],
            "The collector was not started against a shut gate",
        )
        self.say("free the gate; the planer runs all the time")
        await floor.mend("planer_gate")
        await self.until("air", "on", PLANER, PATIENCE)
        await self._no_alarm("Planer gate")
        self.breathed(before, await floor.truth())
        await self._finish(PLANER)

    async def _a_tripped_breaker(self) -> None:
        floor = self.floor
        self.timeline.title("2. The collector's breaker trips")
        before = await floor.truth()
        self.say("switch the jointer on")
        await floor.run(JOINTER)
        await self.until("air", "on", JOINTER)
        self.say("trip the breaker: the relay stays on, the motor stops")
        await floor.break_part("collector", "breaker_tripped")
        await self.until("air", "off", JOINTER)
        self.check(True, "The jointer is shown without air, though the relay is on")
        await self._alarm("")
        self.say("reset the breaker")
        await floor.mend("collector")
        await self.until("air", "on", JOINTER, PATIENCE)
        await self._no_alarm("")
        self.breathed(before, await floor.truth())
        await self._finish(JOINTER)

    async def _a_lost_plug(self) -> None:
        floor = self.floor
        self.timeline.title("3. The plug of a running machine is lost")
        before = await floor.truth()
        self.say("switch the table saw on")
        await floor.run(TABLE_SAW)
        await self.until("air", "on", TABLE_SAW)
        # Until the impeller is up to speed.
        await asyncio.sleep(floor.layout.collector.spin_up)
        served = await floor.truth()
        self.say("take its plug off the network; the saw runs on")
        await floor.break_part("table_saw", "plug_offline")
        await self._alarm(TABLE_SAW)
        truth = await floor.truth()
        self.check(
            truth.machine("table_saw", "without_air")
            == served.machine("table_saw", "without_air"),
            f"The saw kept its air for the grace time of {GRACE:g} s",
        )
        self.say("bring the plug back")
        await floor.mend("table_saw")
        await self.until("air", "on", TABLE_SAW)
        await self._no_alarm(TABLE_SAW)
        self.breathed(before, await floor.truth())
        await self._finish(TABLE_SAW)

    async def _all_well(self) -> None:
        self.timeline.title("4. All is well again")
        left = [
            name
            for name in ["", *self.floor.part_names]
            if self.floor.state("problem", name) != "off"
        ]
        self.check(not left, "No problem is left", ", ".join(left))
        self.breathed(self.first, await self.floor.truth())

    async def _alarm(self, part: str) -> None:
        """Wait for an alarm of a part, and print what it says."""
        try:
            await self.until("problem", "on", part, PATIENCE)
        except TimeoutError as err:
            self.check(False, f"An alarm of the {part or 'system'}", str(err))
            return
        alarms = self.states.attribute(self.floor.own("problem", part), "alarms") or []
        self.check(
            bool(alarms),
            f"An alarm is raised: {', '.join(alarms).replace('_', ' ')}",
            "but it does not say which",
        )

    async def _no_alarm(self, part: str) -> None:
        """Wait until a part's alarms are cleared."""
        try:
            await self.until("problem", "off", part)
        except TimeoutError as err:
            self.check(False, "The alarm is cleared", str(err))
        else:
            self.check(True, "The alarm is cleared")

    async def _finish(self, machine: str) -> None:
        """Switch a machine off, and wait until all is at rest."""
        self.say(f"switch the {machine.lower()} off")
        await self.floor.stop(machine)
        await self.until("phase", "resting", timeout=40)

    @override
    async def summary(self) -> None:
        """Print how often something was told as a problem."""
        told: dict[str, int] = {}
        changes: list[StateChange] = self.states.history(self.floor.own("problem"))
        for change in changes:
            for alarm in change.attributes.get("alarms") or ():
                told[alarm] = told.get(alarm, 0) + 1
        self.timeline.title("What came of it")
        truth = await self.floor.truth()
        starts = truth["motor_starts"] - self.first["motor_starts"]
        self.timeline.table(
            [
                ("Alarms raised", ", ".join(sorted(told)).replace("_", " ") or "none"),
                ("Motor starts", str(starts)),
            ]
        )
