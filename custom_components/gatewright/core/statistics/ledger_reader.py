"""What the ledger has added since the last look, by why dust collection was missing."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from ..control.ledger import Ledger
from .calendar import MachineTime, Span
from .not_collecting import NotCollectingReason

_NOTHING = 1e-6
"""Seconds by which two sums over the same looks may differ."""


class _Counts(NamedTuple):
    run: float = 0.0
    air: float = 0.0
    runs: int = 0
    cuts: int = 0


class LedgerReader:
    """Reads a ledger's totals and returns the differences.

    While it is `fresh` the first of them is all that the ledger holds.
    """

    def __init__(self) -> None:
        self._machines: dict[str, _Counts] = {}
        self._on = 0.0
        self._starts = 0
        self.fresh = True

    def take(self, ledger: Ledger, reasons: Mapping[str, NotCollectingReason]) -> Span:
        """Return what was added since the last call.

        `reasons` says why machines lacked dust collection at the last look, or too little: the
        time since then is booked on that. A ledger that was begun anew is read from
        where it is.
        """
        self.fresh = False
        added = Span()
        for machine_id in ledger.drain_changed():
            totals = ledger.of(machine_id)
            before = self._machines.get(machine_id, _Counts())
            counts = _Counts(
                totals.run_time, totals.collecting_time, totals.runs, totals.cuts
            )
            if counts == before:
                continue
            self._machines[machine_id] = counts
            if counts.run < before.run or counts.runs < before.runs:
                continue
            added.machines[machine_id] = _difference(
                before, counts, reasons.get(machine_id)
            )
        collector = ledger.collector
        if collector.on_time >= self._on and collector.starts >= self._starts:
            added.collector.on = collector.on_time - self._on
            added.collector.starts = collector.starts - self._starts
        self._on, self._starts = collector.on_time, collector.starts
        return added

    def adopt(self, ledger: Ledger, old: str, new: str) -> None:
        """Hand the totals of one machine over to another, in the ledger too."""
        ledger.adopt(old, new)
        if old in self._machines:
            read, own_read = self._machines.pop(old), self._machines.get(new, _Counts())
            self._machines[new] = _Counts(
                read.run + own_read.run,
                read.air + own_read.air,
                read.runs + own_read.runs,
                read.cuts + own_read.cuts,
            )

    def mend(self, ledger: Ledger) -> None:
        """Raise the totals of a ledger to what was read of it.

        After a crash the ledger may be the one that was written down earlier.
        """
        for machine_id, read in self._machines.items():
            totals = ledger.of(machine_id)
            totals.run_time = max(totals.run_time, read.run)
            totals.collecting_time = max(totals.collecting_time, read.air)
            totals.runs = max(totals.runs, read.runs)
            totals.cuts = max(totals.cuts, read.cuts)
        collector = ledger.collector
        collector.on_time = max(collector.on_time, self._on)
        collector.starts = max(collector.starts, self._starts)

    def save(self) -> dict[str, Any]:
        """Return how far the ledger was read."""
        return {
            "machines": {
                m: [counts.run, counts.air, counts.runs, counts.cuts]
                for m, counts in self._machines.items()
            },
            "on": self._on,
            "starts": self._starts,
        }

    def restore(self, data: Mapping[str, Any]) -> None:
        """Take over what `save` returned."""
        if not data:
            return
        self._machines = {
            m: _Counts(*counts) for m, counts in data.get("machines", {}).items()
        }
        self._on = data.get("on", 0.0)
        self._starts = data.get("starts", 0)
        self.fresh = False


def _difference(
    before: _Counts, counts: _Counts, reason: NotCollectingReason | None
) -> MachineTime:
    run = counts.run - before.run
    air = min(run, max(0.0, counts.air - before.air))
    if run - air < _NOTHING:
        air = run
    time = MachineTime(
        run=run,
        air=air,
        runs=counts.runs - before.runs,
        cuts=max(0, counts.cuts - before.cuts),
    )
    if air < run:
        lacking = (
            NotCollectingReason.UNKNOWN
            if reason in (None, NotCollectingReason.TOO_LITTLE_AIR)
            else reason
        )
        time.without[lacking] = run - air
    if reason is NotCollectingReason.TOO_LITTLE_AIR:
        time.little = air
    return time
