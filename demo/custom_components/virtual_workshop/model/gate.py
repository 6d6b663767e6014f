"""A blast gate: a slide with a travel time, and an actuator with more or less feedback."""

from dataclasses import dataclass, field

from custom_components.gatewright.core.simulation.plant.motion import TICK
from custom_components.gatewright.core.simulation.plant.relay import Bounce, Relay
from custom_components.gatewright.core.simulation.plant.slide import Slide
from custom_components.gatewright.core.times import earliest

from .layout import GateKind, GateSpec

SHUT = 0.02
"""Up to this share of its travel a slide lets no air through."""
PASSABLE = 1 / 3
"""From this share of its travel it lets enough through to protect a thin pipe."""
OPEN = 0.95
"""From this share of its travel a slide counts as open."""
SLOW_FACTOR = 4.0
"""The factor of a slow gate's travel time."""


@dataclass(slots=True)
class Gate:
    """The state of one gate. Positions run from 0 (closed) to 1 (open)."""

    spec: GateSpec
    slide: Slide = field(default_factory=Slide)
    relay: Relay = field(default_factory=Relay)
    """The relay of a switch gate; unused by the other kinds."""
    bounce: Bounce = field(default_factory=Bounce)
    pending: list[tuple[float, float]] = field(default_factory=list)
    """A command on its way to a motor: (instant, position)."""
    wish: float = 0.0
    """The actuator's target position."""
    driving: bool = False
    driving_since: float = 0.0
    moves: int = 0
    """How often the slide has begun to move."""
    unpowered: bool = False

    def __post_init__(self) -> None:
        """Store the slide's travel time."""
        self.slide.travel = self.spec.travel

    @property
    def give_up(self) -> float:
        """How long a motor pushes before it gives up [s]; a relay never does."""
        return max(20.0, 6 * self.spec.travel)

    def command(
        self,
        now: float,
        position: float,
        *,
        bouncing: bool = False,
        delay: float = 0.0,
    ) -> None:
        """Take a command from Home Assistant; `delay` [s] is added to the usual latency."""
        if self.unpowered:
            return
        was = (
            self.relay.closed
            if self.spec.kind is GateKind.SWITCH
            else self.slide.at(now)
        )
        if self.spec.kind is GateKind.SWITCH:
            self.relay.command(now, on=position > 0, latency=self.spec.latency + delay)
            if bouncing:
                self.relay.bounce.start(now, position, was)
        else:
            self.bounce.clear()
            self.pending = [(now + self.spec.latency + delay, position)]
            if bouncing:
                self.bounce.start(now, position, was)

    def stop(self, now: float) -> None:
        """Stop the motor."""
        self.pending = []
        self._rest(now)

    def move_by_hand(self, now: float, position: float) -> None:
        """Push the slide by hand; it stays there until the actuator's next command."""
        self._rest(now)
        if abs(self.slide.at(now) - position) > TICK:
            self.moves += 1
            self.slide.go(now, position, 1.0 / self.spec.travel)

    def afflict(self, now: float, *, stuck: bool, slow: bool, unpowered: bool) -> None:
        """Apply faults that began or ended."""
        was_unpowered = self.unpowered
        self.slide.stuck, self.unpowered = stuck or unpowered, unpowered
        self.slide.slowed = SLOW_FACTOR if slow else 1.0
        if unpowered:
            self.pending = []
            if self.driving:
                self._rest(now)
        elif was_unpowered and self.spec.kind is GateKind.SWITCH:
            # A solenoid with restored supply goes where its relay says.
            self._drive(now, 1.0 if self.relay.closed else 0.0)
        elif self.driving:
            self.slide.drive(now, self.wish)

    def position(self, now: float) -> float:
        """Return the slide's real position."""
        return self.slide.at(now)

    def is_shut(self, now: float) -> bool:
        """Whether the slide really lets no air through."""
        return self.slide.at(now) <= SHUT + TICK

    def is_passable(self, now: float) -> bool:
        """Whether the slide lets a good deal of air through."""
        return self.slide.at(now) >= PASSABLE - TICK

    def is_open(self, now: float) -> bool:
        """Whether the slide is really open."""
        return self.slide.at(now) >= OPEN - TICK

    def reported_position(self, now: float) -> float:
        """Return the position that the actuator reports."""
        reported = self.bounce.told(now)
        return self.slide.at(now) if reported is None else reported

    def reported_direction(self, now: float) -> int:
        """Return the direction that the actuator reports: 1 opening, -1 closing, 0 stopped."""
        if not self.driving or self.bounce.told(now) is not None:
            return 0
        way = self.wish - self.slide.at(now)
        return (way > TICK) - (way < -TICK)

    def settle(self, now: float) -> None:
        """Carry out what is due."""
        if self.relay.settle(now):
            self._drive(now, 1.0 if self.relay.closed else 0.0)
        for at, position in self.pending:
            if at <= now + TICK:
                self._drive(now, position)
        self.pending = [
            (at, position) for at, position in self.pending if at > now + TICK
        ]
        if not self.driving:
            return
        if abs(self.slide.at(now) - self.wish) <= TICK:
            self.driving = False
        elif (
            self.spec.kind is not GateKind.SWITCH
            and now >= self.driving_since + self.give_up - TICK
        ):
            self._rest(now)

    def next_event(self, after: float) -> float | None:
        """Return when something changes next, including the positions that count for air."""
        gives_up = self.driving_since + self.give_up
        wants_give_up = (
            self.driving
            and self.spec.kind is not GateKind.SWITCH
            and gives_up > after + TICK
        )
        return earliest(
            [
                *(at for at, _ in self.pending if at > after + TICK),
                self.relay.next_event(after),
                self.bounce.next_event(after),
                self.slide.next_crossing(after, (SHUT, PASSABLE, OPEN)),
                gives_up if wants_give_up else None,
            ]
        )

    def _drive(self, now: float, position: float) -> None:
        """Move the actuator towards a position."""
        self.wish = position
        if self.unpowered:
            return
        self.driving = abs(self.slide.at(now) - position) > TICK
        self.driving_since = now
        if self.driving:
            self.moves += not self.slide.stuck
            self.slide.drive(now, position)
        else:
            self.slide.halt(now)

    def _rest(self, now: float) -> None:
        """Leave the slide where it is."""
        self.driving = False
        self.slide.halt(now)
