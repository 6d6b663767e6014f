"""A working session of two minutes in the virtual workshop, each step checked against the workshop's record."""

import asyncio
import time

from .air_scene import start_again
from .bin_scene import fill_and_empty
from .newcomer import FLOOR_SWEEP, PURGING, SHUTOFF_DELAY
from .play import Play
from .purge_scene import empty_afterwards
from .record_check import compare
from .shop_floor import Truth
from .simulation_scene import simulate_session

TABLE_SAW = "Table saw"
PLANER = "Planer"
MITER_SAW = "Miter saw"
VACUUM = "Shop vacuum"
JOINTER = "Jointer"

CUTS, CUT, PAUSE = 3, 4.0, 6.0
"""How often and how long the miter saw cuts, and its pauses [s]."""
HOLD = 15.0
"""The miter saw's hold [s]."""
SLACK = 1.0
"""How much later than computed something may happen on a busy computer [s]."""


class WorkingSession(Play):
    """The session. Its steps overlap like real work: each one finds what the last one left."""

    first: Truth
    away: tuple[float, float]
    """When Home Assistant was down, from the last to the first sign of it [s since the epoch]."""

    async def play(self) -> None:
        """Play all steps; raises `TimeoutError` where one gets stuck."""
        self.first = await self.floor.truth()
        self.begin()
        await self._a_machine_starts()
        await self._another_joins()
        await self._stop_and_start()
        await self._noise_without_a_hose()
        await self._asked_for_by_hand()
        await self._a_restart()
        await self._rest()
        await start_again(self)
        await self._record()
        await simulate_session(self, self.first.now, self.away[1] - self.away[0])
        await fill_and_empty(self)
        await empty_afterwards(self)

    async def _a_machine_starts(self) -> None:
        floor = self.floor
        self.timeline.title("1. A machine starts")
        before = self.first
        self.say("switch the table saw on")
        await floor.run(TABLE_SAW)
        await self.until("collecting", "on", TABLE_SAW)
        truth = await floor.truth()
        self.reacted(TABLE_SAW, truth, before.now, starting=True)
        self.only_opened(["Table saw gate"], truth, before.now, "The table saw")
        self.check(
            truth["motor_starts"] - before["motor_starts"] == 1,
            "The motor started once",
        )
        self.breathed(before, truth)

    async def _another_joins(self) -> None:
        floor = self.floor
        self.timeline.title("2. A second machine joins, and the first one finishes")
        await self.at(8)
        before = await floor.truth()
        self.say("switch the planer on as well")
        await floor.run(PLANER)
        await self.until("collecting", "on", PLANER)
        both = await floor.truth()
        self.reacted(PLANER, both, before.now, starting=False)
        standing = both["standing"]["machines"]
        self.check(
            standing["table_saw"]["air"] and standing["planer"]["air"],
            "Both machines really have air",
        )
        await self.at(13.5)
        self.say("switch the table saw off")
        await floor.stop(TABLE_SAW)
        await self.until("gate", "closed", "Table saw gate", 30)
        truth = await floor.truth()
        self.check(
            truth["standing"]["machines"]["planer"]["air"]
            and truth.machine("planer", "without_air")
            == both.machine("planer", "without_air"),
            "The planer kept its air while the table saw's gate was shut",
        )
        self.breathed(before, truth)

    async def _stop_and_start(self) -> None:
        floor = self.floor
        self.timeline.title("3. Stop-start cuts at the miter saw")
        before = await floor.truth()
        self.say(f"make {CUTS} cuts of {CUT:g} s with the miter saw, {PAUSE:g} s apart")
        await floor.cut(MITER_SAW, CUTS, CUT, PAUSE)
        self.say("switch the planer off")
        await floor.stop(PLANER)
        await self.until("collecting", "on", MITER_SAW)
        self.reacted(MITER_SAW, await floor.truth(), before.now, starting=False)
        # Two pauses, and the hold after the last cut, begin with the saw off.
        for _ in range(CUTS):
            await self.until("phase", "running", MITER_SAW)
            await self.until("phase", "holding", MITER_SAW)
        held_from = time.monotonic()
        worked = await floor.truth()
        await self.until("phase", "purging", MITER_SAW, HOLD + 10)
        held = time.monotonic() - held_from
        self.check(
            abs(held - HOLD) < SLACK,
            f"The next cut was waited for {HOLD:g} s",
            f"{held:.1f} s",
        )
        self.check(
            not worked.motor_commands("off", before.now)
            and not worked.motor_commands("on", before.now),
            "The motor cycled neither between the cuts nor at the planer's end",
        )
        waited = floor.slowest(MITER_SAW, starting=False)
        longest = worked.machine("miter_saw", "longest_without_air")
        missed = worked.machine("miter_saw", "without_air")
        self.check(
            missed <= waited + SLACK,
            f"Only the first cut began without air, for {longest:.1f} s",
            f"{missed:.1f} s in all cuts together",
        )
        await self.until("phase", "idle", MITER_SAW)
        truth = await floor.truth()
        pulled = truth["gates"]["miter_saw_rear_gate"]["air"]
        self.check(
            PURGING - 0.1 <= pulled <= PURGING + SHUTOFF_DELAY + SLACK,
            f"Behind the saw it was cleared for {pulled:.1f} s",
            f"{PURGING:g} s were asked for",
        )
        self.only_opened(
            ["Miter saw gate", "Miter saw rear gate"],
            truth,
            before.now,
            "The miter saw",
        )
        self.check(
            floor.number("cuts", MITER_SAW) == CUTS,
            f"Gatewright counted {CUTS} cuts",
            f"{floor.number('cuts', MITER_SAW):g}",
        )
        self.breathed(before, truth)

    async def _noise_without_a_hose(self) -> None:
        floor = self.floor
        self.timeline.title("4. A vacuum that is not docked makes noise")
        await self.until("phase", "spinning_down")
        before = await floor.truth()
        # So that it runs while the impeller spins down as well as when everything is at rest.
        await asyncio.sleep(3)
        self.say("run the shop vacuum, which is not docked, for 10 s")
        await floor.run(VACUUM, seconds=10)
        await self.until("phase", "idle", timeout=30)
        await self.states.until(
            lambda: (self.states.number(floor.reading(VACUUM)) or 0) < 1,
            what="the vacuum's end",
        )
        truth = await floor.truth()
        self.check(
            floor.started(VACUUM, before.now) is not None,
            "The vacuum's plug did report it",
        )
        self.check(
            truth.machine("shop_vacuum", "detached") > 9.9,
            f"It ran for {truth.machine('shop_vacuum', 'running'):.0f} s with its hose off",
        )
        self.check(
            not truth.motor_commands("on", before.now)
            and truth["motor_starts"] == before["motor_starts"],
            "The collector stayed off",
        )
        self.only_opened([], truth, before.now, "The vacuum")
        self.breathed(before, truth)

    async def _asked_for_by_hand(self) -> None:
        floor = self.floor
        self.timeline.title("5. Air is asked for at the floor sweep")
        before = await floor.truth()
        self.say("turn the floor sweep on")
        switch = floor.own("request", FLOOR_SWEEP)
        await floor.client.call("switch.turn_on", switch)
        await self.until("collecting", "on", FLOOR_SWEEP)
        truth = await floor.truth()
        asked = next(
            change.at
            for change in self.states.history(switch, before.now)
            if change.new == "on"
        )
        opened = truth.opened(before.now).get("floor_sweep_gate")
        if opened is not None:
            self.reactions.hub.append(opened - asked)
        self.check(
            opened is not None and opened - asked < 0.5,
            "Its gate was commanded open at once",
        )
        self.only_opened(["Floor sweep gate"], truth, before.now, "The request")
        await asyncio.sleep(4)
        self.say("turn the floor sweep off again")
        await floor.client.call("switch.turn_off", switch)
        await self.until("phase", "shutting_off")
        truth = await floor.truth()
        self.check(
            truth["motor_starts"] - before["motor_starts"] == 1,
            "The motor started once",
        )
        self.breathed(before, truth)

    async def _a_restart(self) -> None:
        floor, hub = self.floor, self.floor.hub
        self.timeline.title("6. Home Assistant restarts while the jointer runs")
        before = await floor.truth()
        self.say("switch the jointer on while the collector still runs on")
        await floor.run(JOINTER)
        await self.until("collecting", "on", JOINTER)
        self.reacted(JOINTER, await floor.truth(), before.now, starting=False)
        served = await floor.truth()
        counted = floor.number("cuts", JOINTER)
        running = floor.own("running", JOINTER)
        noticed = self.states.history(running, before.now)[-1].at
        self.say("restart Home Assistant")
        down = time.time()
        recorded = down - noticed
        await floor.leave()
        took = await hub.stop()
        self.timeline.tell("Restart", f"down after {took:.1f} s; the jointer runs on")
        took = await hub.start()
        self.timeline.tell("Restart", f"running again after {took:.1f} s")
        await floor.enter()
        await self.until("running", "on", JOINTER)
        await self.until("collecting", "on", JOINTER)
        self.away = down, time.time()
        await asyncio.sleep(2)
        truth = await floor.truth()
        missed = truth.machine("jointer", "without_air") - served.machine(
            "jointer", "without_air"
        )
        self.check(
            missed == 0,
            f"The jointer had air all the {truth.now - served.now:.0f} s around the restart",
            f"{missed:.1f} s without",
        )
        self.check(
            not truth.motor_commands("off", before.now)
            and not truth.motor_commands("on", before.now),
            "The collector was neither stopped nor started",
        )
        kept = await floor.run_time(JOINTER)
        self.check(
            floor.number("cuts", JOINTER) == counted and kept > recorded - SLACK,
            "For the records it is still the same cut, with nothing lost",
            f"{floor.number('cuts', JOINTER):g} cuts, {kept:.1f} s of {recorded:.1f} s",
        )
        self.breathed(before, truth)
        self.say("switch the jointer off")
        await floor.stop(JOINTER)

    async def _rest(self) -> None:
        floor = self.floor
        self.timeline.title("7. Everything comes to rest")
        await self.until("phase", "idle", timeout=40)
        for gate in floor.gate_keys:
            await self.until("gate", "closed", gate)
        truth = await floor.truth()
        standing = truth["standing"]
        self.check(
            not standing["collector"]["relay"] and not standing["collector"]["turning"],
            "The collector is off and its impeller stands",
        )
        self.check(
            all(position == 0 for position in standing["gates"].values()),
            "All gates are shut",
            str(standing["gates"]),
        )
        self.check(
            all(floor.state("phase", name) == "idle" for name in floor.machine_names),
            "No machine wants anything",
        )
        problems = [
            name
            for name in ["", *floor.part_names]
            if floor.state("problem", name) != "off"
        ]
        self.check(
            not problems, "Nothing is reported as a problem", ", ".join(problems)
        )
        starts = truth["motor_starts"] - self.first["motor_starts"]
        self.check(
            starts == 2 == floor.number("starts"),
            "The motor started twice in all, and Gatewright counted that",
            f"{starts} times, {floor.number('starts'):g} counted",
        )
        self.breathed(self.first, truth)
        self._waits(truth)
        self._log()

    async def _record(self) -> None:
        """Compare the record with Home Assistant's own recorder."""
        self.timeline.title("9. The record, beside what Home Assistant's recorder kept")
        for row in await compare(self.floor, self.first.now, self.away):
            gap = f" (restart {row.away:.0f} s)" if row.away else ""
            self.check(
                row.agree,
                f"{row.what}: {row.record:.4g} by the record, "
                f"{row.history:.4g} in the history{gap}",
            )

    def _waits(self, truth: Truth) -> None:
        """Check that no machine waited for dust collection longer than gates and impeller need.

        The table saw's gate had never been seen to open: the collector waited for it,
        this once.
        """
        floor = self.floor
        for name, starting in ((TABLE_SAW, True), (PLANER, False), (JOINTER, False)):
            key = floor.machine_keys[name]
            longest = truth.machine(key, "longest_without_air")
            most = floor.slowest(name, starting=starting)
            least = floor.floor_of(name, starting=starting)
            self.check(
                longest <= most + SLACK,
                f"The {name.lower()} waited {longest:.1f} s for its air "
                f"(floor {least:.1f} s, at most {most:.1f} s)",
            )

    def _log(self) -> None:
        troubles = self.floor.hub.troubles(all_starts=True)
        self.check(
            not troubles,
            "The log of Home Assistant holds no warning and no error",
            "; ".join(entry.text.splitlines()[0] for entry in troubles[:3]),
        )

    async def summary(self) -> None:
        """Print the result."""
        floor = self.floor
        truth = await floor.truth()
        record = await floor.record()
        rows: list[tuple[str, ...]] = [
            ("Machine", "ran", "waited", "floor", "without later", "coverage shown")
        ]
        for name, key in floor.machine_keys.items():
            ran = truth.machine(key, "running") - truth.machine(key, "detached")
            if ran <= 0 or not floor.spec(name).gates:
                # What collects its own dust waits for nothing.
                continue
            waited = truth.machine(key, "longest_without_air")
            least = floor.floor_of(name, starting=name == TABLE_SAW)
            later = truth.machine(key, "without_air") - waited
            share = record["machines"][name]["collected_share"] or 0.0
            rows.append(
                (
                    name,
                    f"{ran:.1f} s",
                    f"{waited:.1f} s",
                    f"{least:.1f} s",
                    f"{later:.1f} s",
                    f"{100 * share:.0f}%",
                )
            )
        self.timeline.title("What came of it")
        self.timeline.table(rows)
        self.timeline.note()
        self.timeline.table(self.reactions.rows())
        self.timeline.note()
        starts = truth["motor_starts"] - self.first["motor_starts"]
        motor = f"{truth.grown(self.first, 'motor_on'):.0f} s"
        self.timeline.table(
            [
                (
                    "Collected share of the whole shop, by Gatewright",
                    f"{100 * (record['shop']['collected_share'] or 0.0):.0f}%",
                ),
                ("Motor starts", str(starts)),
                ("Motor on", motor),
            ]
        )
