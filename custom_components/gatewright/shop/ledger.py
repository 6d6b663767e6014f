"""What the shop did: running time, cuts, coverage, collector hours and starts."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(slots=True)
class MachineTotals:
    """What one machine did since it was first known, times in s."""

    run_time: float = 0.0
    air_time: float = 0.0
    runs: int = 0
    cuts: int = 0

    @property
    def coverage(self) -> float | None:
        """Share of the running time that had air, 0 to 1; None before the first run."""
        if self.run_time <= 0:
            return None
        return min(1.0, self.air_time / self.run_time)


@dataclass(slots=True)
class CollectorTotals:
    """What the collector did since it was first known, time in s."""

    on_time: float = 0.0
    starts: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run of a machine, from its first cut until it came to rest.

    `began` and `ended` are on the core's clock; `run_time` and `air_time` are s.
    """

    machine_id: str
    began: float
    ended: float
    run_time: float
    air_time: float
    cuts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How a machine stood at one look: in use, with air, back at rest."""

    in_use: bool
    has_air: bool
    at_rest: bool


@dataclass(slots=True)
class _OpenRun:
    began: float
    run_time: float = 0.0
    air_time: float = 0.0
    cuts: int = 0


class Ledger:
    """Adds up the time that passes between two looks at the shop."""

    def __init__(self) -> None:
        """Start an empty ledger."""
        self.machines: dict[str, MachineTotals] = {}
        self.collector = CollectorTotals()
        self._finished: list[Run] = []
        self._changed: set[str] = set()
        self._open: dict[str, _OpenRun] = {}
        self._uses: Mapping[str, Use] = {}
        self._turning = False
        self._seen: float | None = None

    def of(self, machine_id: str) -> MachineTotals:
        """Return the totals of a machine, which may be new."""
        return self.machines.setdefault(machine_id, MachineTotals())

    def observe(self, now: float, *, turning: bool, uses: Mapping[str, Use]) -> None:
        """Book the time since the last look as things stood then; note how they stand.

        A machine that is not among the `uses` is at rest.
        """
        self.book(now)
        if turning and not self._turning:
            self.collector.starts += 1
        self._turning = turning
        for machine_id, use in uses.items():
            if use.in_use and not self._was_in_use(machine_id):
                self._begin_cut(machine_id, now)
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
            if use.has_air:
                totals.air_time += passed
                run.air_time += passed

    def _was_in_use(self, machine_id: str) -> bool:
        before = self._uses.get(machine_id)
        return before is not None and before.in_use

    def _begin_cut(self, machine_id: str, now: float) -> None:
        self._changed.add(machine_id)
        totals = self.of(machine_id)
        run = self._open.get(machine_id)
        if run is None:
            totals.runs += 1
            run = self._open[machine_id] = _OpenRun(now)
        totals.cuts += 1
        run.cuts += 1

    def _close(self, machine_id: str, now: float) -> None:
        run = self._open.pop(machine_id)
        self._finished.append(
            Run(
                machine_id=machine_id,
                began=run.began,
                ended=now,
                run_time=run.run_time,
                air_time=run.air_time,
                cuts=run.cuts,
            )
        )

    def adopt(self, old: str, new: str) -> None:
        """Hand the totals of one machine over to another, if there are any."""
        if (past := self.machines.pop(old, None)) is None:
            return
        own = self.of(new)
        own.run_time += past.run_time
        own.air_time += past.air_time
        own.runs += past.runs
        own.cuts += past.cuts
        self._changed.discard(old)
        self._changed.add(new)

    def drain(self) -> list[Run]:
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
                    "air_time": run.air_time,
                    "cuts": run.cuts,
                    "in_use": self._was_in_use(machine_id),
                }
                for machine_id, run in self._open.items()
            },
        }

    def restore(self, data: Mapping[str, Any], now: float) -> None:
        """Take over what `save` described; the time in between is not booked."""
        self.collector = CollectorTotals(**data["collector"])
        self.machines = {m: MachineTotals(**t) for m, t in data["machines"].items()}
        self._changed.update(self.machines)
        self._turning = data["turning"]
        self._seen = now
        self._open = {
            machine_id: _OpenRun(
                now - run["age"], run["run_time"], run["air_time"], run["cuts"]
            )
            for machine_id, run in data["open"].items()
        }
        # A machine that was cutting and still cuts is in the same cut.
        self._uses = {
            machine_id: Use(in_use=run["in_use"], has_air=False, at_rest=False)
            for machine_id, run in data["open"].items()
        }
