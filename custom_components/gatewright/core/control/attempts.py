"""The tries at one command: how many there are, and how long each one has."""

from dataclasses import dataclass
import math
from typing import Final

_SLOWEST_RETRY: Final = 300.0
"""Longest pause in s between two tries of a command that must not be given up."""

_MOST_DOUBLINGS: Final = 10
"""More doublings of a window than it takes to reach the slowest pace."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tries:
    """How often a command is given before the actuator counts as failed.

    `persistent` goes on trying after that, more and more slowly.
    """

    count: int = 1
    persistent: bool = False

    def span(self, over: int, window: float) -> float:
        """Return how long in s the try may take before which so many are `over`."""
        slower = 2.0 ** min(max(0, over - self.count), _MOST_DOUBLINGS)
        return min(window * slower, max(window, _SLOWEST_RETRY))


ONCE: Final = Tries()


@dataclass(slots=True)
class Attempt:
    """The present try: when it began and ends, how many were over before.

    `number` counts all commands: no other has the same.
    """

    began: float
    ends: float = -math.inf
    over: int = 0
    number: int = 0

    def begin(self, now: float, span: float) -> None:
        """Begin another try, which may take `span` s."""
        self.number += 1
        self.began = now
        self.ends = now + span


@dataclass(slots=True)
class Delivery:
    """What became of the commands that were given.

    `held_up`: the present one waits for one before it that has not returned. `out`: one
    has left and nothing says yet that it took effect. `refused`: the last that left was
    not taken. `contested`: an opposite one may still take effect after the present one.
    """

    held_up: bool = False
    out: bool = False
    refused: bool = False
    contested: bool = False
