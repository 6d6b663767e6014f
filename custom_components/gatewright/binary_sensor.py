"""Binary sensors: running, collecting, gate positions and problems."""

from typing import Any, override

from homeassistant.components.binary_sensor import (
    BinarySensorDeviceClass,
    BinarySensorEntity,
)
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .entity import GatewrightEntity, add_entities
from .features.airflow.entities import TOO_LOW
from .features.entities.descriptions import (
    DIAGNOSTIC,
    DISABLED,
    BinarySensorDescription,
    always,
)
from .features.entities.subjects import (
    CollectorSubject,
    GateSubject,
    MachineSubject,
    Subject,
)
from .features.monitor_only.entities import WOULD_RUN
from .runtime.system_context import GatewrightConfigEntry, system_of

PARALLEL_UPDATES = 0


def _alarms(subject: Subject) -> dict[str, Any]:
    announcer = subject.system.announcer
    alarms = subject.alarms
    return {
        "alarms": [alarm.kind.value for alarm in alarms],
        "messages": [announcer.text(alarm).title for alarm in alarms],
        "occurrences": [announcer.occurrences.of(alarm) for alarm in alarms],
    }


_PROBLEM: dict[str, Any] = {
    "key": "problem",
    "device_class": BinarySensorDeviceClass.PROBLEM,
    "available_fn": always,
    "value_fn": lambda subject: bool(subject.alarms),
    "attributes_fn": _alarms,
}

BINARY_SENSORS: tuple[BinarySensorDescription[Any], ...] = (
    BinarySensorDescription(
        key="turning",
        part=CollectorSubject,
        device_class=BinarySensorDeviceClass.RUNNING,
        available_fn=lambda c: c.actuator.reachable,
        value_fn=lambda c: c.sequence.motor.turning,
        **DISABLED,
    ),
    BinarySensorDescription(
        key="wanted",
        part=CollectorSubject,
        **DIAGNOSTIC,
        **DISABLED,
        value_fn=lambda c: c.sequence.collector_wanted,
    ),
    BinarySensorDescription(
        key="system_check",
        part=CollectorSubject,
        device_class=BinarySensorDeviceClass.RUNNING,
        **DIAGNOSTIC,
        **DISABLED,
        value_fn=lambda c: c.system_check.running,
    ),
    BinarySensorDescription(part=CollectorSubject, **_PROBLEM),
    WOULD_RUN,
    BinarySensorDescription(
        key="running",
        part=MachineSubject,
        device_class=BinarySensorDeviceClass.RUNNING,
        exists_fn=lambda m: m.plan.levels is not None,
        available_fn=lambda m: (
            m.available and m.run.sensor is not None and not m.run.sensor.missing
        ),
        value_fn=lambda m: m.run.senses_running,
    ),
    BinarySensorDescription(
        key="collecting",
        part=MachineSubject,
        available_fn=lambda m: m.available and m.has_feedback,
        value_fn=lambda m: m.is_collecting,
    ),
    BinarySensorDescription(
        key="connected",
        part=MachineSubject,
        device_class=BinarySensorDeviceClass.PLUG,
        **DIAGNOSTIC,
        **DISABLED,
        exists_fn=lambda m: m.plan.movable,
        available_fn=lambda m: m.available and m.run.connected is not None,
        value_fn=lambda m: m.run.connected,
    ),
    # The collector has the problems of all parts.
    BinarySensorDescription(part=MachineSubject, **_PROBLEM, **DIAGNOSTIC, **DISABLED),
    TOO_LOW,
    BinarySensorDescription(
        part=GateSubject,
        **DIAGNOSTIC,
        **DISABLED,
        # An opening that never moves can't fail.
        exists_fn=lambda gate: gate.actuator is not None,
        **_PROBLEM,
    ),
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the binary sensors of one system."""
    await add_entities(
        system_of(entry), async_add_entities, BINARY_SENSORS, GatewrightBinarySensor
    )


class GatewrightBinarySensor(GatewrightEntity, BinarySensorEntity):
    """A fact about a part."""

    entity_description: BinarySensorDescription[Any]

    @property
    @override
    def is_on(self) -> bool | None:
        return self.entity_description.value_fn(self.subject)
