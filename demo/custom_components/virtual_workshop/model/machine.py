"""A machine: its switch, its power, and its plug."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from custom_components.gatewright.core.simulation.plant.motion import TICK
from custom_components.gatewright.core.simulation.plant.relay import Relay
from custom_components.gatewright.core.times import earliest

from .layout import MachineSpec, MeterKind

PLUG_LATENCY = 0.2
"""How long a plug's relay takes to follow a command [s]."""


@dataclass(slots=True)
class Machine:
    """The state of one machine. `load` runs from 0 (turning freely) to 1 (full load)."""

    spec: MachineSpec
    on: bool = False
    load: float = 0.0
    since: float = 0.0
    """When it was last turned on."""
    steps: list[tuple[float, float | None]] = field(default_factory=list)
    """The operator's next action: (instant, load), or (instant, None) for turning off."""
    relay: Relay = field(default_factory=lambda: Relay(closed=True))
    attached: bool = False
    mains: bool = True
    starts: int = 0
    energy: float = 0.0
    """Its energy so far [J]."""

    def __post_init__(self) -> None:
        """Apply the machine's initial state."""
        self.attached = self.spec.attached

    @property
    def supplied(self) -> bool:
        """Whether there is voltage at its plug."""
        return self.mains and (
            self.relay.closed or self.spec.meter_kind is MeterKind.CLAMP
        )

    @property
    def running(self) -> bool:
        """Whether it really runs."""
        return self.on and self.supplied

    def switch_on(self, now: float, load: float) -> None:
        """Turn it on, or change the load of a running machine."""
        if not self.supplied and self.spec.no_volt_release:
            return
        if not self.on:
            self.on = True
            self.since = now
            self.starts += 1
        self.load = load

    def switch_off(self) -> None:
        """Turn it off and drop its operator's plan."""
        self.on = False
        self.load = 0.0
        self.steps = []

    def follow(self, now: float, steps: Iterable[tuple[float, float | None]]) -> None:
        """Let its operator follow a plan: pairs of (seconds, load or None for off), one after another."""
        at = now
        plan: list[tuple[float, float | None]] = []
        for seconds, load in steps:
            plan.append((at, load))
            at += seconds
        self.steps = [*plan, (at, None)]
        self.settle(now)

    def energize(self, now: float, *, mains: bool) -> None:
        """Apply whether the workshop has power."""
        if mains != self.mains:
            self.mains = mains
            self._check_supply(now)

    def settle(self, now: float) -> None:
        """Carry out what is due."""
        if self.relay.settle(now):
            self._check_supply(now)
        while self.steps and self.steps[0][0] <= now + TICK:
            _, load = self.steps.pop(0)
            if load is None:
                self.on = False
                self.load = 0.0
            else:
                self.switch_on(now, load)

    def draw(self, now: float) -> float:
        """Return its present power [W]."""
        if not self.supplied:
            return 0.0
        if not self.on:
            return self.spec.standby
        if now - self.since < self.spec.inrush_time - TICK:
            return self.spec.inrush
        return self.spec.idle + (self.spec.work - self.spec.idle) * self.load

    def next_event(self, after: float) -> float | None:
        """Return when something changes next."""
        inrush_ends = self.since + self.spec.inrush_time
        return earliest(
            [
                self.relay.next_event(after),
                *(at for at, _ in self.steps if at > after + TICK),
                inrush_ends if self.running and inrush_ends > after + TICK else None,
            ]
        )

    def _check_supply(self, now: float) -> None:
        """Release the machine's switch when its supply fails, or start the machine when it returns."""
        if not self.supplied:
            self.steps = []
            if self.spec.no_volt_release:
                self.on = False
                self.load = 0.0
        elif self.on:
            self.since = now
            self.starts += 1
