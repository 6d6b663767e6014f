"""What an entity reports about a machine: a reading, a signal, or nothing usable."""

from dataclasses import dataclass

from homeassistant.components.binary_sensor import DOMAIN as BINARY_SENSOR
from homeassistant.components.fan import DOMAIN as FAN
from homeassistant.components.light import DOMAIN as LIGHT
from homeassistant.components.number import DOMAIN as NUMBER
from homeassistant.components.select import DOMAIN as SELECT
from homeassistant.components.sensor import (
    ATTR_OPTIONS,
    DOMAIN as SENSOR,
    SensorDeviceClass,
)
from homeassistant.components.switch import DOMAIN as SWITCH
from homeassistant.components.vacuum import DOMAIN as VACUUM, VacuumActivity
from homeassistant.const import (
    ATTR_DEVICE_CLASS,
    ATTR_UNIT_OF_MEASUREMENT,
    STATE_OFF,
    STATE_ON,
    STATE_UNAVAILABLE,
    STATE_UNKNOWN,
)
from homeassistant.core import HomeAssistant, State
from homeassistant.helpers import entity_registry as er
from homeassistant.util.unit_conversion import ElectricCurrentConverter, PowerConverter

from ..const import UNIT_AMPERE, UNIT_WATT

INPUT_BOOLEAN = "input_boolean"
INPUT_NUMBER = "input_number"
INPUT_SELECT = "input_select"

NUMBER_DOMAINS = (SENSOR, NUMBER, INPUT_NUMBER)
"""Domains whose entities may have a reading."""

_ON_OFF = (STATE_ON, STATE_OFF)
_SIGNALS = {
    BINARY_SENSOR: _ON_OFF,
    FAN: _ON_OFF,
    INPUT_BOOLEAN: _ON_OFF,
    LIGHT: _ON_OFF,
    SWITCH: _ON_OFF,
    VACUUM: tuple(VacuumActivity),
    SELECT: (),
    INPUT_SELECT: (),
}
SENSOR_DOMAINS = (*NUMBER_DOMAINS, *_SIGNALS)
"""Domains whose entities may show whether a machine runs."""


@dataclass(frozen=True, slots=True)
class SensorReading:
    """A number; `unit` is that of its levels: W for power, A for current."""

    unit: str


@dataclass(frozen=True, slots=True)
class Signal:
    """States as words: the `known` ones, and those that usually mean running."""

    running: tuple[str, ...] = ()
    known: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class UnusableSensor:
    """Why an entity can't be used: the error code and its detail."""

    code: str
    detail: str


def name_of(hass: HomeAssistant, entity_id: str) -> str:
    """Return an entity's displayed name."""
    if state := hass.states.get(entity_id):
        return state.name
    entry = er.async_get(hass).async_get(entity_id)
    return (entry and (entry.name or entry.original_name)) or entity_id


def is_silent(hass: HomeAssistant, entity_id: str) -> bool:
    """Return whether an entity reports nothing usable at present."""
    state = hass.states.get(entity_id)
    return state is None or state.state == STATE_UNAVAILABLE


def unit_of(hass: HomeAssistant, entity_id: str) -> str | None:
    """Return an entity's unit."""
    state = hass.states.get(entity_id)
    if state and (unit := state.attributes.get(ATTR_UNIT_OF_MEASUREMENT)):
        return str(unit)
    entry = er.async_get(hass).async_get(entity_id)
    return entry.unit_of_measurement if entry else None


def level_unit(unit: str | None) -> str | None:
    """Return the unit of the levels for a reading in `unit`; None if unusable."""
    if unit in PowerConverter.VALID_UNITS:
        return UNIT_WATT
    if unit in ElectricCurrentConverter.VALID_UNITS:
        return UNIT_AMPERE
    return None


def describe(
    hass: HomeAssistant, entity_id: str
) -> SensorReading | Signal | UnusableSensor:
    """Return what an entity reports about a machine."""
    state = hass.states.get(entity_id)
    if state is None:
        return UnusableSensor("entity_missing", entity_id)
    if state.domain not in SENSOR_DOMAINS:
        return UnusableSensor("not_usable", state.name)
    if state.domain not in NUMBER_DOMAINS:
        return _signal(state)
    unit = unit_of(hass, entity_id)
    if level := level_unit(unit):
        return SensorReading(level)
    if unit is not None:
        return UnusableSensor("wrong_unit", f"{state.name} ({unit})")
    if state.domain != SENSOR or _is_number(state):
        return UnusableSensor("no_unit", state.name)
    return _signal(state)


def _is_number(state: State) -> bool:
    """Return whether a sensor without a unit has numbers anyway."""
    if state.attributes.get(ATTR_DEVICE_CLASS) not in (None, SensorDeviceClass.ENUM):
        return True
    try:
        float(state.state)
    except ValueError:
        return False
    return True


def _signal(state: State) -> Signal:
    known = list(_SIGNALS.get(state.domain, ()))
    running = (STATE_ON,) if STATE_ON in known else ()
    if state.domain == VACUUM:
        running = (VacuumActivity.CLEANING,)
    known += state.attributes.get(ATTR_OPTIONS, [])
    if state.state not in (STATE_UNAVAILABLE, STATE_UNKNOWN, *known):
        known.append(state.state)
    return Signal(running, tuple(known))
