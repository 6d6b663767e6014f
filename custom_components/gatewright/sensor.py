"""What can be read off: phases, when they end, hours, starts, cuts, time with air."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, override

from homeassistant.components.sensor import (
    RestoreSensor,
    SensorDeviceClass,
    SensorEntity,
    SensorStateClass,
)
from homeassistant.const import EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.helpers.typing import StateType

from .air.sensors import SENSORS as AIRFLOW_SENSORS
from .descriptions import HOURS, SensorDescription
from .engine import GatewrightConfigEntry
from .entity import GatewrightEntity, add_entities, unrecorded
from .onlooking.entities import SENSORS as MONITOR_ONLY_SENSORS
from .record.sensors import SENSORS as STATISTICS_SENSORS
from .shop.machines import MachinePhase
from .shop.words import Phase
from .subjects import CollectorSubject, MachineSubject, Subject
from .upkeep.sensors import SENSORS as MAINTENANCE_SENSORS

PARALLEL_UPDATES = 0

ATTR_ENDS = "ends"

_SAME_INSTANT = timedelta(milliseconds=500)


def _phase_ends(collector: CollectorSubject) -> datetime | None:
    sequence = collector.sequence
    if sequence.phase is Phase.RUN_ON:
        return collector.instant(sequence.phase_until)
    if sequence.phase is Phase.COASTING:
        return collector.instant(sequence.motor.coast_ends)
    return None


def _machine_phase_ends(machine: MachineSubject) -> datetime | None:
    return machine.instant(machine.run.until or machine.run.request_until)


_PHASE: dict[str, Any] = {
    "key": "phase",
    "device_class": SensorDeviceClass.ENUM,
    "unrecorded": frozenset({ATTR_ENDS}),
}
_PHASE_ENDS: dict[str, Any] = {
    "key": "phase_ends",
    "device_class": SensorDeviceClass.TIMESTAMP,
    "entity_category": EntityCategory.DIAGNOSTIC,
    # The phase has it as an attribute, which the logbook does not tell. A state of
    # its own is told there every time: an instant has neither unit nor state class.
    "entity_registry_enabled_default": False,
}
SENSORS: tuple[SensorDescription[Any], ...] = (
    SensorDescription(
        part=CollectorSubject,
        translation_key="collector_phase",
        options=[phase.value for phase in Phase],
        value_fn=lambda collector: collector.sequence.phase.value,
        attributes_fn=lambda collector: {ATTR_ENDS: _phase_ends(collector)},
        **_PHASE,
    ),
    SensorDescription(part=CollectorSubject, value_fn=_phase_ends, **_PHASE_ENDS),
    SensorDescription(
        key="on_time",
        part=CollectorSubject,
        value_fn=lambda collector: round(collector.ledger.collector.on_time, 1),
        **HOURS,
    ),
    SensorDescription(
        key="starts",
        part=CollectorSubject,
        state_class=SensorStateClass.TOTAL_INCREASING,
        value_fn=lambda collector: collector.ledger.collector.starts,
    ),
    SensorDescription(
        key="last_walk",
        part=CollectorSubject,
        device_class=SensorDeviceClass.TIMESTAMP,
        entity_category=EntityCategory.DIAGNOSTIC,
        value_fn=lambda collector: collector.system_check.walked_at,
    ),
    SensorDescription(
        key="walk_findings",
        part=CollectorSubject,
        entity_category=EntityCategory.DIAGNOSTIC,
        state_class=SensorStateClass.MEASUREMENT,
        value_fn=lambda collector: collector.system_check.findings,
    ),
    SensorDescription(
        part=MachineSubject,
        translation_key="machine_phase",
        options=[phase.value for phase in MachinePhase],
        value_fn=lambda machine: machine.run.phase.value,
        attributes_fn=lambda machine: {ATTR_ENDS: _machine_phase_ends(machine)},
        **_PHASE,
    ),
    SensorDescription(part=MachineSubject, value_fn=_machine_phase_ends, **_PHASE_ENDS),
    SensorDescription(
        key="run_time",
        part=MachineSubject,
        value_fn=lambda machine: round(machine.totals.run_time, 1),
        **HOURS,
    ),
    SensorDescription(
        key="cuts",
        part=MachineSubject,
        exists_fn=lambda machine: machine.plan.levels is not None,
        state_class=SensorStateClass.TOTAL_INCREASING,
        value_fn=lambda machine: machine.totals.cuts,
    ),
    *STATISTICS_SENSORS,
    *AIRFLOW_SENSORS,
    *MAINTENANCE_SENSORS,
    *MONITOR_ONLY_SENSORS,
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the sensors of one system."""
    add_entities(entry.runtime_data, async_add_entities, SENSORS, _sensor)


def _sensor(
    subject: Subject, description: SensorDescription[Any]
) -> GatewrightSensor | RestoredSensor:
    kind = GatewrightSensor if description.restore_fn is None else RestoredSensor
    return kind(subject, description)


class GatewrightSensor(GatewrightEntity, SensorEntity):
    """A figure; an instant stands still, also among the attributes.

    The core counts on another clock than the wall's. Turned from one into the other
    again, the same instant differs by microseconds, which would now and then be
    another second.
    """

    _unrecorded_attributes = unrecorded(SENSORS)
    entity_description: SensorDescription[Any]

    def __init__(self, subject: Subject, description: SensorDescription[Any]) -> None:
        """Show what a description says of a part."""
        super().__init__(subject, description)
        self._instants: dict[str | None, datetime] = {}

    @property
    @override
    def native_value(self) -> StateType | date | datetime:
        value: StateType | date | datetime = self._steady(
            None, self.entity_description.value_fn(self.subject)
        )
        return value

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any] | None:
        told = super().extra_state_attributes
        return told and {name: self._steady(name, told[name]) for name in told}

    def _steady(self, name: str | None, value: Any) -> Any:
        """Return a value, or the instant that was shown if it is the same one."""
        if not isinstance(value, datetime):
            return value
        shown = self._instants.get(name)
        if shown is None or abs(value - shown) > _SAME_INSTANT:
            self._instants[name] = shown = value
        return shown


class RestoredSensor(GatewrightSensor, RestoreSensor):
    """A total that goes on from what was shown before a restart."""

    @override
    async def async_added_to_hass(self) -> None:
        """Go on from what was there."""
        last = await self.async_get_last_sensor_data()
        restore = self.entity_description.restore_fn
        if (
            restore is not None
            and last is not None
            and isinstance(last.native_value, int | float | Decimal)
        ):
            restore(self.subject, float(last.native_value))
        await super().async_added_to_hass()
