"""A bench for the core: a shop, simulated actuators and a clock that jumps."""

from collections.abc import Callable
from typing import Any, override

import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    CollectorConfig,
    GateConfig,
    GateKind,
    MachineConfig,
    StartWhen,
    SystemConfig,
    Thresholds,
)
from custom_components.gatewright.core.simulation.controlled_plant import (
    ControlledPlant,
)
from custom_components.gatewright.core.simulation.plant.actuators import (
    SimulatedActuator as Device,
)

__all__ = ["Bench", "Device"]


class Bench(ControlledPlant):
    """Runs a shop against its devices and writes down every command."""

    after_step: Callable[[Bench], None] | None = None
    on_command: Callable[[str, bool], None] | None = None

    def __init__(
        self, system: SystemConfig, devices: dict[str, Device], now: float = 0.0
    ) -> None:
        super().__init__(system, devices, now)
        self.system = system

    def power_up(self) -> None:
        """Report how every device stands, as Home Assistant does when it has started."""
        for device in self.devices.values():
            self.say(device)
        self.act()

    def read(self, instant: float, machine: str, value: float | None) -> None:
        self.at(instant, lambda: self._read(machine, value))

    def hand(self, instant: float, part: str, value: bool | None) -> None:
        """Schedule that somebody moves a device by hand."""
        self.at(instant, lambda: self.move_by_hand(part, value))

    def away(self, instant: float, part: str) -> None:
        self.at(instant, lambda: self._reach(part, reachable=False))

    def back(self, instant: float, part: str, value: bool | None) -> None:
        self.at(instant, lambda: self._reach(part, reachable=True, value=value))

    def run_to(self, end: float) -> None:
        """Let everything happen that is due until `end`."""
        while (at := self.next) <= end:
            self.settle(max(at, self.now))
        self.now = max(self.now, end)
        self.act()

    def sent(self, part: str, since: float = 0.0) -> list[tuple[float, bool]]:
        """Return the commands a part was given."""
        return [
            (t, target) for t, p, target in self.commands if p == part and t >= since
        ]

    def told(self, kind: str) -> list[tuple[float, bool]]:
        """Return when an alarm of a kind was raised (True) and cleared (False)."""
        return [(c.at, c.raised) for c in self.alarms if c.condition.kind == kind]

    @override
    def act(self) -> None:
        super().act()
        if self.after_step is not None:
            self.after_step(self)

    @override
    def dispatched(self, part: str, target: bool) -> None:
        if self.on_command is not None:
            self.on_command(part, target)
        super().dispatched(part, target)

    def _read(self, machine: str, value: float | None) -> None:
        self.sequence.read(machine, value, self.now)

    def _reach(self, part: str, *, reachable: bool, value: bool | None = None) -> None:
        device = self.devices[part]
        device.reachable = reachable
        if reachable:
            device.state = value
        self.say(device)


def near(value: float, within: float = 1e-3) -> Any:
    """Return what equals any number within so much of `value`."""
    return pytest.approx(value, abs=within)


LEVELS = Thresholds(start=150.0, stop=60.0, start_confirm=1.0, stop_confirm=4.0)


def field_bench(
    *,
    rest: float = 30.0,
    shutoff_delay: float = 15.0,
    now: float = 0.0,
    bandsaw_levels: Thresholds = LEVELS,
    start_when: StartWhen = StartWhen.GATE_OPENING,
) -> Bench:
    """Return the bench of the field cases: planer, table saw, band saw."""
    system = SystemConfig(
        collector=CollectorConfig(
            name="Shop collector",
            shutoff_delay=shutoff_delay,
            spin_down=20.0,
            rest=rest,
            confirm=10.0,
            hand_gates=("planer_gate",),
            start_when=start_when,
        ),
        gates=(
            GateConfig(gate_id="planer_gate", name="Planer gate"),
            GateConfig(gate_id="tablesaw_gate", name="Table saw gate"),
            GateConfig(
                gate_id="bandsaw_gate",
                name="Band saw gate",
                kind=GateKind.POWERED,
                feedback=False,
            ),
        ),
        machines=(
            MachineConfig(
                machine_id="planer",
                name="Planer",
                gates=("planer_gate",),
                levels=LEVELS,
            ),
            MachineConfig(
                machine_id="tablesaw",
                name="Table saw",
                gates=("tablesaw_gate",),
                levels=LEVELS,
            ),
            MachineConfig(
                machine_id="bandsaw",
                name="Band saw",
                gates=("bandsaw_gate",),
                levels=bandsaw_levels,
            ),
        ),
    )
    return Bench(
        system,
        {
            COLLECTOR: Device(COLLECTOR),
            "planer_gate": Device("planer_gate", delay=0.1, travel=3.0),
            "tablesaw_gate": Device("tablesaw_gate", delay=0.1, travel=3.0),
            "bandsaw_gate": Device("bandsaw_gate", delay=0.0),
        },
        now=now,
    )


def resting_bench(
    *,
    bandsaw_levels: Thresholds = LEVELS,
    start_when: StartWhen = StartWhen.GATE_OPENING,
    used: bool = False,
) -> Bench:
    """Return the bench of the field cases at rest at 0, with idle readings.

    Where it was `used` before, every machine has run once, and its gate was seen to move.
    """
    bench = field_bench(
        now=-1000.0, bandsaw_levels=bandsaw_levels, start_when=start_when
    )
    bench.power_up()
    for number, machine in enumerate(("planer", "tablesaw", "bandsaw")):
        bench.read(-999.0, machine, 5.0)
        if used:
            bench.read(-900.0 + 200.0 * number, machine, 1450.0)
            bench.read(-850.0 + 200.0 * number, machine, 5.0)
    bench.run_to(0.0)
    bench.commands.clear()
    return bench
