"""The state that counts for the record at an instant."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Self

from .fan import Collector
from .gate import Gate
from .machine import Machine


@dataclass(frozen=True, slots=True)
class Flags:
    """The conditions that the record counts between two events."""

    turning: bool
    air: bool
    all_shut: bool
    strained: bool
    open_gates: frozenset[str]

    @property
    def none_open(self) -> bool:
        """Whether no gate is really open."""
        return not self.open_gates

    @classmethod
    def at(cls, now: float, collector: Collector, gates: Mapping[str, Gate]) -> Self:
        """Return the conditions of the collector and the gates."""
        return cls(
            turning=collector.turning(now),
            air=collector.moves_air(now),
            all_shut=all(gate.is_shut(now) for gate in gates.values()),
            strained=collector.pulls_hard(now)
            and not any(gate.is_passable(now) for gate in gates.values()),
            open_gates=frozenset(
                key for key, gate in gates.items() if gate.is_open(now)
            ),
        )


@dataclass(frozen=True, slots=True)
class Seen:
    """What has already been recorded, so that each change is recorded once, whatever caused it."""

    powered: bool = False
    starts: int = 0
    driving: frozenset[str] = field(default_factory=frozenset)
    running: frozenset[str] = field(default_factory=frozenset)

    @classmethod
    def of(
        cls,
        collector: Collector,
        gates: Mapping[str, Gate],
        machines: Mapping[str, Machine],
    ) -> Self:
        """Return the present state."""
        return cls(
            collector.powered,
            collector.starts,
            frozenset(key for key, gate in gates.items() if gate.driving),
            frozenset(key for key, machine in machines.items() if machine.running),
        )
