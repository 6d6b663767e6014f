"""What is the case: machines that run and have air, the collector, problems."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from time import monotonic
from typing import Any, override

from homeassistant.components.binary_sensor import (
    BinarySensorDeviceClass,
    BinarySensorEntity,
    BinarySensorEntityDescription,
)
from homeassistant.const import EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .air.sensors import machine_binary_sensors
from .engine import Engine, GatewrightConfigEntry
from .entity import (
    CollectorEntity,
    GateEntity,
    GatewrightEntity,
    MachineEntity,
    add_entities,
)
from .old_names.shown import shown_data
from .onlooking.entities import would_run
from .shop.alarms import Condition
from .shop.machines import MachineRun
from .shop.plan import Machine

PARALLEL_UPDATES = 0


@dataclass(frozen=True, kw_only=True)
class CollectorSensor(BinarySensorEntityDescription):
    """A fact about the collector; `told` says whether it depends on its switch."""

    is_on: Callable[[Engine], bool | None]
    told: bool = True


@dataclass(frozen=True, kw_only=True)
class MachineSensor(BinarySensorEntityDescription):
    """A fact about a machine."""

    available: Callable[[Engine, MachineRun], bool]
    is_on: Callable[[Engine, MachineRun], bool | None]
    wanted: Callable[[Machine], bool]


COLLECTOR_SENSORS = (
    CollectorSensor(
        key="turning",
        translation_key="turning",
        device_class=BinarySensorDeviceClass.RUNNING,
        is_on=lambda engine: engine.sequence.motor.turning,
    ),
    CollectorSensor(
        key="wanted",
        translation_key="wanted",
        entity_category=EntityCategory.DIAGNOSTIC,
        is_on=lambda engine: engine.sequence.collector_wanted,
        told=False,
    ),
    CollectorSensor(
        key="system_check",
        translation_key="system_check",
        device_class=BinarySensorDeviceClass.RUNNING,
        entity_category=EntityCategory.DIAGNOSTIC,
        is_on=lambda engine: engine.walk.going,
        told=False,
    ),
)

MACHINE_SENSORS = (
    MachineSensor(
        key="running",
        translation_key="running",
        device_class=BinarySensorDeviceClass.RUNNING,
        available=lambda _, run: run.sensor is not None and not run.sensor.missing,
        is_on=lambda _, run: run.senses_running,
        wanted=lambda plan: plan.levels is not None,
    ),
    MachineSensor(
        key="collecting",
        translation_key="collecting",
        available=lambda engine, run: engine.knows_air(run.plan.machine_id),
        is_on=lambda engine, run: engine.sequence.has_air(
            run.plan.machine_id, monotonic()
        ),
        wanted=lambda _: True,
    ),
    MachineSensor(
        key="connected",
        translation_key="connected",
        device_class=BinarySensorDeviceClass.PLUG,
        entity_category=EntityCategory.DIAGNOSTIC,
        available=lambda _, run: run.attached is not None,
        is_on=lambda _, run: run.attached,
        wanted=lambda plan: plan.movable,
    ),
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the binary sensors of one system."""
    add_entities(
        entry.runtime_data,
        async_add_entities,
        collector=_collector,
        machine=_machine,
        gate=_gate,
    )


def _collector(engine: Engine) -> Iterator[GatewrightEntity]:
    for description in COLLECTOR_SENSORS:
        yield CollectorBinarySensor(engine, description)
    yield CollectorProblem(engine, "problem")
    yield from would_run(engine)


def _machine(engine: Engine, machine_id: str) -> Iterator[GatewrightEntity]:
    plan = engine.layout.plans[machine_id]
    for description in MACHINE_SENSORS:
        if description.wanted(plan):
            yield MachineBinarySensor(engine, machine_id, description)
    yield MachineProblem(engine, machine_id, "problem")
    yield from machine_binary_sensors(engine, machine_id)


def _gate(engine: Engine, gate_id: str) -> Iterator[GatewrightEntity]:
    # Nothing can be wrong with an opening that never moves.
    if engine.sequence.gates.actuator(gate_id) is not None:
        yield GateProblem(engine, gate_id, "problem")


class CollectorBinarySensor(CollectorEntity, BinarySensorEntity):
    """A fact about the collector."""

    entity_description: CollectorSensor

    @property
    @override
    def available(self) -> bool:
        return self.actuator.reachable or not self.entity_description.told

    @property
    @override
    def is_on(self) -> bool | None:
        return self.entity_description.is_on(self.engine)


class MachineBinarySensor(MachineEntity, BinarySensorEntity):
    """A fact about a machine."""

    entity_description: MachineSensor

    @property
    @override
    def available(self) -> bool:
        run = self.run
        return run is not None and self.entity_description.available(self.engine, run)

    @property
    @override
    def is_on(self) -> bool | None:
        run = self.run
        return None if run is None else self.entity_description.is_on(self.engine, run)


class ProblemSensor(GatewrightEntity, BinarySensorEntity):
    """Whether an alarm stands for a part; the attributes say which."""

    _attr_device_class = BinarySensorDeviceClass.PROBLEM
    _attr_entity_category: EntityCategory | None = EntityCategory.DIAGNOSTIC
    _attr_translation_key = "problem"

    @property
    def conditions(self) -> list[Condition]:
        """The alarms of this part that stand."""
        return [c for c in self.engine.shop.alarms.standing if c.part == self.part]

    @property
    @override
    def available(self) -> bool:
        return True

    @property
    @override
    def is_on(self) -> bool:
        return bool(self.conditions)

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any]:
        announcer = self.engine.announcer
        told = {
            "alarms": [condition.kind.value for condition in self.conditions],
            "messages": [announcer.text(c).title for c in self.conditions],
            "occurrences": [announcer.occurrences.of(c) for c in self.conditions],
        }
        return shown_data(self.engine.entry, told)


class CollectorProblem(ProblemSensor, CollectorEntity):
    """Whether anything in the whole system needs a person."""

    _attr_entity_category = None

    @property
    @override
    def conditions(self) -> list[Condition]:
        return list(self.engine.shop.alarms.standing)


class MachineProblem(ProblemSensor, MachineEntity):
    """Whether something about a machine needs a person."""


class GateProblem(ProblemSensor, GateEntity):
    """Whether something about a gate needs a person."""
