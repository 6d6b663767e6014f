"""What watches over the collector, in its form: detectors, bin, compressed air, filter."""

from collections.abc import Mapping
from typing import Any

from homeassistant.components.binary_sensor import (
    DOMAIN as BINARY_SENSOR,
    BinarySensorDeviceClass,
)
from homeassistant.components.sensor import SensorDeviceClass
from homeassistant.const import ATTR_DEVICE_CLASS
from homeassistant.core import HomeAssistant, State, split_entity_id
from homeassistant.util.unit_conversion import PressureConverter
import voluptuous as vol

from ..const import (
    CONF_AIR_SUPPLY,
    CONF_AIR_SUPPLY_LOW,
    CONF_BIN_ANSWER,
    CONF_BIN_FULL,
    CONF_EMERGENCY,
    CONF_FILTER_LIMIT,
    CONF_FILTER_PRESSURE,
)
from ..entities import to_entity_id, to_stored
from ..shop.plan import BinAnswer
from .claims import Claims, Role
from .fields import Fields, choice_field, chosen_in, touched
from .mistakes import Mistakes
from .picks import Pick, has_class, is_main, pick_field, take
from .quantities import quantity_field, quantity_of, shown, usual_text
from .readings import INPUT_BOOLEAN, NUMBER_DOMAINS, Refused, name_of, unit_of

# Common practice, no source.
_AIR_SUPPLY_LOW = 400_000.0
"""The pressure in Pa below which gates that are moved by air may not move."""
_FILTER_LIMIT = 1000.0
"""The pressure difference in Pa from which a filter wants cleaning."""

_USUAL = {CONF_AIR_SUPPLY_LOW: _AIR_SUPPLY_LOW, CONF_FILTER_LIMIT: _FILTER_LIMIT}

_SIGNALS = (BINARY_SENSOR, INPUT_BOOLEAN)
_EMERGENCY_CLASSES = {
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


def _likely_detector(hass: HomeAssistant, state: State, claims: Claims) -> bool:
    return is_main(hass, state) and has_class(state, _EMERGENCY_CLASSES)


def _likely_full(hass: HomeAssistant, state: State, claims: Claims) -> bool:
    return is_main(hass, state) and has_class(state, _FULL_CLASSES)


def _likely_pressure(hass: HomeAssistant, state: State, claims: Claims) -> bool:
    """Leave out the pressure of the weather; the others may be any pressure."""
    device_class = state.attributes.get(ATTR_DEVICE_CLASS)
    return device_class != SensorDeviceClass.ATMOSPHERIC_PRESSURE


def _likely_air_supply(hass: HomeAssistant, state: State, claims: Claims) -> bool:
    if state.domain not in _SIGNALS:
        return _likely_pressure(hass, state, claims)
    return is_main(hass, state) and has_class(state, _LOW_CLASSES)


def _judge_pressure(hass: HomeAssistant, entity_id: str) -> Refused | None:
    unit = unit_of(hass, entity_id)
    if unit is None:
        return Refused("no_pressure_unit", name_of(hass, entity_id))
    if unit not in PressureConverter.VALID_UNITS:
        return Refused("not_pressure", f"{name_of(hass, entity_id)} ({unit})")
    return None


def _judge_air_supply(hass: HomeAssistant, entity_id: str) -> Refused | None:
    if split_entity_id(entity_id)[0] in _SIGNALS:
        return None
    return _judge_pressure(hass, entity_id)


EMERGENCY = Pick(role=Role.WATCHED, domains=_SIGNALS, likely=_likely_detector)
BIN_FULL = Pick(role=Role.WATCHED, domains=_SIGNALS, likely=_likely_full)
AIR_SUPPLY = Pick(
    role=Role.WATCHED,
    domains=(*_SIGNALS, *NUMBER_DOMAINS),
    judge=_judge_air_supply,
    likely=_likely_air_supply,
)
FILTER_PRESSURE = Pick(
    role=Role.WATCHED,
    domains=NUMBER_DOMAINS,
    judge=_judge_pressure,
    likely=_likely_pressure,
)

_PICKS = {
    CONF_EMERGENCY: EMERGENCY,
    CONF_BIN_FULL: BIN_FULL,
    CONF_AIR_SUPPLY: AIR_SUPPLY,
    CONF_FILTER_PRESSURE: FILTER_PRESSURE,
}

WATCH = (
    CONF_EMERGENCY,
    CONF_BIN_FULL,
    CONF_BIN_ANSWER,
    CONF_AIR_SUPPLY,
    CONF_AIR_SUPPLY_LOW,
    CONF_FILTER_PRESSURE,
    CONF_FILTER_LIMIT,
)
"""The fields of this part of the form."""


def watch_fields(
    hass: HomeAssistant, claims: Claims, values: Mapping[str, Any]
) -> Fields:
    """Return the fields for what watches over the collector."""

    def picker(field: str) -> Fields:
        multiple = field == CONF_EMERGENCY
        pick = _PICKS[field]
        chosen = pick_field(hass, pick, claims, values, field, multiple=multiple)
        return {vol.Optional(field): chosen}

    def limit(field: str) -> Fields:
        return {vol.Optional(field): quantity_field(hass, field)}

    return {
        **picker(CONF_EMERGENCY),
        **picker(CONF_BIN_FULL),
        vol.Required(CONF_BIN_ANSWER): choice_field(CONF_BIN_ANSWER, BinAnswer),
        **picker(CONF_AIR_SUPPLY),
        **limit(CONF_AIR_SUPPLY_LOW),
        **picker(CONF_FILTER_PRESSURE),
        **limit(CONF_FILTER_LIMIT),
    }


def watch_values(hass: HomeAssistant, data: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a form shows for what is stored."""
    return {
        CONF_EMERGENCY: [
            entity_id
            for stored in data.get(CONF_EMERGENCY, [])
            if (entity_id := to_entity_id(hass, stored))
        ],
        **{
            field: to_entity_id(hass, data.get(field, ""))
            for field in (CONF_BIN_FULL, CONF_AIR_SUPPLY, CONF_FILTER_PRESSURE)
        },
        CONF_BIN_ANSWER: data.get(CONF_BIN_ANSWER, BinAnswer.WARN),
        **{field: shown(hass, field, data.get(field)) for field in _USUAL},
    }


def watch_placeholders(hass: HomeAssistant) -> dict[str, str]:
    """Return what the texts of the fields name: the usual limits."""
    return {
        f"usual_{field}": usual_text(hass, field, usual)
        for field, usual in _USUAL.items()
    }


def read_watch(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    claims: Claims,
    mistakes: Mistakes,
    before: Mapping[str, Any],
    stored: Mapping[str, Any],
) -> dict[str, Any]:
    """Judge what was chosen to watch over the collector; return what to store of it.

    `before` is what the form showed at first for what is `stored`.
    """
    data: dict[str, Any] = {}
    measured: set[str] = set()
    for field, pick in _PICKS.items():
        kept = chosen_in(before, field)
        picked = take(hass, pick, claims, mistakes, field, typed.get(field), kept)
        references = [to_stored(hass, entity_id) for entity_id in picked]
        if field == CONF_EMERGENCY and references:
            data[field] = references
        elif references:
            data[field] = references[0]
            if picked[0].partition(".")[0] in NUMBER_DOMAINS:
                measured.add(field)

    answer = BinAnswer(typed.get(CONF_BIN_ANSWER, BinAnswer.WARN))
    if CONF_BIN_FULL in data:
        data[CONF_BIN_ANSWER] = answer.value
    elif answer is not BinAnswer.WARN and touched(typed, before, CONF_BIN_ANSWER):
        mistakes.add(CONF_BIN_FULL, "answer_without_bin")

    for sensor, field in (
        (CONF_AIR_SUPPLY, CONF_AIR_SUPPLY_LOW),
        (CONF_FILTER_PRESSURE, CONF_FILTER_LIMIT),
    ):
        if sensor in measured:
            data[field] = quantity_of(
                hass, typed, field, mistakes, before, stored, _USUAL[field]
            )
    if CONF_AIR_SUPPLY_LOW not in data and touched(typed, before, CONF_AIR_SUPPLY_LOW):
        mistakes.add(CONF_AIR_SUPPLY_LOW, "air_limit_without_pressure")
    if CONF_FILTER_LIMIT not in data and touched(typed, before, CONF_FILTER_LIMIT):
        mistakes.add(CONF_FILTER_LIMIT, "filter_limit_without_pressure")
    return data
