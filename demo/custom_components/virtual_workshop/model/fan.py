"""The dust collector: relay, motor, impeller with spin-up and spin-down, bin and filter."""

from dataclasses import dataclass, field

from custom_components.gatewright.core.simulation.plant.motion import TICK
from custom_components.gatewright.core.simulation.plant.motor import SimulatedMotor
from custom_components.gatewright.core.simulation.plant.relay import Relay
from custom_components.gatewright.core.times import earliest

from .layout import CollectorSpec

AIR_SPEED = 0.8
"""The share of full speed from which the fan moves enough air to count."""
HALF_SPEED = 0.5
"""The share of full speed from which the suction, which grows with the square, exceeds a quarter."""


@dataclass(slots=True)
class Collector:
    """The state of the collector. Speed is 0 to 1 of full speed, the bin's level in l."""

    spec: CollectorSpec
    relay: Relay = field(default_factory=Relay)
    motor: SimulatedMotor = field(default_factory=SimulatedMotor)
    bin_level: float = 0.0
    starts: int = 0
    start_instants: list[float] = field(default_factory=list)
    """The last hundred motor starts, in seconds since the epoch."""
    breaker_tripped: bool = False
    cutout: bool = False
    welded: bool = False
    welded_hidden: bool = False
    stuck_closed: bool = False
    """Whether the contact of a hidden weld has closed and will not open again."""
    mains: bool = True

    def __post_init__(self) -> None:
        """Store the impeller's times."""
        self.motor.spin_up, self.motor.spin_down = self.spec.spin_up, self.spec.coast

    @property
    def powered(self) -> bool:
        """Whether the motor has current."""
        return self.motor.powered

    def command(
        self,
        now: float,
        *,
        on: bool,
        latency: float,
        bouncing: bool = False,
    ) -> None:
        """Switch the relay after a latency [s], from Home Assistant or by hand at the device."""
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
        """Apply faults that began or ended."""
        if cutout and not self.cutout and self.relay.closed:
            self.relay.command(now, on=False, latency=0.0)
        if self.mains and not mains:
            # A contactor with a hold-in circuit stays off after a power cut.
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
        motor = self.motor
        motor.welded = self.stuck_closed
        motor.tripped = self.breaker_tripped or self.cutout or not self.mains
        if motor.switch(self.relay.closed, now) and motor.powered:
            self.starts += 1
            self.start_instants = [*self.start_instants[-99:], now]

    def speed(self, now: float) -> float:
        """Return the impeller's speed as a share of full speed."""
        return self.motor.speed(now)

    def turning(self, now: float) -> bool:
        """Whether the impeller turns at all, powered or spinning down."""
        return self.motor.turning(now)

    def moves_air(self, now: float) -> bool:
        """Whether the impeller is fast enough to move enough air."""
        return self.motor.speed(now) >= AIR_SPEED - TICK

    def pulls_hard(self, now: float) -> bool:
        """Whether its suction is more than a thin pipe bears without an open gate."""
        return self.motor.speed(now) > HALF_SPEED + TICK

    def draw(self, now: float, opening: float) -> float:
        """Return the motor's power [W]; `opening` is the sum of all gate positions.

        A fan with closed gates moves less air and needs less power; while it spins up
        it briefly needs several times as much.
        """
        if not self.mains or self.breaker_tripped:
            return 0.0
        if not self.powered:
            return self.spec.standby
        steady = self.spec.idle + (self.spec.work - self.spec.idle) * min(
            1.0, 0.7 * opening
        )
        return steady + (self.spec.inrush - steady) * (1.0 - self.motor.speed(now)) ** 2

    def filter_pressure(self, now: float, opening: float, *, clogged: bool) -> float:
        """Return the pressure over the filter [Pa]; it grows with the square of the flow."""
        air = self.motor.speed(now) * min(1.0, 0.3 + 0.7 * opening)
        return self.spec.filter_clean * (4.0 if clogged else 1.0) * air * air

    @property
    def bin_share(self) -> float:
        """How full the bin is, in percent."""
        return min(100.0, 100.0 * self.bin_level / self.spec.bin_liters)

    @property
    def bin_is_full(self) -> bool:
        """Whether the bin sensor is on."""
        return self.bin_share >= self.spec.bin_full - 1e-6

    def next_event(self, after: float) -> float | None:
        """Return when something changes next."""
        return earliest(
            [
                self.relay.next_event(after),
                self.motor.impeller.next_crossing(after, (HALF_SPEED, AIR_SPEED)),
            ]
        )
