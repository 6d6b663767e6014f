"""The dust collector: relay, motor, an impeller that needs time to spin up and longer to stop, bin and filter."""

from dataclasses import dataclass, field

from .layout import CollectorSpec
from .motion import TICK, Ramp, Relay, earliest

AIR_SPEED = 0.8
"""From this share of full speed on the fan moves enough air to count."""
HALF_SPEED = 0.5
"""From this share of full speed on its suction, which grows with the square, is more than a quarter of the full one."""


@dataclass(slots=True)
class Collector:
    """The state of the collector. Speed runs from 0 to 1 of full speed, the bin's level is in l."""

    spec: CollectorSpec
    relay: Relay = field(default_factory=Relay)
    impeller: Ramp = field(default_factory=Ramp)
    bin_level: float = 0.0
    starts: int = 0
    start_instants: list[float] = field(default_factory=list)
    """The last hundred motor starts, in seconds since the epoch."""
    powered: bool = False
    """Whether the motor has current."""
    breaker_tripped: bool = False
    cutout: bool = False
    welded: bool = False
    welded_hidden: bool = False
    stuck_closed: bool = False
    """Whether the contact of a hidden weld has been closed and will not open again."""
    mains: bool = True

    def command(
        self,
        now: float,
        *,
        on: bool,
        latency: float,
        bouncing: bool = False,
    ) -> None:
        """Switch the relay after some latency [s], from the hub or by hand at the device."""
        if self.welded and self.relay.closed and not on:
            return
        was = self.relay.closed
        self.relay.command(now, on=on, latency=latency)
        if bouncing:
            self.relay.bounce.start(now, float(on), float(was))
        if on and self.cutout:
            self.relay.then(now + latency + 1.0, on=False)

    def afflict(
        self,
        now: float,
        *,
        tripped: bool,
        cutout: bool,
        welded: bool,
        hidden: bool,
        mains: bool,
    ) -> None:
        """Take note of what is broken or mended."""
        if cutout and not self.cutout and self.relay.closed:
            self.relay.command(now, on=False, latency=0.0)
        if self.mains and not mains:
            # A contactor with a hold-in circuit does not come back by itself after a power cut.
            self.relay.command(now, on=False, latency=0.0)
        self.breaker_tripped, self.cutout, self.welded, self.welded_hidden = (
            tripped,
            cutout,
            welded,
            hidden,
        )
        self.mains = mains
        if not hidden:
            self.stuck_closed = False
        self.settle(now)

    def settle(self, now: float) -> None:
        """Carry out what is due, and let the impeller follow its motor."""
        self.relay.settle(now)
        if self.welded_hidden and self.relay.closed:
            self.stuck_closed = True
        contact = self.relay.closed or self.stuck_closed
        powered = (
            contact and self.mains and not self.breaker_tripped and not self.cutout
        )
        if powered == self.powered:
            return
        self.powered = powered
        if powered:
            self.starts += 1
            self.start_instants = [*self.start_instants[-99:], now]
            self.impeller.go(now, 1.0, 1.0 / self.spec.spin_up)
        else:
            self.impeller.go(now, 0.0, 1.0 / self.spec.coast)

    def speed(self, now: float) -> float:
        """Return the impeller's speed as a share of full speed."""
        return self.impeller.at(now)

    def turning(self, now: float) -> bool:
        """Whether the impeller turns at all, under power or coasting."""
        return self.powered or self.impeller.at(now) > 0

    def moves_air(self, now: float) -> bool:
        """Whether the impeller is fast enough to move real air."""
        return self.impeller.at(now) >= AIR_SPEED - TICK

    def pulls_hard(self, now: float) -> bool:
        """Whether its suction is more than a thin pipe should bear with nowhere to take air from."""
        return self.impeller.at(now) > HALF_SPEED + TICK

    def draw(self, now: float, opening: float) -> float:
        """Return what the motor draws [W], where `opening` is the sum of all gate positions.

        A fan with its gates shut moves less air and so needs less power; while it spins up it needs several times as
        much for a moment.
        """
        if not self.mains or self.breaker_tripped:
            return 0.0
        if not self.powered:
            return self.spec.standby
        steady = self.spec.idle + (self.spec.work - self.spec.idle) * min(
            1.0, 0.7 * opening
        )
        return steady + (self.spec.inrush - steady) * (1.0 - self.impeller.at(now)) ** 2

    def filter_pressure(self, now: float, opening: float, *, clogged: bool) -> float:
        """Return the pressure over the filter [Pa]; it grows with the square of the air that goes through."""
        air = self.impeller.at(now) * min(1.0, 0.3 + 0.7 * opening)
        return self.spec.filter_clean * (4.0 if clogged else 1.0) * air * air

    @property
    def bin_share(self) -> float:
        """How full the bin is, in percent."""
        return min(100.0, 100.0 * self.bin_level / self.spec.bin_liters)

    @property
    def bin_is_full(self) -> bool:
        """Whether the bin sensor speaks."""
        return self.bin_share >= self.spec.bin_full - 1e-6

    def next_event(self, after: float) -> float | None:
        """Return when something changes next."""
        return earliest(
            [
                self.relay.next_event(after),
                self.impeller.next_crossing(after, (HALF_SPEED, AIR_SPEED)),
            ]
        )
