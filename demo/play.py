"""The base of all plays in the workshop: the clock, the invariants, and the reaction times."""

from abc import ABC, abstractmethod
import asyncio
from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import median
import time

from .hub_states import StateWatch
from .shop_floor import ShopFloor, Truth
from .timeline import Timeline

PROMPT = 0.5
"""The longest reaction time of Home Assistant [s]."""


@dataclass(slots=True)
class Reactions:
    """Times from a cause to Home Assistant's command to the workshop [s]."""

    gate: list[float] = field(default_factory=list)
    """From the plug's reading to the first command to open a gate: a first sign is enough for that."""
    hub: list[float] = field(default_factory=list)
    """The same from a person's command to a gate: all of it is Home Assistant's time."""
    collector: list[float] = field(default_factory=list)
    """From the plug's reading to the command to start the collector."""

    def rows(self) -> list[tuple[str, ...]]:
        """Return the rows of a table: what, how often, median, maximum."""
        rows: list[tuple[str, ...]] = [("Reaction", "times", "median", "longest")]
        for what, times, text_of in (
            ("from a plug's reading to the gate's command", self.gate, _seconds),
            ("from a plug's reading to the collector's", self.collector, _seconds),
            ("from a reading or a word to a gate's command", self.hub, _milliseconds),
        ):
            if times:
                longest = text_of(max(times))
                rows.append((what, str(len(times)), text_of(median(times)), longest))
        return rows


class Play(ABC):
    """A play in the workshop, with checks."""

    def __init__(self, floor: ShopFloor, timeline: Timeline) -> None:
        self.floor = floor
        self.timeline = timeline
        self.reactions = Reactions()
        self._began = time.monotonic()

    @abstractmethod
    async def play(self) -> None:
        """Play it; raises `TimeoutError` where it gets stuck."""

    @abstractmethod
    async def summary(self) -> None:
        """Print the result."""

    @property
    def states(self) -> StateWatch:
        """Return Home Assistant's states."""
        return self.floor.client.states

    def begin(self) -> None:
        """Start the clock."""
        self._began = time.monotonic()
        self.timeline.begin()

    async def at(self, seconds: float) -> None:
        """Wait until a time after the beginning [s]; if it has passed, continue at once."""
        await asyncio.sleep(max(0.0, self._began + seconds - time.monotonic()))

    async def pause(self, seconds: float) -> None:
        """Let some time pass [s]."""
        await asyncio.sleep(seconds)

    def check(self, right: bool, what: str, but: str = "") -> bool:
        """Print whether something is as it should be."""
        return self.timeline.check(right, what, but)

    def say(self, what: str) -> None:
        """Print what the person in the workshop does."""
        self.timeline.tell("You", what)

    async def until(
        self, key: str, wanted: str, part: str = "", timeout: float = 20.0
    ) -> None:
        """Wait until one of Gatewright's entities has a state; raises `TimeoutError`."""
        await self.floor.until(key, wanted, part, timeout)

    def reacted(
        self, machine: str, truth: Truth, since: float, *, starting: bool
    ) -> None:
        """Check the reaction to a machine that was turned on after an instant."""
        rose = self.floor.started(machine, since)
        opened = truth.opened(since)
        first = min(
            (opened[gate] for gate in self.floor.gates_of(machine) if gate in opened),
            default=None,
        )
        self.check(
            rose is not None and first is not None,
            f"The {machine.lower()} was noticed and its gate commanded open",
        )
        if rose is None or first is None:
            return
        total = first - rose
        self.reactions.gate.append(total)
        self.reactions.hub.append(total)
        self.check(
            total <= PROMPT,
            f"Gate commanded open {_seconds(total)} after the plug's first reading",
            "too late",
        )
        on = truth.motor_commands("on", since)
        if not starting:
            self.check(not on, "The collector was on already and was left alone")
            return
        if self.check(len(on) == 1, "The collector was turned on once", f"{on}"):
            self.reactions.collector.append(on[0] - rose)
            self.check(
                on[0] >= first,
                f"Collector turned on {_seconds(on[0] - rose)} after the plug's reading",
                "but before its gate",
            )

    def only_opened(
        self, expected: Sequence[str], truth: Truth, since: float, who: str
    ) -> None:
        """Check that only some gates were commanded to open after an instant."""
        wanted = {self.floor.gate_keys[gate] for gate in expected}
        opened = set(truth.opened(since))
        names = " and ".join(expected).lower() or "no gate"
        self.check(
            opened == wanted,
            f"{who} opened the {names}" if expected else f"{who} opened no gate",
            f"commanded open: {', '.join(sorted(opened)) or 'none'}",
        )

    def breathed(self, before: Truth, truth: Truth) -> None:
        """Check the invariant: never more than a quarter of the suction with no gate open by a third."""
        strained = truth.grown(before, "strained")
        self.check(
            strained == 0,
            "The impeller always had a gate to take its air from",
            f"{strained} s above a quarter of the suction with no gate open by a third",
        )


def _seconds(value: float) -> str:
    return f"{value:.2f} s"


def _milliseconds(value: float) -> str:
    return f"{1000 * value:.0f} ms"
