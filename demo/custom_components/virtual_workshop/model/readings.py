"""The workshop's meter readings: noisy, at their own pace, and not always true."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
import math
from random import Random

from .faults import Fault
from .layout import COLLECTOR, SITE, Layout, MachineSpec, Meter, MeterKind
from .world import World

AIR_PRESSURE = 6.3
"""Compressed air, normal and with a failed compressor [bar]."""
AIR_PRESSURE_LOW = 1.8


class Quantity:
    """The quantities that are measured."""

    POWER = "power"
    CURRENT = "current"
    VOLTAGE = "voltage"
    ENERGY = "energy"
    SPEED = "speed"
    BIN = "bin_level"
    FILTER = "filter_pressure"
    AIR = "air_pressure"


@dataclass(slots=True)
class Reading:
    """One quantity of one part, read by a meter.

    `true` returns the real value at the world's present instant, `live` whether it can
    change on its own, `mark` anything that changes when the value jumps: the meter then
    measures at its next beat.
    """

    part: str
    quantity: str
    meter: Meter
    true: Callable[[World], float]
    live: Callable[[World], bool]
    mark: Callable[[World], object]
    digits: int = 1
    main: bool = True
    """Whether a meter's faults affect this reading."""
    phase: float = 0.0
    value: float | None = None
    """The last reported value."""
    reported_at: float = -math.inf
    due: float = -math.inf
    seen: object = field(default=None)

    def next_beat(self, now: float) -> float:
        """Return the next instant at which the meter measures anyway while current flows."""
        beat = self.meter.interval
        return (math.floor((now - self.phase) / beat) + 1) * beat + self.phase

    def notice(self, world: World) -> None:
        """Measure at the next beat if the true value has jumped."""
        mark = self.mark(world)
        if mark != self.seen:
            self.seen = mark
            self.due = min(self.due, self.next_beat(world.now))

    def look(self, world: World, random: Random) -> bool:
        """Measure if it's due; return whether the reading is worth a report."""
        now = world.now
        if now < self.due:
            return False
        self.due = (
            self.next_beat(now) if self.live(world) else now + self.meter.heartbeat
        )
        if self._has(world, Fault.PLUG_SILENT):
            return False
        if self._has(world, Fault.PLUG_FROZEN) and self.value is not None:
            self.reported_at = now
            return True
        value = self._measure(world, random)
        silent_for = now - self.reported_at
        if (
            self.value is not None
            and abs(value - self.value) < self.meter.delta
            and silent_for < self.meter.heartbeat
        ):
            return False
        self.value = value
        self.reported_at = now
        return True

    def _has(self, world: World, fault: Fault) -> bool:
        return self.main and world.has(self.part, fault)

    def _measure(self, world: World, random: Random) -> float:
        """Return the value that the meter sees, with faults and noise."""
        true = self.true(world)
        if self._has(world, Fault.PLUG_FALSE_ZERO):
            world.mend_part(self.part, Fault.PLUG_FALSE_ZERO)
            self.due = self.next_beat(world.now)
            return 0.0
        value = (
            max(0.0, random.gauss(true, self.meter.noise * true))
            if self.meter.noise
            else true
        )
        if self._has(world, Fault.PLUG_NEGATIVE):
            value = -value
        return round(value, self.digits)


class Readings:
    """All readings of a workshop."""

    def __init__(self, layout: Layout) -> None:
        self._random = Random(layout.seed)
        self.all: dict[tuple[str, str], Reading] = {
            (reading.part, reading.quantity): reading for reading in _readings(layout)
        }
        for reading in self.all.values():
            # Meters don't all measure at the same instant.
            reading.phase = self._random.uniform(0.0, reading.meter.interval)

    def collect(self, world: World) -> list[tuple[str, str]]:
        """Read what is due at the world's present instant; return what to report."""
        reported = []
        for key, reading in self.all.items():
            reading.notice(world)
            if reading.look(world, self._random):
                reported.append(key)
        return reported

    def next_due(self) -> float:
        """Return when the next meter measures."""
        return min(reading.due for reading in self.all.values())

    def dump(self) -> dict[str, float]:
        """Return the meters' last reports as plain data."""
        return {
            f"{part}/{quantity}": reading.value
            for (part, quantity), reading in self.all.items()
            if reading.value is not None
        }

    def load(self, data: dict[str, float], world: World) -> None:
        """Restore the frozen meters' readings; the others start afresh."""
        for (part, quantity), reading in self.all.items():
            if world.has(part, Fault.PLUG_FROZEN):
                reading.value = data.get(f"{part}/{quantity}")

    def hurry(self, parts: Iterable[str]) -> None:
        """Let the meters of some parts measure at once, as after a fault began or ended."""
        wanted = set(parts)
        for reading in self.all.values():
            if reading.part in wanted:
                reading.due = -math.inf
                reading.reported_at = -math.inf


_STEADY = Meter(interval=5.0, heartbeat=60.0, delta=0.5, noise=0.002)


def _readings(layout: Layout) -> Iterator[Reading]:
    """Yield every reading of a workshop."""
    yield Reading(
        COLLECTOR,
        Quantity.POWER,
        layout.collector.meter,
        true=lambda world: world.collector_draw(),
        live=lambda world: world.collector.powered,
        mark=lambda world: (world.collector.powered, world.collector_draw() > 0),
    )
    yield Reading(
        COLLECTOR,
        Quantity.SPEED,
        Meter(delta=15.0, noise=0.003, heartbeat=60.0),
        true=lambda world: world.collector.speed(world.now) * layout.collector.speed,
        live=lambda world: world.collector.turning(world.now),
        mark=lambda world: world.collector.turning(world.now),
        digits=0,
        main=False,
    )
    yield Reading(
        COLLECTOR,
        Quantity.BIN,
        Meter(interval=5.0, delta=1.0, noise=0.0, heartbeat=300.0),
        true=lambda world: world.collector.bin_share,
        live=lambda world: world.collector.turning(world.now),
        mark=lambda world: int(world.collector.bin_share),
        digits=0,
        main=False,
    )
    yield Reading(
        COLLECTOR,
        Quantity.FILTER,
        Meter(interval=2.0, delta=5.0, noise=0.01, heartbeat=60.0),
        true=lambda world: world.collector.filter_pressure(
            world.now, world.opening(), clogged=world.has(SITE, Fault.FILTER_CLOGGED)
        ),
        live=lambda world: world.collector.turning(world.now),
        mark=lambda world: world.collector.turning(world.now),
        digits=0,
        main=False,
    )
    if any(gate.pneumatic for gate in layout.gates.values()):
        yield Reading(
            SITE,
            Quantity.AIR,
            Meter(interval=2.0, delta=0.1, noise=0.005, heartbeat=60.0),
            true=lambda world: (
                AIR_PRESSURE_LOW
                if world.has(SITE, Fault.AIR_SUPPLY_LOW)
                else AIR_PRESSURE
            ),
            live=lambda _: False,
            mark=lambda world: world.has(SITE, Fault.AIR_SUPPLY_LOW),
            digits=2,
            main=False,
        )
    for key, spec in layout.machines.items():
        yield from _machine_readings(key, spec, layout)


def _machine_readings(key: str, spec: MachineSpec, layout: Layout) -> Iterator[Reading]:
    """Yield the readings of one machine."""
    volts = layout.mains_voltage
    clamp = spec.meter_kind is MeterKind.CLAMP
    yield Reading(
        key,
        Quantity.CURRENT if clamp else Quantity.POWER,
        spec.meter,
        true=lambda world: (
            world.machine_draw(key) / volts if clamp else world.machine_draw(key)
        ),
        live=lambda world: world.machines[key].running,
        mark=lambda world: world.machine_draw(key),
        digits=2 if clamp else 1,
    )
    if not spec.extras:
        return
    yield Reading(
        key,
        Quantity.VOLTAGE,
        _STEADY,
        true=lambda world: volts if world.mains else 0.0,
        live=lambda _: False,
        mark=lambda world: world.mains,
        main=False,
    )
    yield Reading(
        key,
        Quantity.ENERGY,
        Meter(interval=10.0, heartbeat=60.0, delta=0.01, noise=0.0),
        true=lambda world: world.machines[key].energy / 3.6e6,
        live=lambda world: world.machines[key].running,
        mark=lambda world: world.machines[key].running,
        digits=3,
        main=False,
    )
