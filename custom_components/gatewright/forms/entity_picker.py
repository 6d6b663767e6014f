"""Which entities a picker offers, and whether a picked one can be used."""

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from typing import Any

from homeassistant.components.binary_sensor import (
    DOMAIN as BINARY_SENSOR,
    BinarySensorDeviceClass,
)
from homeassistant.components.cover import DOMAIN as COVER, CoverEntityFeature
from homeassistant.components.fan import DOMAIN as FAN, FanEntityFeature
from homeassistant.components.light import DOMAIN as LIGHT
from homeassistant.components.sensor import DOMAIN as SENSOR, SensorDeviceClass
from homeassistant.components.switch import DOMAIN as SWITCH
from homeassistant.components.vacuum import DOMAIN as VACUUM
from homeassistant.components.valve import DOMAIN as VALVE, ValveEntityFeature
from homeassistant.const import ATTR_DEVICE_CLASS, ATTR_SUPPORTED_FEATURES
from homeassistant.core import HomeAssistant, State, split_entity_id, valid_entity_id
from homeassistant.helpers import device_registry as dr, entity_registry as er

from ..const import DOMAIN, UNIT_WATT
from ..runtime.entity_references import to_entity_id
from .entity_usage import EntityRole, EntityUsage, conflicts_of
from .field import Answers, Values
from .sensor_description import (
    INPUT_BOOLEAN,
    INPUT_SELECT,
    NUMBER_DOMAINS,
    SENSOR_DOMAINS,
    SensorReading,
    UnusableSensor,
    describe,
    is_silent,
    level_unit,
    name_of,
    unit_of,
)

type Judge = Callable[[HomeAssistant, str], UnusableSensor | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class EntityPicker:
    """The purpose of a picker.

    `judge` returns why an entity can't be used, as one of the codes `faults`. The offer
    is narrower than what is accepted: `likely` entities, or else each device's main
    entity, and binary sensors of the device `classes`.
    """

    role: EntityRole
    domains: tuple[str, ...]
    judge: Judge | None = None
    faults: tuple[str, ...] = ()
    classes: Collection[str] = ()
    likely: Callable[[HomeAssistant, State, EntityUsage], bool] | None = None
    not_the_collectors: bool = False

    @property
    def errors(self) -> set[str]:
        """Return the error codes of a picked entity."""
        found = {"own_entity", "not_usable", "entity_missing", *self.faults}
        if self.not_the_collectors:
            found.add("collector_reading")
        return found | conflicts_of(self.role)

    def is_offered(
        self, hass: HomeAssistant, state: State, claims: EntityUsage
    ) -> bool:
        """Return whether an entity isn't clearly meant for something else."""
        if self.likely:
            return self.likely(hass, state, claims)
        return is_main(hass, state) and (
            not self.classes
            or state.domain != BINARY_SENSOR
            or has_class(state, self.classes)
        )


def find_fault(
    hass: HomeAssistant,
    pick: EntityPicker,
    claims: EntityUsage,
    entity_id: str,
    kept: Collection[str] = (),
) -> UnusableSensor | None:
    """Return what is wrong with a picked entity.

    An entity `kept` from before may be unavailable or missing.
    """
    entry = er.async_get(hass).async_get(entity_id)
    name = name_of(hass, entity_id)
    if entry and entry.platform == DOMAIN:
        return UnusableSensor("own_entity", name)
    if split_entity_id(entity_id)[0] not in pick.domains:
        return UnusableSensor("not_usable", name)
    if entity_id not in kept and hass.states.get(entity_id) is None:
        return UnusableSensor("entity_missing", name)
    if (
        pick.judge
        and not (entity_id in kept and is_silent(hass, entity_id))
        and (refused := pick.judge(hass, entity_id))
    ):
        return refused
    if conflict := claims.conflict(entity_id, pick.role):
        return conflict
    if (
        pick.not_the_collectors
        and claims.collector
        and _meters(hass, entity_id, claims.collector)
    ):
        return UnusableSensor("collector_reading", name)
    return None


def offer(
    hass: HomeAssistant,
    pick: EntityPicker,
    claims: EntityUsage,
    kept: Iterable[str] = (),
) -> list[str]:
    """Return the entities that a picker offers, including those picked before."""
    offered = {
        state.entity_id
        for state in hass.states.async_all(pick.domains)
        if find_fault(hass, pick, claims, state.entity_id) is None
        and pick.is_offered(hass, state, claims)
    }
    return sorted(offered.union(kept))


def chosen_in(values: Values, key: str) -> list[str]:
    """Return what is chosen in a field for one entity or several."""
    chosen = values.get(key) or []
    return [chosen] if isinstance(chosen, str) else chosen


def take(
    answers: Answers, pick: EntityPicker, key: str, chosen: Any = None
) -> list[str]:
    """Check the entities picked in a field; return them by their present ids.

    `chosen` is one of several in the field. Valid entities are added to the usage.
    """
    context = answers.context
    kept = chosen_in(context.shown, key)
    taken: list[str] = []
    for reference in [chosen] if chosen else chosen_in(answers.typed, key):
        entity_id = to_entity_id(context.hass, reference) or reference
        if entity_id in taken:
            continue
        taken.append(entity_id)
        if not valid_entity_id(entity_id):
            answers.refuse(key, "entity_missing", entity_id)
        elif refused := find_fault(context.hass, pick, context.claims, entity_id, kept):
            answers.refuse(key, refused.code, refused.detail)
        else:
            context.claims.add(entity_id, pick.role)
    return taken


def _device_of(hass: HomeAssistant, entity_id: str) -> str | None:
    entry = er.async_get(hass).async_get(entity_id)
    return entry.device_id if entry else None


def _is_of_service(hass: HomeAssistant, entity_id: str) -> bool:
    """Return whether an entity belongs to a service, such as backups."""
    device_id = _device_of(hass, entity_id)
    device = dr.async_get(hass).async_get(device_id) if device_id else None
    return (
        isinstance(device, dr.DeviceEntry)
        and device.entry_type is dr.DeviceEntryType.SERVICE
    )


def _siblings(hass: HomeAssistant, entity_id: str) -> list[er.RegistryEntry]:
    """Return the entities of an entity's device."""
    device = _device_of(hass, entity_id)
    if device is None:
        return []
    return er.async_entries_for_device(er.async_get(hass), device)


def _has_one_switch(hass: HomeAssistant, entity_id: str) -> bool:
    """Return whether a device has only one outlet, which its meter then measures."""
    switches = [
        entry
        for entry in _siblings(hass, entity_id)
        if entry.domain in (SWITCH, FAN, LIGHT) and entry.entity_category is None
    ]
    return len(switches) == 1


def _meters(hass: HomeAssistant, entity_id: str, switch: str) -> bool:
    """Return whether an entity is the meter of the plug that a switch belongs to."""
    device = _device_of(hass, entity_id)
    return (
        device is not None
        and device == _device_of(hass, switch)
        and _has_one_switch(hass, switch)
    )


def is_main(hass: HomeAssistant, state: State) -> bool:
    """Return whether an entity is its device's main purpose, not a setting."""
    entry = er.async_get(hass).async_get(state.entity_id)
    return entry is None or entry.entity_category is None


def has_class(state: State, classes: Collection[str]) -> bool:
    """Return whether a binary sensor has one of these device classes, or none."""
    device_class = state.attributes.get(ATTR_DEVICE_CLASS)
    return device_class is None or device_class in classes


_RUNNING_CLASSES = {
    BinarySensorDeviceClass.LIGHT,
    BinarySensorDeviceClass.MOVING,
    BinarySensorDeviceClass.OPENING,
    BinarySensorDeviceClass.PLUG,
    BinarySensorDeviceClass.POWER,
    BinarySensorDeviceClass.RUNNING,
    BinarySensorDeviceClass.SOUND,
    BinarySensorDeviceClass.VIBRATION,
}
_LIKELY_SIGNALS = (BINARY_SENSOR, SENSOR, SWITCH, INPUT_BOOLEAN, INPUT_SELECT, VACUUM)
_POSITION_CLASSES = {
    BinarySensorDeviceClass.DOOR,
    BinarySensorDeviceClass.GARAGE_DOOR,
    BinarySensorDeviceClass.OCCUPANCY,
    BinarySensorDeviceClass.OPENING,
    BinarySensorDeviceClass.PLUG,
    BinarySensorDeviceClass.PRESENCE,
    BinarySensorDeviceClass.WINDOW,
}
_CONNECTED_CLASSES = {
    *_POSITION_CLASSES,
    BinarySensorDeviceClass.CONNECTIVITY,
    BinarySensorDeviceClass.POWER,
}
_EARLY_SIGNAL_CLASSES = {
    BinarySensorDeviceClass.LIGHT,
    BinarySensorDeviceClass.MOTION,
    BinarySensorDeviceClass.OCCUPANCY,
    BinarySensorDeviceClass.PLUG,
    BinarySensorDeviceClass.POWER,
    BinarySensorDeviceClass.PRESENCE,
}


def _likely_gate(hass: HomeAssistant, state: State, claims: EntityUsage) -> bool:
    """Leave out the relay of a plug whose meter shows whether a machine runs."""
    if not is_main(hass, state):
        return False
    measured = any(
        claims.reads(entry.entity_id) for entry in _siblings(hass, state.entity_id)
    )
    return not (measured and _has_one_switch(hass, state.entity_id))


def likely_any(hass: HomeAssistant, state: State, claims: EntityUsage) -> bool:
    """Accept any: readings are often marked diagnostic, so that shows nothing."""
    return True


def _likely_sensor(hass: HomeAssistant, state: State, claims: EntityUsage) -> bool:
    if isinstance(describe(hass, state.entity_id), SensorReading):
        return True
    if (
        not is_main(hass, state)
        or _is_of_service(hass, state.entity_id)
        or state.domain not in _LIKELY_SIGNALS
    ):
        return False
    if state.domain == BINARY_SENSOR:
        return has_class(state, _RUNNING_CLASSES)
    if state.domain == SENSOR:
        # A text sensor without options may be anything: a name, a version.
        return state.attributes.get(ATTR_DEVICE_CLASS) == SensorDeviceClass.ENUM
    # A metering plug's relay stays on; its meter is meant.
    return not any(
        level_unit(unit_of(hass, entry.entity_id))
        for entry in _siblings(hass, state.entity_id)
    )


def _lacks(
    hass: HomeAssistant, entity_id: str, needed: dict[str, int], code: str
) -> UnusableSensor | None:
    features = needed.get(split_entity_id(entity_id)[0], 0)
    state = hass.states.get(entity_id)
    has = state.attributes.get(ATTR_SUPPORTED_FEATURES, 0) if state else 0
    return (
        None
        if has & features == features
        else UnusableSensor(code, name_of(hass, entity_id))
    )


def _judge_switch(hass: HomeAssistant, entity_id: str) -> UnusableSensor | None:
    on_off = FanEntityFeature.TURN_ON | FanEntityFeature.TURN_OFF
    return _lacks(hass, entity_id, {FAN: on_off}, "no_on_off")


def _judge_actuator(hass: HomeAssistant, entity_id: str) -> UnusableSensor | None:
    needed: dict[str, int] = {
        COVER: CoverEntityFeature.OPEN | CoverEntityFeature.CLOSE,
        VALVE: ValveEntityFeature.OPEN | ValveEntityFeature.CLOSE,
    }
    return _lacks(hass, entity_id, needed, "no_open_shut")


def _judge_power(hass: HomeAssistant, entity_id: str) -> UnusableSensor | None:
    unit = unit_of(hass, entity_id)
    if unit is None:
        return UnusableSensor("no_unit", name_of(hass, entity_id))
    if level_unit(unit) != UNIT_WATT:
        return UnusableSensor("not_power", f"{name_of(hass, entity_id)} ({unit})")
    return None


def _judge_sensor(hass: HomeAssistant, entity_id: str) -> UnusableSensor | None:
    described = describe(hass, entity_id)
    return described if isinstance(described, UnusableSensor) else None


def meter_of(hass: HomeAssistant, switch: str) -> str | None:
    """Return the power sensor of a switch's plug, if it has exactly one."""
    meters = [
        entry.entity_id
        for entry in _siblings(hass, switch)
        if entry.domain == SENSOR
        and _meters(hass, entry.entity_id, switch)
        and _judge_power(hass, entry.entity_id) is None
    ]
    return meters[0] if len(meters) == 1 else None


COLLECTOR_SWITCH = EntityPicker(
    role=EntityRole.ACTUATOR,
    domains=(SWITCH, FAN, INPUT_BOOLEAN),
    judge=_judge_switch,
    faults=("no_on_off",),
)
COLLECTOR_POWER = EntityPicker(
    role=EntityRole.READING,
    domains=NUMBER_DOMAINS,
    judge=_judge_power,
    faults=("no_unit", "not_power"),
    likely=likely_any,
)
MACHINE_SENSOR = EntityPicker(
    role=EntityRole.READING,
    domains=SENSOR_DOMAINS,
    judge=_judge_sensor,
    faults=("no_unit", "wrong_unit"),
    likely=_likely_sensor,
    not_the_collectors=True,
)
GATE_ACTUATOR = EntityPicker(
    role=EntityRole.ACTUATOR,
    domains=(COVER, VALVE, SWITCH, INPUT_BOOLEAN),
    judge=_judge_actuator,
    faults=("no_open_shut",),
    likely=_likely_gate,
)
GATE_POSITION = EntityPicker(
    role=EntityRole.READING, domains=(BINARY_SENSOR,), classes=_POSITION_CLASSES
)
CONNECTED = EntityPicker(
    role=EntityRole.CONNECTED,
    domains=(BINARY_SENSOR, INPUT_BOOLEAN, SWITCH),
    classes=_CONNECTED_CLASSES,
)
EARLY_SIGNAL = EntityPicker(
    role=EntityRole.EARLY_SIGNAL,
    domains=(BINARY_SENSOR, INPUT_BOOLEAN, LIGHT, SWITCH),
    classes=_EARLY_SIGNAL_CLASSES,
)
RELAY = EntityPicker(
    role=EntityRole.EARLY_SIGNAL,
    domains=(SWITCH, INPUT_BOOLEAN),
)
LINKED_DEVICE = EntityPicker(
    role=EntityRole.LINKED_DEVICE,
    domains=(SWITCH, FAN, LIGHT, INPUT_BOOLEAN),
    judge=_judge_switch,
    faults=("no_on_off",),
)
