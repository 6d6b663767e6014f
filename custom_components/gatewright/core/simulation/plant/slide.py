"""A blast gate's slide: it takes its time, and may stick, drag or jam."""

from dataclasses import dataclass

from .motion import Ramp, rate_of


@dataclass(slots=True, kw_only=True)
class Slide(Ramp):
    """A slide between 0 (closed) and 1 (open); `travel` is its whole way's time in s.

    One that is `stuck` does not move, a `slowed` one takes so many times as long; one
    that `jams` comes no farther than this share of its way, whichever way it goes.
    """

    travel: float = 0.0
    slowed: float = 1.0
    stuck: bool = False
    jams: float | None = None

    @property
    def pace(self) -> float:
        """Its speed in whole ways per s, were it driven."""
        return 0.0 if self.stuck else rate_of(self.travel * self.slowed)

    def drive(self, now: float, target: float) -> None:
        """Move to a position from wherever it is; a stuck one stays."""
        if self.jams is not None:
            here = self.at(now)
            target = (
                max(here, min(target, self.jams))
                if target > here
                else min(here, max(target, 1.0 - self.jams))
            )
        self.go(now, target, self.pace)
