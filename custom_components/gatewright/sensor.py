"""What can be read off: phases, when they end, hours, starts, cuts, coverage."""

from abc import abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import override

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.const import PERCENTAGE, EntityCategory, UnitOfTime
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.helpers.typing import StateType

from .air.sensors import collector_sensors, duct_sensors, machine_sensors
from .engine import Engine, GatewrightConfigEntry
from .entity import CollectorEntity, GatewrightEntity, MachineEntity, add_entities
from .shop.ledger import MachineTotals
from .shop.machines import MachinePhase, MachineRun
from .shop.plan import Machine
from .shop.words import Phase

PARALLEL_UPDATES = 0

_SAME_INSTANT = timedelta(milliseconds=500)


@dataclass(frozen=True, kw_only=True)
class CollectorSensor(SensorEntityDescription):
    """A figure of the collector."""

    value: Callable[[Engine], StateType | datetime]


@dataclass(frozen=True, kw_only=True)
class MachineSensor(SensorEntityDescription):
    """A figure of a machine."""

    value: Callable[[Engine, MachineRun, MachineTotals], StateType | datetime]
    wanted: Callable[[Machine], bool] = lambda plan: plan.levels is not None


def _phase_ends(engine: Engine) -> datetime | None:
    sequence = engine.sequence
    if sequence.phase is Phase.RUN_ON:
        return engine.instant(sequence.phase_until)
    if sequence.phase is Phase.COASTING:
        return engine.instant(sequence.motor.coast_ends)
    return None


def _shop_coverage(engine: Engine) -> float | None:
    """Return the share of all running time that had air, in percent."""
    machines = engine.sequence.machines
    totals = [
        engine.shop.ledger.of(machine_id)
        for machine_id, run in machines.items()
        if run.sensor is not None and run.plan.needs_air
    ]
    return _percent(
        MachineTotals(
            run_time=sum(total.run_time for total in totals),
            air_time=sum(total.air_time for total in totals),
        )
    )


def _percent(totals: MachineTotals) -> float | None:
    coverage = totals.coverage
    return None if coverage is None else round(100 * coverage, 1)


COLLECTOR_SENSORS = (
    CollectorSensor(
        key="phase",
        translation_key="collector_phase",
        device_class=SensorDeviceClass.ENUM,
        options=[phase.value for phase in Phase],
        value=lambda engine: engine.sequence.phase.value,
    ),
    CollectorSensor(
        key="phase_ends",
        translation_key="phase_ends",
        device_class=SensorDeviceClass.TIMESTAMP,
        entity_category=EntityCategory.DIAGNOSTIC,
        value=_phase_ends,
    ),
    CollectorSensor(
        key="on_time",
        translation_key="on_time",
        device_class=SensorDeviceClass.DURATION,
        state_class=SensorStateClass.TOTAL_INCREASING,
        native_unit_of_measurement=UnitOfTime.SECONDS,
        suggested_unit_of_measurement=UnitOfTime.HOURS,
        suggested_display_precision=2,
        value=lambda engine: round(engine.shop.ledger.collector.on_time, 1),
    ),
    CollectorSensor(
        key="starts",
        translation_key="starts",
        state_class=SensorStateClass.TOTAL_INCREASING,
        value=lambda engine: engine.shop.ledger.collector.starts,
    ),
    CollectorSensor(
        key="coverage",
        translation_key="coverage",
        state_class=SensorStateClass.MEASUREMENT,
        native_unit_of_measurement=PERCENTAGE,
        value=_shop_coverage,
    ),
)

MACHINE_SENSORS = (
    MachineSensor(
        key="phase",
        translation_key="machine_phase",
        device_class=SensorDeviceClass.ENUM,
        options=[phase.value for phase in MachinePhase],
        value=lambda _, run, __: run.phase.value,
        wanted=lambda _: True,
    ),
    MachineSensor(
        key="phase_ends",
        translation_key="phase_ends",
        device_class=SensorDeviceClass.TIMESTAMP,
        entity_category=EntityCategory.DIAGNOSTIC,
        entity_registry_enabled_default=False,
        value=lambda engine, run, _: engine.instant(run.until or run.request_until),
        wanted=lambda _: True,
    ),
    MachineSensor(
        key="run_time",
        translation_key="run_time",
        device_class=SensorDeviceClass.DURATION,
        state_class=SensorStateClass.TOTAL_INCREASING,
        native_unit_of_measurement=UnitOfTime.SECONDS,
        suggested_unit_of_measurement=UnitOfTime.HOURS,
        suggested_display_precision=2,
        value=lambda _, __, totals: round(totals.run_time, 1),
        wanted=lambda _: True,
    ),
    MachineSensor(
        key="cuts",
        translation_key="cuts",
        state_class=SensorStateClass.TOTAL_INCREASING,
        value=lambda _, __, totals: totals.cuts,
    ),
    MachineSensor(
        key="coverage",
        translation_key="coverage",
        state_class=SensorStateClass.MEASUREMENT,
        native_unit_of_measurement=PERCENTAGE,
        value=lambda _, __, totals: _percent(totals),
        wanted=lambda plan: plan.levels is not None and plan.needs_air,
    ),
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the sensors of one system."""
    add_entities(
        entry.runtime_data,
        async_add_entities,
        collector=_collector,
        machine=_machine,
        duct=duct_sensors,
    )


def _collector(engine: Engine) -> Iterator[GatewrightEntity]:
    for description in COLLECTOR_SENSORS:
        yield CollectorFigure(engine, description)
    yield from collector_sensors(engine)


def _machine(engine: Engine, machine_id: str) -> Iterator[GatewrightEntity]:
    plan = engine.layout.plans[machine_id]
    for description in MACHINE_SENSORS:
        if description.wanted(plan):
            yield MachineFigure(engine, machine_id, description)
    yield from machine_sensors(engine, machine_id)


class Figure(SensorEntity):
    """A figure; an instant stands still.

    The core counts on another clock than the wall's. Turned from one into the other
    again, the same instant differs by microseconds, which would now and then be
    another second.
    """

    _shown: StateType | datetime = None

    @property
    @override
    def native_value(self) -> StateType | datetime:
        value = self._value()
        if (
            not isinstance(value, datetime)
            or not isinstance(self._shown, datetime)
            or abs(value - self._shown) > _SAME_INSTANT
        ):
            self._shown = value
        return self._shown

    @abstractmethod
    def _value(self) -> StateType | datetime:
        """Return the figure as it is now."""


class CollectorFigure(Figure, CollectorEntity):
    """A figure of the collector."""

    entity_description: CollectorSensor

    def __init__(self, engine: Engine, description: CollectorSensor) -> None:
        """Show what the description says."""
        super().__init__(engine, description.key)
        self.entity_description = description

    @override
    def _value(self) -> StateType | datetime:
        return self.entity_description.value(self.engine)


class MachineFigure(Figure, MachineEntity):
    """A figure of a machine."""

    entity_description: MachineSensor

    def __init__(
        self, engine: Engine, machine_id: str, description: MachineSensor
    ) -> None:
        """Show what the description says."""
        super().__init__(engine, machine_id, description.key)
        self.entity_description = description

    @override
    def _value(self) -> StateType | datetime:
        if (run := self.run) is None:
            return None
        totals = self.engine.shop.ledger.of(self.part)
        return self.entity_description.value(self.engine, run, totals)
