"""The record of what really happened, kept by the simulation and not by anything under test."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from .glance import Seen
from .layout import COLLECTOR

KEPT = 150
"""How many events and commands are kept, newest last."""


@dataclass(slots=True)
class MachineTruth:
    """Seconds of one machine.

    `with_air` counts while it runs with its hose connected, all its gates open and the
    fan fast enough, `without_air` while it runs connected and something of that is
    missing, `detached` while it runs without its hose. `longest_without_air` is the
    longest unbroken time without dust collection, `airless` the present one, `waited`
    the last one that ended with collection.
    """

    running: float = 0.0
    with_air: float = 0.0
    without_air: float = 0.0
    detached: float = 0.0
    longest_without_air: float = 0.0
    airless: float = 0.0
    waited: float = 0.0


@dataclass(slots=True)
class GateTruth:
    """Seconds of one gate: open, and open while the fan moves air."""

    open: float = 0.0
    air: float = 0.0


@dataclass(slots=True)
class Truth:
    """The record of the whole workshop, in seconds unless noted otherwise.

    `turning_all_shut` counts while the impeller turns and no gate lets air through,
    `turning_none_open` while it turns and no gate is really open. `strained` counts
    while the suction is above a quarter of the full one, as it is from half of the
    speed on, and no gate is open by a third: that is what collapses a pipe.
    `starts_none_open` counts motor starts with no gate open.
    """

    since: float = 0.0
    motor_on: float = 0.0
    turning: float = 0.0
    turning_all_shut: float = 0.0
    turning_none_open: float = 0.0
    strained: float = 0.0
    longest_all_shut: float = 0.0
    all_shut: float = 0.0
    motor_starts: int = 0
    starts_none_open: int = 0
    machines: dict[str, MachineTruth] = field(default_factory=dict)
    gates: dict[str, GateTruth] = field(default_factory=dict)
    commands: dict[str, dict[str, int]] = field(default_factory=dict)
    """How often each actuator got each command, including failed ones."""
    happenings: list[tuple[float, str, str]] = field(default_factory=list)
    """(instant, part, event) in the order of time."""

    def note(self, now: float, part: str, what: str) -> None:
        """Record an event."""
        self.happenings = [*self.happenings[1 - KEPT :], (now, part, what)]

    def note_changes(
        self,
        now: float,
        before: Seen,
        after: Seen,
        none_open: bool,
        stands: Mapping[str, float],
    ) -> None:
        """Record the changes; `stands` has the positions of the gates that moved."""
        if after.starts > before.starts:
            self.motor_starts += after.starts - before.starts
            self.starts_none_open += none_open
        if after.powered != before.powered:
            self.note(now, COLLECTOR, "motor on" if after.powered else "motor off")
        for key in sorted(before.driving - after.driving):
            self.note(now, key, f"stands at {stands[key]:.0%}")
        for key in sorted(before.running ^ after.running):
            self.note(now, key, "runs" if key in after.running else "stands")

    def count_command(self, now: float, part: str, what: str) -> None:
        """Record a command from Home Assistant."""
        reported = self.commands.setdefault(part, {})
        reported[what] = reported.get(what, 0) + 1
        self.note(now, part, f"told to {what}")

    def count_shut(
        self,
        seconds: float,
        *,
        turning: bool,
        all_shut: bool,
        none_open: bool,
        strained: bool,
    ) -> None:
        """Account for a time without changes at the impeller."""
        if not turning or not all_shut:
            self.all_shut = 0.0
        if not turning:
            return
        self.turning += seconds
        if strained:
            self.strained += seconds
        if none_open:
            self.turning_none_open += seconds
        if all_shut:
            self.turning_all_shut += seconds
            self.all_shut += seconds
            self.longest_all_shut = max(self.longest_all_shut, self.all_shut)

    def count_machine(
        self, key: str, seconds: float, *, running: bool, attached: bool, air: bool
    ) -> None:
        """Account for a time without changes at a machine."""
        record = self.machines.setdefault(key, MachineTruth())
        if running and attached and air and record.airless:
            record.waited = record.airless
        if not running or not attached or air:
            record.airless = 0.0
        if not running:
            return
        record.running += seconds
        if not attached:
            record.detached += seconds
        elif air:
            record.with_air += seconds
        else:
            record.without_air += seconds
            record.airless += seconds
            record.longest_without_air = max(record.longest_without_air, record.airless)

    def count_gate(self, key: str, seconds: float, *, is_open: bool, air: bool) -> None:
        """Account for a time without changes at a gate."""
        record = self.gates.setdefault(key, GateTruth())
        if is_open:
            record.open += seconds
            record.air += seconds if air else 0.0

    def as_data(self, now: float) -> dict[str, Any]:
        """Return the record as plain data for a report, rounded to milliseconds."""
        return {
            "seconds": round(now - self.since, 3),
            "now": now,
            "motor_starts": self.motor_starts,
            "starts_none_open": self.starts_none_open,
            "motor_on": round(self.motor_on, 3),
            "turning": round(self.turning, 3),
            "turning_all_shut": round(self.turning_all_shut, 3),
            "turning_none_open": round(self.turning_none_open, 3),
            "strained": round(self.strained, 3),
            "longest_all_shut": round(self.longest_all_shut, 3),
            "machines": {
                key: {
                    "running": round(record.running, 3),
                    "with_air": round(record.with_air, 3),
                    "without_air": round(record.without_air, 3),
                    "detached": round(record.detached, 3),
                    "longest_without_air": round(record.longest_without_air, 3),
                    "waited": round(record.waited, 3),
                }
                for key, record in self.machines.items()
            },
            "gates": {
                key: {"open": round(record.open, 3), "air": round(record.air, 3)}
                for key, record in self.gates.items()
            },
            "commands": {
                key: dict(reported) for key, reported in self.commands.items()
            },
            "happenings": [list(happening) for happening in self.happenings],
        }
