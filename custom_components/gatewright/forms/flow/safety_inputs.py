"""Safety inputs in the collector's form: detectors, bin, compressed air, filter."""

from homeassistant.components.binary_sensor import (
    DOMAIN as BINARY_SENSOR,
    BinarySensorDeviceClass,
)
from homeassistant.components.sensor import SensorDeviceClass
from homeassistant.const import ATTR_DEVICE_CLASS
from homeassistant.core import HomeAssistant, State, split_entity_id
from homeassistant.util.unit_conversion import PressureConverter

from ...const import (
    CONF_AIR_SUPPLY,
    CONF_AIR_SUPPLY_LOW,
    CONF_BIN_ANSWER,
    CONF_BIN_FULL,
    CONF_FILTER_LIMIT,
    CONF_FILTER_PRESSURE,
    CONF_FIRE_DETECTORS,
)
from ...core.config import WhenBinFull
from ..entity_picker import EntityPicker, has_class, is_main
from ..entity_usage import EntityRole, EntityUsage
from ..field import Answers
from ..form import Group
from ..kinds import ChoiceField, EntityField
from ..numbers import AIR_SUPPLY as SUPPLY_PRESSURE, FILTER_LOSS, QuantityField
from ..sensor_description import (
    INPUT_BOOLEAN,
    NUMBER_DOMAINS,
    UnusableSensor,
    name_of,
    unit_of,
)

# Common practice, no source.
_AIR_SUPPLY_LOW = 400_000.0
"""The pressure in Pa below which pneumatic gates may not move."""
_FILTER_LIMIT = 1000.0
"""The pressure difference in Pa from which a filter needs cleaning."""

_SIGNALS = (BINARY_SENSOR, INPUT_BOOLEAN)
_FIRE_DETECTOR_CLASSES = {
    BinarySensorDeviceClass.HEAT,
    BinarySensorDeviceClass.SAFETY,
    BinarySensorDeviceClass.SMOKE,
}
_FULL_CLASSES = {
    BinarySensorDeviceClass.OCCUPANCY,
    BinarySensorDeviceClass.OPENING,
    BinarySensorDeviceClass.PRESENCE,
    BinarySensorDeviceClass.PROBLEM,
}
_LOW_CLASSES = {BinarySensorDeviceClass.OPENING, BinarySensorDeviceClass.PROBLEM}


def _likely_pressure(hass: HomeAssistant, state: State, claims: EntityUsage) -> bool:
    """Leave out weather pressure sensors; any other pressure may be meant."""
    device_class = state.attributes.get(ATTR_DEVICE_CLASS)
    return device_class != SensorDeviceClass.ATMOSPHERIC_PRESSURE


def _likely_air_supply(hass: HomeAssistant, state: State, claims: EntityUsage) -> bool:
    if state.domain not in _SIGNALS:
        return _likely_pressure(hass, state, claims)
    return is_main(hass, state) and has_class(state, _LOW_CLASSES)


def _judge_pressure(hass: HomeAssistant, entity_id: str) -> UnusableSensor | None:
    unit = unit_of(hass, entity_id)
    if unit is None:
        return UnusableSensor("no_pressure_unit", name_of(hass, entity_id))
    if unit not in PressureConverter.VALID_UNITS:
        return UnusableSensor("not_pressure", f"{name_of(hass, entity_id)} ({unit})")
    return None


def _judge_air_supply(hass: HomeAssistant, entity_id: str) -> UnusableSensor | None:
    if split_entity_id(entity_id)[0] in _SIGNALS:
        return None
    return _judge_pressure(hass, entity_id)


_PRESSURE_FAULTS = ("no_pressure_unit", "not_pressure")

FIRE_SHUTDOWN = EntityPicker(
    role=EntityRole.WATCHED, domains=_SIGNALS, classes=_FIRE_DETECTOR_CLASSES
)
BIN_FULL = EntityPicker(
    role=EntityRole.WATCHED, domains=_SIGNALS, classes=_FULL_CLASSES
)
AIR_SUPPLY = EntityPicker(
    role=EntityRole.WATCHED,
    domains=(*_SIGNALS, *NUMBER_DOMAINS),
    judge=_judge_air_supply,
    faults=_PRESSURE_FAULTS,
    likely=_likely_air_supply,
)
FILTER_PRESSURE = EntityPicker(
    role=EntityRole.WATCHED,
    domains=NUMBER_DOMAINS,
    judge=_judge_pressure,
    faults=_PRESSURE_FAULTS,
    likely=_likely_pressure,
)

_LIMITS = (
    (CONF_AIR_SUPPLY, CONF_AIR_SUPPLY_LOW, "air_limit_without_pressure"),
    (CONF_FILTER_PRESSURE, CONF_FILTER_LIMIT, "filter_limit_without_pressure"),
)
"""Each limit with its sensor, and the error code without a reading."""


def _read_watch(answers: Answers) -> None:
    answers.read(
        CONF_FIRE_DETECTORS, CONF_BIN_FULL, CONF_AIR_SUPPLY, CONF_FILTER_PRESSURE
    )
    if CONF_BIN_FULL in answers.data:
        answers.read(CONF_BIN_ANSWER)
    elif answers.dump(CONF_BIN_ANSWER) != WhenBinFull.WARN and answers.touched(
        CONF_BIN_ANSWER
    ):
        answers.refuse(CONF_BIN_FULL, "answer_without_bin")
    for sensor, limit, code in _LIMITS:
        domains = {entity.partition(".")[0] for entity in answers.picked[sensor]}
        if domains & set(NUMBER_DOMAINS):
            answers.read(limit)
        elif answers.touched(limit):
            answers.refuse(limit, code)


WATCH = Group(
    "watch",
    EntityField(CONF_FIRE_DETECTORS, FIRE_SHUTDOWN, multiple=True),
    EntityField(CONF_BIN_FULL, BIN_FULL),
    ChoiceField(CONF_BIN_ANSWER, WhenBinFull, required=True, new=WhenBinFull.WARN),
    EntityField(CONF_AIR_SUPPLY, AIR_SUPPLY),
    QuantityField(
        CONF_AIR_SUPPLY_LOW,
        SUPPLY_PRESSURE,
        usual=_AIR_SUPPLY_LOW,
        placeholder=_AIR_SUPPLY_LOW,
    ),
    EntityField(CONF_FILTER_PRESSURE, FILTER_PRESSURE),
    QuantityField(
        CONF_FILTER_LIMIT, FILTER_LOSS, usual=_FILTER_LIMIT, placeholder=_FILTER_LIMIT
    ),
    read=_read_watch,
    errors=("answer_without_bin", *(code for _, _, code in _LIMITS)),
)
