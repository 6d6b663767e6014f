"""Instants on the core's clock, and the time left until them."""

from collections.abc import Iterable
import math


def earliest(instants: Iterable[float | None]) -> float | None:
    """Return the first of some instants, or the shortest of some times; None is none."""
    return min((at for at in instants if at is not None), default=None)


def next_after(now: float, instants: Iterable[float | None]) -> float | None:
    """Return the first of some instants that is still to come; None is none."""
    first: float | None = None
    for at in instants:
        if at is not None and at > now and (first is None or at < first):
            first = at
    return first


def over(instant: float | None, now: float) -> bool:
    """Whether an instant has come; None never does."""
    return instant is not None and now >= instant


def time_left(instant: float | None, now: float) -> float | None:
    """Return the s left until an instant, 0 once it has passed; None stays None."""
    return None if instant is None else max(0.0, instant - now)


def instant_after(left: float | None, since: float) -> float | None:
    """Return the instant that is `left` s after another; None stays None."""
    return None if left is None else since + left


def in_ticks(seconds: float) -> float:
    """Return a computed time rounded up to a 1,024th of a second.

    Sums of such times are exact, so that what is due at an instant is due when the clock
    shows that instant, whatever it began with.
    """
    return math.ceil(seconds * 1024) / 1024
