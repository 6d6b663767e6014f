"""A collector's motor, and the impeller that follows it."""

from dataclasses import dataclass, field

from .motion import Ramp, rate_of


@dataclass(slots=True, kw_only=True)
class SimulatedMotor:
    """A motor behind its contactor; the impeller gains and loses its speed evenly.

    `spin_up` and `spin_down` are the times in s to full speed and from there to a stand.
    One that is `tripped` has no supply, one that is `welded` is on whatever its switch does.
    """

    spin_up: float = 0.0
    spin_down: float = 0.0
    tripped: bool = False
    welded: bool = False
    powered: bool = False
    """Whether it has current."""
    impeller: Ramp = field(default_factory=Ramp)
    """The impeller's share of its full speed."""

    def switch(self, on: bool, now: float) -> bool:
        """Follow a switch that stands so; return whether the current came or went."""
        powered = (on or self.welded) and not self.tripped
        if powered is self.powered:
            return False
        self.powered = powered
        time = self.spin_up if powered else self.spin_down
        self.impeller.go(now, float(powered), rate_of(time))
        return True

    def speed(self, now: float) -> float:
        """Return the impeller's speed as a share of its full speed."""
        return self.impeller.at(now)

    def turning(self, now: float) -> bool:
        """Whether the impeller turns at all, under power or spinning down."""
        return self.powered or self.impeller.at(now) > 0
