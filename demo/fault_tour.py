"""A tour of faults: each with its alarm, the shop's response, and its recovery."""

import asyncio
import contextlib
from typing import override

from .forms import Form
from .play import Play
from .shop_floor import Truth

PLANER = "Planer"
JOINTER = "Jointer"
TABLE_SAW = "Table saw"

DROPOUT = 8.0
"""The table saw's dropout time [s]; an hour would make a long tour."""
PATIENCE = 40.0
"""The longest time to an alarm that waits for a device to answer, twice [s]."""


class FaultTour(Play):
    """A stuck gate, a tripped breaker, an offline plug, the safety inputs, and smoke."""

    first: Truth

    @override
    async def play(self) -> None:
        await self._shorten_the_dropout()
        self.first = await self.floor.truth()
        self.begin()
        await self._a_stuck_gate()
        await self._a_tripped_breaker()
        await self._a_lost_plug()
        await self._smoke()
        await self._all_well()

    async def _shorten_the_dropout(self) -> None:
        floor = self.floor
        form = await Form.change_part(
            floor.client,
            floor.entry_id,
            "machine",
            floor.part_id(TABLE_SAW),
            "detection",
        )
        await form.fill(grace=DROPOUT)

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
        await self.until("collecting", "on", PLANER, PATIENCE)
        await self._no_alarm("Planer gate")
        self.breathed(before, await floor.truth())
        await self._finish(PLANER)

    async def _a_tripped_breaker(self) -> None:
        floor = self.floor
        self.timeline.title("2. The collector's breaker trips")
        before = await floor.truth()
        self.say("switch the jointer on")
        await floor.run(JOINTER)
        await self.until("collecting", "on", JOINTER)
        self.say("trip the breaker: the relay stays on, the motor stops")
        await floor.break_part("collector", "breaker_tripped")
        await self.until("collecting", "off", JOINTER)
        self.check(True, "The jointer is shown without air, though the relay is on")
        await self._alarm("")
        self.say("reset the breaker")
        await floor.mend("collector")
        await self.until("collecting", "on", JOINTER, PATIENCE)
        await self._no_alarm("")
        self.breathed(before, await floor.truth())
        await self._finish(JOINTER)

    async def _a_lost_plug(self) -> None:
        floor = self.floor
        self.timeline.title("3. The plug of a running machine is lost")
        before = await floor.truth()
        self.say("switch the table saw on")
        await floor.run(TABLE_SAW)
        await self.until("collecting", "on", TABLE_SAW)
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
            f"The saw kept its air for the grace time of {DROPOUT:g} s",
        )
        self.say("bring the plug back")
        await floor.mend("table_saw")
        await self.until("collecting", "on", TABLE_SAW)
        await self._no_alarm(TABLE_SAW)
        self.breathed(before, await floor.truth())
        await self._finish(TABLE_SAW)

    async def _smoke(self) -> None:
        floor = self.floor
        self.timeline.title("4. What watches over the collector, and smoke")
        before = await floor.truth()
        self.say("switch the planer on")
        await floor.run(PLANER)
        await self.until("collecting", "on", PLANER)
        self.say("fill the bin, let the filter clog, and the compressed air escape")
        await floor.fill_bin(95)
        await floor.break_part("site", "filter_clogged")
        await floor.break_part("site", "air_supply_low")
        await self._alarms("air_supply_low", "bin_full", "filter_pressure_high")
        truth = await floor.truth()
        self.check(
            not truth.motor_commands("off", before.now),
            "Dust is still collected at the planer: the bin raises an alarm, nothing more",
        )
        self.say("empty the bin, clean the filter, and start the compressor")
        await floor.fill_bin(0)
        await floor.mend("site")
        await self._no_alarm("")
        self.say("light something beside the smoke detector; the planer runs on")
        lit = await floor.truth()
        await floor.break_part("site", "smoke")
        await self._alarms("fire_shutdown")
        await self.until("phase", "spinning_down")
        truth = await floor.truth()
        reported = truth.motor_commands("off", lit.now)
        self.check(
            bool(reported) and reported[0] - lit.now < 1,
            "The collector was turned off at once",
            f"{reported}",
        )
        await self.until("gate", "closed", "Planer gate", 30)
        self.check(
            not (await floor.truth())["standing"]["collector"]["turning"],
            "The planer's gate is shut once the impeller stands",
        )
        self.check(
            await self._reset() == "refused_fire_shutdown",
            "While there is smoke it cannot be reset",
        )
        self.say("let the smoke out")
        await floor.mend("site")
        await floor.client.states.until_state(floor.seen("site_smoke"), "off")
        self.check(
            floor.state("phase") == "idle" and floor.state("problem") == "on",
            "The system stays locked though the planer runs",
        )
        self.say("reset it in the repairs of Home Assistant")
        self.check(await self._reset() == "create_entry", "It is reset")
        await self.until("collecting", "on", PLANER)
        await self._no_alarm("")
        self.breathed(before, await floor.truth())
        await self._finish(PLANER)

    async def _reset(self) -> str:
        """Confirm the repair of the fire alarm shutdown; return the result."""
        client = self.floor.client
        for issue in await client.issues("gatewright"):
            if issue["translation_key"] == "alarm_fire_shutdown":
                form = await Form.repair(client, issue)
                await form.fill()
                return form.step
        return "no issue"

    async def _alarms(self, *kinds: str) -> None:
        """Wait until some alarms of the collector are all active."""
        problem = self.floor.own("problem")

        def standing() -> set[str]:
            return set(self.states.attribute(problem, "alarms") or ())

        with contextlib.suppress(TimeoutError):
            await self.states.until(lambda: standing().issuperset(kinds), PATIENCE)
        self.check(
            standing().issuperset(kinds),
            f"An alarm is raised: {', '.join(kinds).replace('_', ' ')}",
            f"standing: {', '.join(sorted(standing())) or 'none'}",
        )

    async def _all_well(self) -> None:
        self.timeline.title("5. All is well again")
        left = [
            name
            for name in ["", *self.floor.part_names]
            if self.floor.state("problem", name) != "off"
        ]
        self.check(not left, "No problem is left", ", ".join(left))
        self.breathed(self.first, await self.floor.truth())

    async def _alarm(self, part: str) -> None:
        """Wait for an alarm of a part, and print its text."""
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
        """Turn a machine off, and wait until everything is at rest."""
        self.say(f"switch the {machine.lower()} off")
        await self.floor.stop(machine)
        await self.until("phase", "idle", timeout=40)

    @override
    async def summary(self) -> None:
        """Print the problems."""
        reported: set[str] = set()
        problem = self.floor.own("problem")
        for change in self.states.history(problem, attributes=True):
            reported.update(change.attributes.get("alarms") or ())
        self.timeline.title("What came of it")
        truth = await self.floor.truth()
        starts = truth["motor_starts"] - self.first["motor_starts"]
        for alarm in sorted(reported):
            self.timeline.note(alarm.replace("_", " "))
        self.timeline.table(
            [
                ("Kinds of alarms raised", str(len(reported))),
                ("Motor starts", str(starts)),
            ]
        )
