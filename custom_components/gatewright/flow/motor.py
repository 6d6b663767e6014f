"""The rating of the collector's motor in its form, and what follows from it."""

from collections.abc import Mapping
from typing import Any

from homeassistant.core import HomeAssistant
import voluptuous as vol

from ..const import (
    CONF_MOTOR_PHASES,
    CONF_MOTOR_POLES,
    CONF_MOTOR_RATING,
    CONF_REST_TIME,
    CONF_STARTS_PER_HOUR,
    CONF_WHEEL_DIAMETER,
    CONF_WHEEL_WEIGHT,
)
from ..shop.motor_rating import POLES, allowance, wheel_inertia
from ..shop.plan import Collector
from .fields import Fields, choice_field
from .mistakes import Mistakes
from .quantities import quantity_field, quantity_of, shown

_USUAL = Collector(name="")
_WHEEL = (CONF_WHEEL_DIAMETER, CONF_WHEEL_WEIGHT)
THREE_PHASE, SINGLE_PHASE = "three", "single"


def motor_fields(hass: HomeAssistant) -> Fields:
    """Return the fields for what stands on the motor's plate."""
    return {
        vol.Optional(CONF_MOTOR_RATING): quantity_field(hass, CONF_MOTOR_RATING),
        vol.Optional(CONF_MOTOR_PHASES): choice_field(
            CONF_MOTOR_PHASES, (THREE_PHASE, SINGLE_PHASE)
        ),
        vol.Optional(CONF_MOTOR_POLES): choice_field(CONF_MOTOR_POLES, map(str, POLES)),
        **{vol.Optional(field): quantity_field(hass, field) for field in _WHEEL},
    }


def motor_values(hass: HomeAssistant, data: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a form shows for a stored rating."""
    poles = data.get(CONF_MOTOR_POLES)
    # A rating from before there was the choice was one of the table's motors.
    rated = THREE_PHASE if CONF_MOTOR_RATING in data else None
    return {
        CONF_MOTOR_RATING: shown(hass, CONF_MOTOR_RATING, data.get(CONF_MOTOR_RATING)),
        CONF_MOTOR_PHASES: data.get(CONF_MOTOR_PHASES, rated),
        CONF_MOTOR_POLES: poles and str(poles),
        **{field: shown(hass, field, data.get(field)) for field in _WHEEL},
    }


def read_motor(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    mistakes: Mistakes,
    before: Mapping[str, Any],
    stored: Mapping[str, Any],
) -> dict[str, Any]:
    """Judge a typed rating; return what to store of it."""
    poles = typed.get(CONF_MOTOR_POLES)
    phases = typed.get(CONF_MOTOR_PHASES)
    rated = typed.get(CONF_MOTOR_RATING) is not None
    data: dict[str, Any] = {
        field: quantity_of(hass, typed, field, mistakes, before, stored, 0)
        for field in _WHEEL
        if typed.get(field) is not None
    }
    if len(data) == 1:
        lacking = next(field for field in _WHEEL if field not in data)
        mistakes.add(lacking, "half_of_wheel")
    if phases == SINGLE_PHASE:
        if rated or poles:
            mistakes.add(CONF_MOTOR_PHASES, "motor_single_phase")
        return data | {CONF_MOTOR_PHASES: phases}
    if not rated:
        if poles:
            mistakes.add(CONF_MOTOR_RATING, "motor_rating_missing")
        return data
    if not poles:
        mistakes.add(CONF_MOTOR_POLES, "motor_poles_missing")
    elif not phases:
        mistakes.add(CONF_MOTOR_PHASES, "motor_phases_missing")
    else:
        data[CONF_MOTOR_RATING] = quantity_of(
            hass, typed, CONF_MOTOR_RATING, mistakes, before, stored, 0
        )
        data |= {CONF_MOTOR_PHASES: phases, CONF_MOTOR_POLES: int(poles)}
    return data


def follow_rating(
    typed: Mapping[str, Any],
    before: Mapping[str, Any],
    stored: Mapping[str, Any],
    data: Mapping[str, Any],
) -> dict[str, Any]:
    """Return what was typed, with what the rating in `data` allows the motor.

    That goes for limits that were left empty, and for those that were the usual ones
    with the rating before, in `stored`, and were left so.
    """
    followed = dict(typed)
    was = _usual_for(stored)
    for field, usual in _usual_for(data).items():
        value = typed.get(field)
        if value is None or value == before.get(field) == was[field]:
            followed[field] = usual
    return followed


def _usual_for(data: Mapping[str, Any]) -> dict[str, float | None]:
    """Return the limits that are usual with a rating, or without one."""
    if CONF_MOTOR_RATING not in data:
        return {
            CONF_REST_TIME: _USUAL.rest,
            CONF_STARTS_PER_HOUR: _USUAL.starts_per_hour,
        }
    inertia = None
    if all(field in data for field in _WHEEL):
        inertia = wheel_inertia(data[CONF_WHEEL_DIAMETER], data[CONF_WHEEL_WEIGHT])
    allowed = allowance(
        data[CONF_MOTOR_RATING] / 1000, data[CONF_MOTOR_POLES], load_inertia=inertia
    )
    return {
        CONF_REST_TIME: allowed.rest,
        # No fewer than the form takes: less than one an hour is one by hand.
        CONF_STARTS_PER_HOUR: max(1.0, round(allowed.starts_per_hour, 1)),
    }
