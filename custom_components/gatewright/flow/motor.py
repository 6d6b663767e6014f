"""The rating of the collector's motor in its form, and what follows from it."""

from collections.abc import Mapping
from typing import Any

from homeassistant.core import HomeAssistant
import voluptuous as vol

from ..const import (
    CONF_MOTOR_POLES,
    CONF_MOTOR_RATING,
    CONF_REST_TIME,
    CONF_STARTS_PER_HOUR,
)
from ..shop.motor_rating import POLES, allowance
from ..shop.plan import Collector
from .fields import Fields, choice_field
from .mistakes import Mistakes
from .quantities import quantity_field, quantity_of, shown

_USUAL = Collector(name="")


def motor_fields(hass: HomeAssistant) -> Fields:
    """Return the fields for what stands on the motor's plate."""
    return {
        vol.Optional(CONF_MOTOR_RATING): quantity_field(hass, CONF_MOTOR_RATING),
        vol.Optional(CONF_MOTOR_POLES): choice_field(CONF_MOTOR_POLES, map(str, POLES)),
    }


def motor_values(hass: HomeAssistant, data: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a form shows for a stored rating."""
    poles = data.get(CONF_MOTOR_POLES)
    return {
        CONF_MOTOR_RATING: shown(hass, CONF_MOTOR_RATING, data.get(CONF_MOTOR_RATING)),
        CONF_MOTOR_POLES: poles and str(poles),
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
    if typed.get(CONF_MOTOR_RATING) is None:
        if poles:
            mistakes.add(CONF_MOTOR_RATING, "motor_rating_missing")
        return {}
    if not poles:
        mistakes.add(CONF_MOTOR_POLES, "motor_poles_missing")
        return {}
    rating = quantity_of(hass, typed, CONF_MOTOR_RATING, mistakes, before, stored, 0)
    return {CONF_MOTOR_RATING: rating, CONF_MOTOR_POLES: int(poles)}


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
    allowed = allowance(data[CONF_MOTOR_RATING] / 1000, data[CONF_MOTOR_POLES])
    return {
        CONF_REST_TIME: allowed.rest,
        CONF_STARTS_PER_HOUR: allowed.starts_per_hour,
    }
