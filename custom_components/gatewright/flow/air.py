"""The collector's air in its form: fan, losses, drive, room, and what follows of it."""

from collections.abc import Iterable, Mapping
import re
from typing import Any

from homeassistant.components.fan import DOMAIN as FAN, FanEntityFeature
from homeassistant.components.number import DOMAIN as NUMBER
from homeassistant.const import ATTR_SUPPORTED_FEATURES, UnitOfPressure
from homeassistant.core import HomeAssistant, split_entity_id
from homeassistant.helpers.selector import BooleanSelector
import voluptuous as vol

from ..air.ducts import USUAL_INLET, USUAL_MARGIN, USUAL_TEMPERATURE
from ..airflow import INLETS, MATERIALS_CARRIED, AirflowError, Fan
from ..const import (
    CONF_AIR_MARGIN,
    CONF_ALTITUDE,
    CONF_CARRIED,
    CONF_DISCHARGE,
    CONF_DRIVE,
    CONF_DRIVE_CEILING,
    CONF_DRIVE_FLOOR,
    CONF_FAN_POINTS,
    CONF_FILTER_FLOW,
    CONF_FILTER_LOSS,
    CONF_FREE_FLOW,
    CONF_INLET,
    CONF_INLET_DIAMETER,
    CONF_MAX_SUCTION,
    CONF_RELIEF,
    CONF_SEPARATOR_FLOW,
    CONF_SEPARATOR_LOSS,
    CONF_SPEED_CONTROL,
    CONF_STACK_DIAMETER,
    CONF_STACK_LENGTH,
    CONF_SUCTION,
    CONF_TEMPERATURE,
    CONF_TOGETHER_ALARM,
    CONF_TRANSPORT_RUN_ON,
)
from ..entities import to_entity_id
from ..stored.system import DischargeKind
from .claims import Claims, Role
from .fields import (
    Fields,
    choice_field,
    names_field,
    number_field,
    number_of,
    touched,
)
from .mistakes import Mistakes
from .picks import Pick, likely_any, pick_field, take_each
from .quantities import (
    from_si,
    limit_of,
    quantity_field,
    quantity_of,
    shown,
    to_si,
    usual_text,
)
from .readings import Refused, name_of
from .watch import FILTER_PRESSURE

FLOOR, CEILING = 40.0, 100.0
"""Lowest and highest speed in percent. Common practice, no source: below about 40 %
many motors are no longer cooled well enough by their own fan."""

BEHAVIORS = (
    CONF_SPEED_CONTROL,
    CONF_RELIEF,
    CONF_TRANSPORT_RUN_ON,
    CONF_TOGETHER_ALARM,
)
"""What the owner can switch on."""

_PAIRS = (
    (CONF_FREE_FLOW, CONF_MAX_SUCTION),
    (CONF_SEPARATOR_FLOW, CONF_SEPARATOR_LOSS),
    (CONF_FILTER_FLOW, CONF_FILTER_LOSS),
)
_SINGLE = (
    CONF_INLET_DIAMETER,
    CONF_STACK_DIAMETER,
    CONF_STACK_LENGTH,
    CONF_TEMPERATURE,
    CONF_ALTITUDE,
)
_QUANTITIES = (*(field for pair in _PAIRS for field in pair), *_SINGLE)


def _judge_drive(hass: HomeAssistant, entity_id: str) -> Refused | None:
    if split_entity_id(entity_id)[0] == NUMBER:
        return None
    state = hass.states.get(entity_id)
    features = state.attributes.get(ATTR_SUPPORTED_FEATURES, 0) if state else 0
    if features & FanEntityFeature.SET_SPEED:
        return None
    return Refused("no_speed", name_of(hass, entity_id))


DRIVE = Pick(
    role=Role.DRIVE, domains=(FAN, NUMBER), judge=_judge_drive, likely=likely_any
)
SUCTION = FILTER_PRESSURE
"""A static pressure sensor is judged like any other pressure."""

_PICKS = {CONF_DRIVE: DRIVE, CONF_SUCTION: SUCTION}

AIR = (
    CONF_FAN_POINTS,
    CONF_FREE_FLOW,
    CONF_MAX_SUCTION,
    CONF_INLET_DIAMETER,
    CONF_INLET,
    CONF_SEPARATOR_FLOW,
    CONF_SEPARATOR_LOSS,
    CONF_FILTER_FLOW,
    CONF_FILTER_LOSS,
    CONF_DISCHARGE,
    CONF_STACK_DIAMETER,
    CONF_STACK_LENGTH,
    CONF_CARRIED,
    CONF_TEMPERATURE,
    CONF_ALTITUDE,
    CONF_SUCTION,
    CONF_AIR_MARGIN,
)
DRIVING = (
    CONF_DRIVE,
    CONF_DRIVE_FLOOR,
    CONF_DRIVE_CEILING,
    *BEHAVIORS,
)
"""The fields of the two parts of the form."""


def air_fields(
    hass: HomeAssistant, claims: Claims, values: Mapping[str, Any]
) -> Fields:
    """Return the fields for the collector's air."""

    def picker(field: str) -> Fields:
        pick = _PICKS[field]
        return {vol.Optional(field): pick_field(hass, pick, claims, values, field)}

    fields: Fields = {vol.Optional(CONF_FAN_POINTS): names_field()}
    for field in AIR[1:]:
        if field == CONF_DISCHARGE:
            marker = vol.Required(field, default=DischargeKind.RETURN)
            fields[marker] = choice_field(field, DischargeKind)
        elif field == CONF_CARRIED:
            fields[vol.Optional(field)] = choice_field(field, MATERIALS_CARRIED)
        elif field == CONF_INLET:
            fields[vol.Optional(field)] = choice_field(field, INLETS)
        elif field == CONF_SUCTION:
            fields |= picker(field)
        elif field == CONF_AIR_MARGIN:
            fields[vol.Optional(field)] = number_field(field)
        else:
            fields[vol.Optional(field)] = quantity_field(hass, field)
    return {
        **fields,
        **picker(CONF_DRIVE),
        vol.Optional(CONF_DRIVE_FLOOR): number_field(CONF_DRIVE_FLOOR),
        vol.Optional(CONF_DRIVE_CEILING): number_field(CONF_DRIVE_CEILING),
        **{
            vol.Required(field, default=False): BooleanSelector() for field in BEHAVIORS
        },
    }


def air_values(hass: HomeAssistant, data: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a form shows for what is stored."""
    return {
        CONF_FAN_POINTS: [
            _point_text(hass, flow, pressure)
            for flow, pressure in data.get(CONF_FAN_POINTS, ())
        ]
        or None,
        **{field: shown(hass, field, data.get(field)) for field in _QUANTITIES},
        CONF_DISCHARGE: data.get(CONF_DISCHARGE, DischargeKind.RETURN),
        CONF_CARRIED: data.get(CONF_CARRIED),
        CONF_INLET: data.get(CONF_INLET),
        CONF_AIR_MARGIN: data.get(CONF_AIR_MARGIN),
        **{field: to_entity_id(hass, data.get(field, "")) for field in _PICKS},
        CONF_DRIVE_FLOOR: data.get(CONF_DRIVE_FLOOR),
        CONF_DRIVE_CEILING: data.get(CONF_DRIVE_CEILING),
        **{field: data.get(field, False) for field in BEHAVIORS},
    }


def air_placeholders(hass: HomeAssistant) -> dict[str, str]:
    """Return what the texts of the fields name: units, an example, what is usual."""
    elevation = float(hass.config.elevation)
    return {
        "point_units": " ".join(_units(hass)),
        "point_example": _point_text(hass, 0.472, 1993.0),
        f"usual_{CONF_TEMPERATURE}": usual_text(
            hass, CONF_TEMPERATURE, USUAL_TEMPERATURE
        ),
        f"usual_{CONF_ALTITUDE}": usual_text(hass, CONF_ALTITUDE, elevation),
    }


def read_air_form(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    claims: Claims,
    mistakes: Mistakes,
    before: Mapping[str, Any],
    stored: Mapping[str, Any],
) -> dict[str, Any]:
    """Judge what was typed about the collector's air; return what to store of it."""

    def given(fields: Iterable[str]) -> dict[str, Any]:
        return {
            field: quantity_of(hass, typed, field, mistakes, before, stored, 0.0)
            for field in fields
            if typed.get(field) is not None
        }

    data = given(_SINGLE)
    for pair in _PAIRS:
        values = given(pair)
        if len(values) == 1:
            lacking = next(field for field in pair if field not in values)
            mistakes.add(lacking, "half_of_pair")
        data |= values
    if typed.get(CONF_FAN_POINTS):
        data[CONF_FAN_POINTS] = _read_points(hass, typed, mistakes, before, stored)
    if typed.get(CONF_DISCHARGE) == DischargeKind.OUTSIDE:
        data[CONF_DISCHARGE] = DischargeKind.OUTSIDE.value
        if CONF_STACK_LENGTH in data and CONF_STACK_DIAMETER not in data:
            mistakes.add(CONF_STACK_DIAMETER, "stack_diameter_missing")
    else:
        for field in (CONF_STACK_DIAMETER, CONF_STACK_LENGTH):
            if field in data and touched(typed, before, field):
                mistakes.add(CONF_DISCHARGE, "stack_without_outside")
    if carried := typed.get(CONF_CARRIED):
        data[CONF_CARRIED] = carried
    if (inlet := typed.get(CONF_INLET) or USUAL_INLET) != USUAL_INLET:
        data[CONF_INLET] = inlet
    if typed.get(CONF_AIR_MARGIN) is not None:
        margin = number_of(typed, CONF_AIR_MARGIN, mistakes, USUAL_MARGIN)
        data[CONF_AIR_MARGIN] = margin
    data |= take_each(hass, _PICKS, claims, mistakes, typed, before)
    return data | _read_driving(typed, mistakes, data)


def _read_driving(
    typed: Mapping[str, Any], mistakes: Mistakes, data: Mapping[str, Any]
) -> dict[str, Any]:
    """Judge the speeds, and what the owner switched on."""
    driving: dict[str, Any] = {
        field: typed.get(field, False) for field in BEHAVIORS if typed.get(field)
    }
    limits = (CONF_DRIVE_FLOOR, FLOOR), (CONF_DRIVE_CEILING, CEILING)
    floor, ceiling = (
        number_of(typed, field, mistakes, usual) for field, usual in limits
    )
    if CONF_DRIVE in data:
        driving |= {CONF_DRIVE_FLOOR: floor, CONF_DRIVE_CEILING: ceiling}
    elif CONF_SPEED_CONTROL in driving and not typed.get(CONF_DRIVE):
        mistakes.add(CONF_DRIVE, "drive_missing")
    if floor > ceiling:
        mistakes.add(CONF_DRIVE_FLOOR, "floor_over_ceiling")
    if driving.keys() & set(BEHAVIORS) and not (
        typed.get(CONF_FAN_POINTS) or CONF_FREE_FLOW in data
    ):
        mistakes.add(CONF_FAN_POINTS, "fan_missing")
    return driving


def _units(hass: HomeAssistant) -> tuple[str, str]:
    flow, pressure = (limit_of(hass, f) for f in (CONF_FREE_FLOW, CONF_MAX_SUCTION))
    return str(flow.unit), str(pressure.unit or UnitOfPressure.PA)


def _point_text(hass: HomeAssistant, flow: float, pressure: float) -> str:
    """Return a point of the fan's curve as a person writes it."""
    unit_of_flow, unit_of_pressure = _units(hass)
    return (
        f"{float(f'{from_si(flow, unit_of_flow):.4g}'):g} "
        f"{float(f'{from_si(pressure, unit_of_pressure):.4g}'):g}"
    )


def _read_points(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    mistakes: Mistakes,
    before: Mapping[str, Any],
    stored: Mapping[str, Any],
) -> list[list[float]]:
    """Judge the points of the fan's curve: two numbers each, flow and pressure."""
    texts: list[str] = [text for text in typed[CONF_FAN_POINTS] if text.strip()]
    if texts == before.get(CONF_FAN_POINTS):
        kept: list[list[float]] = stored[CONF_FAN_POINTS]
        return kept
    points: list[list[float]] = []
    for text in texts:
        numbers = re.split(r"[\s;/]+", text.strip())
        try:
            flow, pressure = (float(number) for number in numbers)
        except ValueError:
            mistakes.add(CONF_FAN_POINTS, "fan_point_unreadable", text)
            return []
        units = _units(hass)
        limits = [limit_of(hass, field) for field in (CONF_FREE_FLOW, CONF_MAX_SUCTION)]
        if not all(
            0 <= number <= limit.high
            for number, limit in zip((flow, pressure), limits, strict=True)
        ):
            ranges = ", ".join(f"0–{limit.high:g} {limit.unit}" for limit in limits)
            mistakes.add(CONF_FAN_POINTS, "fan_point_range", f"{text} ({ranges})")
            return []
        points.append([to_si(flow, units[0]), to_si(pressure, units[1])])
    points.sort()
    try:
        Fan(points=tuple((flow, pressure) for flow, pressure in points))
    except AirflowError:
        mistakes.add(CONF_FAN_POINTS, "fan_curve_odd")
    return points
