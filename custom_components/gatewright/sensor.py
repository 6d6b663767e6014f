"""Sensors: phases and their ends, hours, starts, cuts, collected shares."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, override

from homeassistant.components.sensor import RestoreSensor, SensorEntity
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .core.control.enums import Phase
from .core.control.machine import MachinePhase
from .entity import GatewrightEntity, add_entities, unrecorded
from .features.airflow.entities import SENSORS as AIRFLOW_SENSORS
from .features.entities.descriptions import (
    DIAGNOSTIC,
    DISABLED,
    GROWING,
    HOURS,
    INSTANT,
    MEASURED,
    SensorDescription,
    Value,
    one_of,
    sensor,
)
from .features.entities.subjects import CollectorSubject, MachineSubject, Subject
from .features.maintenance.entities import SENSORS as MAINTENANCE_SENSORS
from .features.monitor_only.entities import SENSORS as MONITOR_ONLY_SENSORS
from .features.statistics.entities import SENSORS as STATISTICS_SENSORS
from .runtime.old_names.shown import shown_options, shown_state
from .runtime.system_context import GatewrightConfigEntry, system_of

PARALLEL_UPDATES = 0

ATTR_ENDS = "ends"

_SAME_INSTANT = timedelta(milliseconds=500)


def _phase_ends(collector: CollectorSubject) -> datetime | None:
    sequence = collector.sequence
    if sequence.phase is Phase.SHUTTING_OFF:
        return collector.instant(sequence.phase_until)
    if sequence.phase is Phase.SPINNING_DOWN:
        return collector.instant(sequence.motor.spin_down_ends)
    return None


def _machine_phase_ends(machine: MachineSubject) -> datetime | None:
    return machine.instant(machine.run.until or machine.run.request_until)


_PHASE: dict[str, Any] = {"unrecorded": frozenset({ATTR_ENDS})}
# The phase has it as an attribute, which the logbook doesn't list. A state of its own
# would appear there every time: an instant has neither unit nor state class.
_PHASE_ENDS: dict[str, Any] = {**INSTANT, **DIAGNOSTIC, **DISABLED}

SENSORS: tuple[SensorDescription[Any], ...] = (
    sensor(
        CollectorSubject,
        "phase",
        lambda c: c.sequence.phase.value,
        translation_key="collector_phase",
        attributes_fn=lambda c: {ATTR_ENDS: _phase_ends(c)},
        **_PHASE,
        **one_of(Phase),
    ),
    sensor(CollectorSubject, "phase_ends", _phase_ends, **_PHASE_ENDS),
    sensor(
        CollectorSubject,
        "on_time",
        lambda c: round(c.ledger.collector.on_time, 1),
        **HOURS,
        **DISABLED,
    ),
    sensor(
        CollectorSubject,
        "starts",
        lambda c: c.ledger.collector.starts,
        **GROWING,
        **DISABLED,
    ),
    sensor(
        CollectorSubject,
        "last_system_check",
        lambda c: c.system_check.ended_at,
        **INSTANT,
        **DIAGNOSTIC,
        **DISABLED,
    ),
    sensor(
        CollectorSubject,
        "system_check_findings",
        lambda c: c.system_check.open_count,
        **MEASURED,
        **DIAGNOSTIC,
        **DISABLED,
    ),
    sensor(
        MachineSubject,
        "phase",
        lambda m: m.run.phase.value,
        # A trigger that needs it enables it: see `entity_lookup`.
        translation_key="machine_phase",
        attributes_fn=lambda m: {ATTR_ENDS: _machine_phase_ends(m)},
        **_PHASE,
        **DISABLED,
        **one_of(MachinePhase),
    ),
    sensor(MachineSubject, "phase_ends", _machine_phase_ends, **_PHASE_ENDS),
    sensor(
        MachineSubject,
        "run_time",
        lambda m: round(m.totals.run_time, 1),
        **HOURS,
        **DISABLED,
    ),
    sensor(
        MachineSubject,
        "cuts",
        lambda m: m.totals.cuts,
        exists_fn=lambda m: m.plan.levels is not None,
        **GROWING,
        **DISABLED,
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
    await add_entities(system_of(entry), async_add_entities, SENSORS, _sensor)


def _sensor(subject: Subject, description: SensorDescription[Any]) -> GatewrightSensor:
    restored = description.restore_fn is not None
    return (RestoredSensor if restored else GatewrightSensor)(subject, description)


class GatewrightSensor(GatewrightEntity, SensorEntity):
    """A sensor; an instant never flickers, also among the attributes.

    The core counts on another clock than the wall's. Converted back and forth, the same
    instant differs by microseconds, which would now and then be another second.
    """

    _unrecorded_attributes = unrecorded(SENSORS)
    entity_description: SensorDescription[Any]

    def __init__(self, subject: Subject, description: SensorDescription[Any]) -> None:
        super().__init__(subject, description)
        self._instants: dict[str | None, datetime] = {}

    @property
    @override
    def native_value(self) -> Value:
        value = self.entity_description.value_fn(self.subject)
        shown: Value = self._steady(None, value)
        return shown_state(self.subject.entry, self.translation_key, shown)

    @property
    @override
    def options(self) -> list[str] | None:
        return shown_options(self.subject.entry, self.translation_key, super().options)

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any] | None:
        attributes = super().extra_state_attributes
        return attributes and {
            name: self._steady(name, attributes[name]) for name in attributes
        }

    def _steady(self, name: str | None, value: Any) -> Any:
        """Return a value, or the previously shown instant if it's the same one."""
        if not isinstance(value, datetime):
            return value
        shown = self._instants.get(name)
        if shown is None or abs(value - shown) > _SAME_INSTANT:
            self._instants[name] = shown = value
        return shown


class RestoredSensor(GatewrightSensor, RestoreSensor):
    """A total that continues from its state before a restart."""

    @override
    async def async_added_to_hass(self) -> None:
        """Continue from the restored state."""
        last = await self.async_get_last_sensor_data()
        restore = self.entity_description.restore_fn
        if (
            restore is not None
            and last is not None
            and isinstance(last.native_value, int | float | Decimal)
        ):
            restore(self.subject, float(last.native_value))
        await super().async_added_to_hass()
