"""What can be read off: phases, when they end, hours, starts, cuts, time with air."""

from abc import abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, override

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.const import EntityCategory, UnitOfTime
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.helpers.typing import StateType

from .air.sensors import collector_sensors, duct_sensors, machine_sensors
from .engine import Engine, GatewrightConfigEntry
from .entity import CollectorEntity, GatewrightEntity, MachineEntity, add_entities
from .old_names.shown import shown_options, shown_state
from .onlooking.entities import would_sensors
from .record.sensors import machine_record, shop_record
from .shop.ledger import MachineTotals
from .shop.machines import MachinePhase, MachineRun
from .shop.plan import Machine
from .shop.words import Phase
from .upkeep.sensors import upkeep_sensors

PARALLEL_UPDATES = 0

ATTR_ENDS = "ends"

_SAME_INSTANT = timedelta(milliseconds=500)


@dataclass(frozen=True, kw_only=True)
class CollectorSensor(SensorEntityDescription):
    """A figure of the collector."""

    value: Callable[[Engine], StateType | datetime]
    ends: Callable[[Engine], datetime | None] | None = None


@dataclass(frozen=True, kw_only=True)
class MachineSensor(SensorEntityDescription):
    """A figure of a machine."""

    value: Callable[[Engine, MachineRun, MachineTotals], StateType | datetime]
    ends: Callable[[Engine, MachineRun], datetime | None] | None = None
    wanted: Callable[[Machine], bool] = lambda plan: plan.levels is not None


def _phase_ends(engine: Engine) -> datetime | None:
    sequence = engine.sequence
    if sequence.phase is Phase.RUN_ON:
        return engine.instant(sequence.phase_until)
    if sequence.phase is Phase.COASTING:
        return engine.instant(sequence.motor.coast_ends)
    return None


def _machine_phase_ends(engine: Engine, run: MachineRun) -> datetime | None:
    return engine.instant(run.until or run.request_until)


COLLECTOR_SENSORS = (
    CollectorSensor(
        key="phase",
        translation_key="collector_phase",
        device_class=SensorDeviceClass.ENUM,
        options=[phase.value for phase in Phase],
        value=lambda engine: engine.sequence.phase.value,
        ends=_phase_ends,
    ),
    CollectorSensor(
        key="phase_ends",
        translation_key="phase_ends",
        device_class=SensorDeviceClass.TIMESTAMP,
        entity_category=EntityCategory.DIAGNOSTIC,
        # The phase has it as an attribute, which the logbook does not tell. A state of
        # its own is told there every time: an instant has neither unit nor state class.
        entity_registry_enabled_default=False,
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
)

WALK_SENSORS = (
    CollectorSensor(
        key="last_system_check",
        translation_key="last_system_check",
        device_class=SensorDeviceClass.TIMESTAMP,
        entity_category=EntityCategory.DIAGNOSTIC,
        value=lambda engine: engine.walk.walked_at,
    ),
    CollectorSensor(
        key="system_check_findings",
        translation_key="system_check_findings",
        entity_category=EntityCategory.DIAGNOSTIC,
        state_class=SensorStateClass.MEASUREMENT,
        value=lambda engine: engine.walk.findings,
    ),
)

MACHINE_SENSORS = (
    MachineSensor(
        key="phase",
        translation_key="machine_phase",
        device_class=SensorDeviceClass.ENUM,
        options=[phase.value for phase in MachinePhase],
        value=lambda _, run, __: run.phase.value,
        ends=_machine_phase_ends,
        wanted=lambda _: True,
    ),
    MachineSensor(
        key="phase_ends",
        translation_key="phase_ends",
        device_class=SensorDeviceClass.TIMESTAMP,
        entity_category=EntityCategory.DIAGNOSTIC,
        entity_registry_enabled_default=False,
        value=lambda engine, run, _: _machine_phase_ends(engine, run),
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
    for description in (*COLLECTOR_SENSORS, *WALK_SENSORS):
        yield CollectorFigure(engine, description)
    yield from shop_record(engine)
    yield from collector_sensors(engine)
    yield from upkeep_sensors(engine)
    yield from would_sensors(engine)


def _machine(engine: Engine, machine_id: str) -> Iterator[GatewrightEntity]:
    plan = engine.layout.plans[machine_id]
    for description in MACHINE_SENSORS:
        if description.wanted(plan):
            yield MachineFigure(engine, machine_id, description)
    yield from machine_record(engine, plan)
    yield from machine_sensors(engine, machine_id)


class Figure(GatewrightEntity, SensorEntity):
    """A figure, and where it is a phase when that ends; an instant stands still.

    The core counts on another clock than the wall's. Turned from one into the other
    again, the same instant differs by microseconds, which would now and then be
    another second.
    """

    _unrecorded_attributes = frozenset({ATTR_ENDS})
    _shown: StateType | datetime = None
    _ends: datetime | None = None

    @property
    @override
    def native_value(self) -> StateType | datetime:
        value = shown_state(self.engine.entry, self.translation_key, self._value())
        if not isinstance(value, datetime) or not _same(value, self._shown):
            self._shown = value
        return self._shown

    @property
    @override
    def options(self) -> list[str] | None:
        return shown_options(self.engine.entry, self.translation_key, super().options)

    def _ending(self, ends: datetime | None) -> dict[str, Any]:
        """Return the attribute that says when a phase ends."""
        if ends is None or not _same(ends, self._ends):
            self._ends = ends
        return {ATTR_ENDS: self._ends}

    @abstractmethod
    def _value(self) -> StateType | datetime:
        """Return the figure as it is now."""


def _same(instant: datetime, shown: StateType | datetime) -> bool:
    return isinstance(shown, datetime) and abs(instant - shown) <= _SAME_INSTANT


class CollectorFigure(Figure, CollectorEntity):
    """A figure of the collector."""

    entity_description: CollectorSensor

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any] | None:
        if (ends := self.entity_description.ends) is None:
            return None
        return self._ending(ends(self.engine))

    @override
    def _value(self) -> StateType | datetime:
        return self.entity_description.value(self.engine)


class MachineFigure(Figure, MachineEntity):
    """A figure of a machine."""

    entity_description: MachineSensor

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any] | None:
        if (ends := self.entity_description.ends) is None:
            return None
        return self._ending(None if self.run is None else ends(self.engine, self.run))

    @override
    def _value(self) -> StateType | datetime:
        if (run := self.run) is None:
            return None
        totals = self.engine.shop.ledger.of(self.part)
        return self.entity_description.value(self.engine, run, totals)
