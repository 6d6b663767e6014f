"""What has to be looked after in one system, kept in step with its shop.

Everything that a machine or the collector did is read off the ledger: the difference
to the last look is laid on the calendar, into the bin, onto the filter. So nothing
here counts anything twice, and what was missed, as between the last save and a crash,
is made up for at the next look.
"""

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from enum import StrEnum
from typing import Any, NamedTuple

from ..control.ledger import RUNS_COMPARED, FinishedRun
from ..control.shop import ShopControl
from ..kinds import MachineKind
from ..statistics.calendar import Calendar, Span
from ..statistics.ledger_reader import LedgerReader
from ..statistics.not_collecting import (
    NotCollectingReason,
    load_without,
    reason_without_air,
)
from ..statistics.runs import KeptRun, Record
from ..statistics.time_to_air import TimeToAir, time_to_air
from ..times import earliest
from .bin import BinMonitor
from .bin_forecast import Forecast
from .config import MaintenanceConfig
from .dust_exposure import Exposure
from .energy import EnergyMeter, MachineCounters
from .fill_rates import load_kind
from .filter import FilterMonitor, FilterWork, clamped_loading
from .filter_cleaning import Cleaning
from .motor_service import MotorService
from .room_cleaner import RoomCleaner
from .weekly_use import weekly_use

VERSION = 1


class DueWorkKind(StrEnum):
    """What a person has to see to."""

    BIN_NEARLY_FULL = "bin_nearly_full"
    BIN_FULL = "bin_full"
    FILTER_CLEAN = "filter_clean"
    FILTER_REPLACE = "filter_replace"
    SERVICE_DUE = "service_due"


class DueWork(NamedTuple):
    """One thing to see to; `part` is the id of a service, or empty."""

    kind: DueWorkKind
    part: str = ""


class Maintenance:
    """Bin, filter, collector, calendar, record and room of one shop.

    Call `observe` with the same instants as `Shop.advance`, right after it, and
    `finish` with the runs that the ledger yields. `wake` says when to look again.
    Instants `now` are on the core's clock, `when` is the same moment as a datetime in
    the local time zone.
    """

    def __init__(self, plan: MaintenanceConfig, shop: ShopControl) -> None:
        """Start with an empty bin, a new filter and no past."""
        self.calendar = Calendar()
        self.record = Record()
        self.exposure = Exposure()
        self.care = MotorService(plan.services)
        self.meter = EnergyMeter()
        self.counters = MachineCounters()
        self.bin: BinMonitor | None = None
        self.filter: FilterMonitor | None = None
        self.cleaning: Cleaning | None = None
        self.room: RoomCleaner | None = None
        self.filter_loading = 1.0
        """The filter's resistance over the clean one, as the gauges have shown it."""
        self.too_little: Collection[str] = ()
        self.names: dict[str, str] = {}
        self.wake: float | None = None
        self.cleaning_works = True
        """Whether the cleaning's switch comes on when it should."""
        self._shop = shop
        self._kinds: dict[str, MachineKind] = {}
        self._reader = LedgerReader()
        self._seen_at: float | None = None
        self._reasons: dict[str, NotCollectingReason] = {}
        self._without: dict[str, dict[NotCollectingReason, float]] = {}
        self.replan(plan)

    def replan(self, plan: MaintenanceConfig) -> dict[str, str]:
        """Take up a changed plan, and the machines that the shop has now.

        A machine that was removed and comes back under another id, with the same
        name and kind, takes its past over. Returns new ids and their old ones.
        """
        self.plan = plan
        self.care.services = plan.services
        machines = self._shop.sequence.system.machines
        present = {machine.machine_id for machine in machines}
        gone = {
            (name, self._kinds[old]): old
            for old, name in self.names.items()
            if old not in present
        }
        adopted = {
            machine.machine_id: gone.pop((machine.name, machine.kind))
            for machine in machines
            if machine.machine_id not in self.names
            and (machine.name, machine.kind) in gone
        }
        for new, old in adopted.items():
            self._adopt(old, new)
        self.names |= {machine.machine_id: machine.name for machine in machines}
        self._kinds |= {machine.machine_id: machine.kind for machine in machines}
        self._plan_parts({machine.machine_id: machine.kind for machine in machines})
        return adopted

    # What happens ---------------------------------------------------------------

    def observe(self, now: float, when: datetime) -> None:
        """Book the time since the last look and note how things stand."""
        self._book(now, when)
        sequence = self._shop.sequence
        in_use = sequence.machine_set.in_use
        self._reasons = {}
        for machine_id in in_use:
            reason = reason_without_air(
                sequence, machine_id, now, too_little=machine_id in self.too_little
            )
            if reason is not None:
                self._reasons[machine_id] = reason
        if not sequence.motor.turning:
            self.care.stopped()
        active = bool(in_use) or sequence.motor.turning
        at_rest = not sequence.impeller_may_turn(now)
        self.exposure.advance(now, when, active=active)
        looks: list[float | None] = []
        if self.bin is not None:
            self.bin.advance(now, when, at_rest=at_rest)
            looks.append(self.bin.due_after(now))
        if self.cleaning is not None:
            if self.cleaning.advance(
                now,
                at_rest=at_rest,
                allowed=sequence.allowed,
                works=self.cleaning_works,
            ):
                self.filter_cleaned(when)
            looks.append(self.cleaning.due_after(now))
        if self.room is not None:
            self.room.advance(now, working=active)
            looks.append(self.room.due_after(now))
        self.wake = earliest(looks)

    def finish(
        self, runs: Iterable[FinishedRun], now: float, when: datetime
    ) -> list[KeptRun]:
        """Keep the runs that the ledger has finished; returns them as kept."""
        at = when.timestamp() - now
        # The record is for people: a millisecond is enough, and half the size.
        kept = [
            KeptRun(
                machine_id=run.machine_id,
                name=self.names.get(run.machine_id, run.machine_id),
                began=round(at + run.began, 3),
                ended=round(at + run.ended, 3),
                run_time=round(run.run_time, 3),
                collecting_time=round(run.collecting_time, 3),
                cuts=run.cuts,
                without={
                    reason: round(spent, 3)
                    for reason, spent in self._without.pop(run.machine_id, {}).items()
                },
                time_to_air=_rounded(run.time_to_air),
                reporting_interval=_rounded(self._reporting(run.machine_id)),
            )
            for run in runs
        ]
        for run in kept:
            self.record.keep(run)
        return kept

    def read_pressure(
        self,
        pressure: float | None,
        flow: float | None = None,
        *,
        measured: bool = True,
    ) -> None:
        """Take the loss over the filter in Pa, at a flow in m3/s where that is known.

        What a collector reads that does not turn says nothing.
        """
        if self.filter is None or not self._shop.sequence.motor.turning:
            return
        self.filter.read(pressure, flow, measured=measured)
        if self.cleaning is not None:
            self.cleaning.read(self.filter.level)

    def read_particles(
        self, concentration: float | None, now: float, when: datetime
    ) -> None:
        """Take a reading of the particle sensor in mg/m3; None is "not known"."""
        self.exposure.read(concentration, now, when)
        if self.room is not None:
            self.room.read(concentration, now)

    def filter_cleaned(self, when: datetime) -> None:
        """Note that the filter was cleaned."""
        if self.filter is not None:
            self.filter.cleaned(when)

    # What follows from it -------------------------------------------------------

    def forecast(self, when: datetime) -> Forecast | None:
        """Return how long the bin will do; None without a bin, or where nothing is known."""
        if self.bin is None or not self.bin.known:
            return None
        return self.bin.forecast(weekly_use(self.calendar, when.date()))

    def time_to_air(self, machine_id: str) -> TimeToAir | None:
        """Return what a machine's time to air is and depends on; None where it has none."""
        waits = (
            run.without.get(NotCollectingReason.MOTOR_RESTING, 0.0)
            for run in self.record.latest(machine_id, RUNS_COMPARED)
        )
        return time_to_air(self._shop, machine_id, waits)

    def needs(self, when: datetime) -> list[DueWork]:
        """Return what a person has to see to, the most urgent first."""
        needs: list[DueWork] = []
        if self.bin is not None and not self.bin.undecided:
            share = self.bin.share if self.bin.known else 0.0
            if self.bin.full or share >= self.bin.plan.full_share:
                needs.append(DueWork(DueWorkKind.BIN_FULL))
            elif share >= self.bin.plan.warn_share:
                needs.append(DueWork(DueWorkKind.BIN_NEARLY_FULL))
        if self.filter is not None:
            work = self.filter.state().work
            if work is FilterWork.REPLACE:
                needs.append(DueWork(DueWorkKind.FILTER_REPLACE))
            elif work is FilterWork.CLEAN:
                needs.append(DueWork(DueWorkKind.FILTER_CLEAN))
        needs += [
            DueWork(DueWorkKind.SERVICE_DUE, state.service_id)
            for state in self.care.states(when)
            if state.due
        ]
        return needs

    # Memory ---------------------------------------------------------------------

    def save(self, now: float) -> dict[str, Any]:
        """Return everything as plain data."""
        return {
            "version": VERSION,
            "read": self._reader.save(),
            "names": self.names,
            "kinds": {m: kind.value for m, kind in self._kinds.items()},
            "without": {
                m: {reason.value: spent for reason, spent in without.items()}
                for m, without in self._without.items()
            },
            "calendar": self.calendar.save(),
            "record": self.record.save(),
            "exposure": self.exposure.save(now),
            "care": self.care.save(),
            "counters": self.counters.save(),
            "bin": None if self.bin is None else self.bin.save(),
            "filter": None if self.filter is None else self.filter.save(),
            "filter_loading": self.filter_loading,
            "cleaning": None if self.cleaning is None else self.cleaning.save(),
            "room": None if self.room is None else self.room.save(now),
        }

    def restore(self, data: Mapping[str, Any], now: float) -> None:
        """Take over what `save` returned, the ledger having taken over its own.

        What is missing is as in a new shop. Raises `ValueError` for the data of a
        later version.
        """
        if data.get("version", VERSION) > VERSION:
            raise ValueError(f"upkeep of version {data['version']}")
        self._reader.restore(data.get("read", {}))
        self._reader.mend(self._shop.ledger)
        self.names = dict(data.get("names", {}))
        kinds = data.get("kinds", {})
        self._kinds = {m: load_kind(kinds.get(m, "")) for m in self.names}
        self._without = {
            m: load_without(without) for m, without in data.get("without", {}).items()
        }
        self.calendar.restore(data.get("calendar", {}))
        self.record.restore(data.get("record", ()))
        self.exposure.restore(data.get("exposure", {}), now)
        self.care.restore(data.get("care", {}))
        self.counters.restore(data.get("counters", {}))
        if self.bin is not None:
            self.bin.restore(data.get("bin") or {})
        if self.filter is not None:
            self.filter.restore(data.get("filter") or {})
        # Before it was kept, it can be told from the loss alone.
        estimate = 1.0 if self.filter is None else self.filter.loading
        self.filter_loading = clamped_loading(data.get("filter_loading", estimate))
        if self.cleaning is not None:
            self.cleaning.restore(data.get("cleaning") or {})
        if self.room is not None:
            self.room.restore(data.get("room") or {}, now)
        # Machines may have come and gone in the meantime.
        self.replan(self.plan)

    # How it works ---------------------------------------------------------------

    def _book(self, now: float, when: datetime) -> None:
        """Lay what the ledger added onto calendar, bin, filter and collector."""
        ledger = self._shop.ledger
        if self._reader.fresh:
            past = self._reader.take(ledger, {})
            if self.calendar.total() == Span():
                self.calendar.earlier.add(past)
        added = self._reader.take(ledger, self._reasons)
        added.collector.energy, added.collector.cost = self.meter.drain(now)
        since, self._seen_at = self._seen_at, now
        for machine_id, spent in added.machines.items():
            if self.bin is not None:
                # Chips come with whatever air there is.
                self.bin.fill(machine_id, spent.air)
            without = self._without.setdefault(machine_id, {})
            for reason, seconds in spent.without.items():
                without[reason] = without.get(reason, 0.0) + seconds
            if spent.little:
                little = without.get(NotCollectingReason.TOO_LITTLE_AIR, 0.0)
                without[NotCollectingReason.TOO_LITTLE_AIR] = little + spent.little
        on, starts = added.collector.on, added.collector.starts
        if on or starts:
            self.care.run(on, starts, when)
            if self.filter is not None:
                self.filter.run(on)
            if self.cleaning is not None:
                self.cleaning.run(on)
        for machine_id, energy in self.counters.drain().items():
            spent = added.of(machine_id)
            spent.energy, spent.cost = energy
        if added != Span():
            passed = 0.0 if since is None else max(0.0, now - since)
            self.calendar.book(passed, when, added)

    def _reporting(self, machine_id: str) -> float | None:
        """Return how often a machine's plug reports while it runs, in s."""
        run = self._shop.sequence.machines.get(machine_id)
        return None if run is None or run.sensor is None else run.sensor.report_interval

    def _adopt(self, old: str, new: str) -> None:
        self._reader.adopt(self._shop.ledger, old, new)
        self.calendar.adopt(old, new)
        self.record.adopt(old, new)
        self.counters.adopt(old, new)
        if self.bin is not None:
            self.bin.adopt(old, new)
        del self.names[old], self._kinds[old]

    def _plan_parts(self, kinds: Mapping[str, MachineKind]) -> None:
        """Make, change or drop the parts as the plan says."""
        plan = self.plan
        if plan.bin is None:
            self.bin = None
        elif self.bin is None:
            self.bin = BinMonitor(plan.bin, kinds)
        else:
            self.bin.replan(plan.bin, kinds)
        if plan.filter is None:
            self.filter = self.cleaning = None
        else:
            if self.filter is None:
                self.filter = FilterMonitor(plan.filter)
            self.filter.plan = plan.filter
            if plan.filter.cleaning is None:
                self.cleaning = None
            elif self.cleaning is None:
                self.cleaning = Cleaning(plan.filter.cleaning)
            else:
                self.cleaning.plan = plan.filter.cleaning
        if plan.room is None:
            self.room = None
        elif self.room is None:
            self.room = RoomCleaner(plan.room)
        else:
            self.room.plan = plan.room


def _rounded(time: float | None) -> float | None:
    return None if time is None else round(time, 3)
