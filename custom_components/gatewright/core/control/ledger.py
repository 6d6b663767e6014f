"""What the shop did: running time, cuts, collected share, time to air, collector hours and starts."""

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from statistics import median
from typing import Any, NamedTuple

RUNS_COMPARED = 20
"""Number of runs of each machine whose times to air are kept."""


@dataclass(slots=True)
class MachineTotals:
    """What one machine did since it was first known, times in s."""

    run_time: float = 0.0
    collecting_time: float = 0.0
    runs: int = 0
    cuts: int = 0

    @property
    def collected_share(self) -> float | None:
        """Share of the running time with dust collection, 0 to 1; None before the first run."""
        if self.run_time <= 0:
            return None
        return min(1.0, self.collecting_time / self.run_time)


@dataclass(slots=True)
class CollectorTotals:
    """What the collector did since it was first known, time in s."""

    on_time: float = 0.0
    starts: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedRun:
    """One run of a machine, from its first cut until it came to rest.

    `began` and `ended` are on the core's clock; `run_time` and `collecting_time` are s, and so is
    `time_to_air`: from the first reading at or above the start level to all gates open
    and the impeller up to speed. It is None where that never came, where something else
    than gates and motor kept it away, or where nobody saw the machine start.
    `first_sign` is that reading's instant, where it was seen.
    """

    machine_id: str
    began: float
    ended: float
    run_time: float
    collecting_time: float
    cuts: int
    first_sign: float | None = None
    time_to_air: float | None = None


class MachineUse(NamedTuple):
    """How a machine stood at one look: in use, with dust collection, back at rest.

    `first_sign` is the instant of the first reading of its present start or run, where
    that was seen. `served` says that it is to get dust collection, so that what it
    still waits for are gates and motor.
    """

    in_use: bool
    is_collecting: bool
    at_rest: bool
    first_sign: float | None = None
    served: bool = True


@dataclass(slots=True)
class _OpenRun:
    """A run that goes on; `waits_since` is its first sign, until dust is collected."""

    began: float
    run_time: float = 0.0
    collecting_time: float = 0.0
    cuts: int = 0
    first_sign: float | None = None
    waits_since: float | None = None
    time_to_air: float | None = None


class TimesToAir:
    """The times to air of each machine's last runs, in s; None where it has none."""

    def __init__(self) -> None:
        self._runs: dict[str, deque[float | None]] = {}

    def note(self, machine_id: str, time: float | None) -> None:
        """Add a run."""
        self._runs.setdefault(machine_id, deque(maxlen=RUNS_COMPARED)).append(time)

    def latest(self, machine_id: str) -> float | None:
        """Return that of the last run."""
        runs = self._runs.get(machine_id)
        return runs[-1] if runs else None

    def recent(self, machine_id: str) -> list[float]:
        """Return those of the last runs that have one, the oldest first."""
        return [time for time in self._runs.get(machine_id, ()) if time is not None]

    def usual(self, machine_id: str) -> float | None:
        """Return the median of the last runs; None without any."""
        recent = self.recent(machine_id)
        return median(recent) if recent else None

    def adopt(self, old: str, new: str) -> None:
        """Hand those of one machine over to another, as the older ones."""
        if (past := self._runs.pop(old, None)) is not None:
            for time in self._runs.pop(new, ()):
                past.append(time)
            self._runs[new] = past

    def save(self) -> dict[str, list[float | None]]:
        """Return everything as plain data."""
        return {machine_id: list(runs) for machine_id, runs in self._runs.items()}

    def restore(self, data: Mapping[str, Sequence[float | None]]) -> None:
        """Take over what `save` returned."""
        self._runs = {
            machine_id: deque(runs, maxlen=RUNS_COMPARED)
            for machine_id, runs in data.items()
        }


class Ledger:
    """Adds up the time that passes between two looks at the shop."""

    def __init__(self) -> None:
        self.machines: dict[str, MachineTotals] = {}
        self.collector = CollectorTotals()
        self.times_to_air = TimesToAir()
        self._finished: list[FinishedRun] = []
        self._changed: set[str] = set()
        self._open: dict[str, _OpenRun] = {}
        self._collected: dict[str, float] = {}
        """Since when a machine that gave a sign has had dust collection, maybe from before it."""
        self._uses: Mapping[str, MachineUse] = {}
        self._turning = False
        self._seen: float | None = None

    def of(self, machine_id: str) -> MachineTotals:
        """Return the totals of a machine, which may be new."""
        return self.machines.setdefault(machine_id, MachineTotals())

    def observe(
        self, now: float, *, turning: bool, uses: Mapping[str, MachineUse]
    ) -> None:
        """Book the time since the last look as things stood then; note how they stand.

        A machine that is not among the `uses` is at rest.
        """
        self.book(now)
        if turning and not self._turning:
            self.collector.starts += 1
        self._turning = turning
        self._collected = {
            machine_id: self._collected.get(machine_id, now)
            for machine_id, use in uses.items()
            if use.is_collecting and use.first_sign is not None
        }
        for machine_id, use in uses.items():
            if use.in_use and not self._was_in_use(machine_id):
                self._begin_cut(machine_id, use, now)
            self._note_air(machine_id, use, now)
        for machine_id in list(self._open):
            use_now = uses.get(machine_id)
            if use_now is None or (use_now.at_rest and not use_now.in_use):
                self._close(machine_id, now)
        self._uses = uses

    def book(self, now: float) -> None:
        """Book the time up to `now`, nothing having changed since the last look."""
        passed = 0.0 if self._seen is None else max(0.0, now - self._seen)
        self._seen = now
        if self._turning:
            self.collector.on_time += passed
        for machine_id, use in self._uses.items():
            if not use.in_use:
                continue
            self._changed.add(machine_id)
            totals, run = self.of(machine_id), self._open[machine_id]
            totals.run_time += passed
            run.run_time += passed
            if use.is_collecting:
                totals.collecting_time += passed
                run.collecting_time += passed

    def _was_in_use(self, machine_id: str) -> bool:
        before = self._uses.get(machine_id)
        return before is not None and before.in_use

    def _begin_cut(self, machine_id: str, use: MachineUse, now: float) -> None:
        self._changed.add(machine_id)
        totals = self.of(machine_id)
        run = self._open.get(machine_id)
        if run is None:
            totals.runs += 1
            sign = use.first_sign
            run = _OpenRun(now, first_sign=sign, waits_since=sign)
            self._open[machine_id] = run
        totals.cuts += 1
        run.cuts += 1

    def _note_air(self, machine_id: str, use: MachineUse, now: float) -> None:
        """Measure how long a run waited for dust collection."""
        run = self._open.get(machine_id)
        if run is None or run.waits_since is None:
            return
        if use.is_collecting and use.served:
            came = self._collected.get(machine_id, now)
            run.time_to_air = max(0.0, came - run.waits_since)
            self.times_to_air.note(machine_id, run.time_to_air)
        if use.is_collecting or not use.served:
            run.waits_since = None

    def _close(self, machine_id: str, now: float) -> None:
        run = self._open.pop(machine_id)
        if run.time_to_air is None:
            self.times_to_air.note(machine_id, None)
        self._finished.append(
            FinishedRun(
                machine_id=machine_id,
                began=run.began,
                ended=now,
                run_time=run.run_time,
                collecting_time=run.collecting_time,
                cuts=run.cuts,
                first_sign=run.first_sign,
                time_to_air=run.time_to_air,
            )
        )

    def adopt(self, old: str, new: str) -> None:
        """Hand the totals of one machine over to another, if there are any."""
        self.times_to_air.adopt(old, new)
        if (past := self.machines.pop(old, None)) is None:
            return
        own = self.of(new)
        own.run_time += past.run_time
        own.collecting_time += past.collecting_time
        own.runs += past.runs
        own.cuts += past.cuts
        self._changed.discard(old)
        self._changed.add(new)

    def drain(self) -> list[FinishedRun]:
        """Return the runs finished since the last call."""
        finished, self._finished = self._finished, []
        return finished

    def drain_changed(self) -> set[str]:
        """Return the machines for which something was booked since the last call."""
        changed, self._changed = self._changed, set()
        return changed

    def save(self, now: float) -> dict[str, Any]:
        """Return everything up to `now` as plain data; open runs by their age."""
        self.book(now)
        return {
            "collector": asdict(self.collector),
            "turning": self._turning,
            "machines": {m: asdict(totals) for m, totals in self.machines.items()},
            "open": {
                machine_id: {
                    "age": now - run.began,
                    "run_time": run.run_time,
                    "collecting_time": run.collecting_time,
                    "cuts": run.cuts,
                    "in_use": self._was_in_use(machine_id),
                    "time_to_air": run.time_to_air,
                }
                for machine_id, run in self._open.items()
            },
            "times_to_air": self.times_to_air.save(),
        }

    def restore(self, data: Mapping[str, Any], now: float) -> None:
        """Take over what `save` described; the time in between is not booked.

        A run that still waited for dust collection gets no time to air: nobody knows how
        long the restart took.
        """
        self.collector = CollectorTotals(**data["collector"])
        self.machines = {m: MachineTotals(**t) for m, t in data["machines"].items()}
        self._changed.update(self.machines)
        self._turning = data["turning"]
        self._seen = now
        self._open = {
            machine_id: _OpenRun(
                now - run["age"],
                run["run_time"],
                run["collecting_time"],
                run["cuts"],
                time_to_air=run.get("time_to_air"),
            )
            for machine_id, run in data["open"].items()
        }
        self.times_to_air.restore(data.get("times_to_air", {}))
        # A machine that was cutting and still cuts is in the same cut.
        self._uses = {
            machine_id: MachineUse(
                in_use=run["in_use"], is_collecting=False, at_rest=False
            )
            for machine_id, run in data["open"].items()
        }
