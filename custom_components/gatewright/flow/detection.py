"""When a machine counts as running: what its form asks, judged."""

from collections.abc import Mapping
from typing import Any

from homeassistant.const import STATE_UNAVAILABLE, STATE_UNKNOWN
from homeassistant.core import HomeAssistant

from ..const import (
    CONF_CERTAIN,
    CONF_GRACE,
    CONF_ON_LOST,
    CONF_RUN_LIMIT,
    CONF_RUNNING_STATES,
    CONF_SENSOR,
    CONF_SILENCE,
    CONF_START,
    CONF_START_SETTLE,
    CONF_STOP_SETTLE,
    CONF_UNIT,
)
from ..shop.kinds import LEVEL_DEFAULTS
from ..shop.plan import SIGNAL_LEVELS, Levels, OnLost
from .fields import ANY_LEVELS, LEVEL_LIMITS, LEVELS, Limit, number_of, touched
from .mistakes import Mistakes
from .readings import Reading, Refused, Signal, describe, is_silent, name_of

ANY_LEVEL = Limit(0, LEVEL_LIMITS["W"].high, None)
"""The limit of a level while nobody knows the unit of the reading."""

_USUAL = Levels(start=1.0, stop=0.0)
_START_SETTLE_ONCE = 1.0
"""The usual start settling time in s up to version 0.1.0."""

_SILENCE = 15.0
"""How long in min a reading may stand without being renewed while the machine runs.

Common practice, no source.
"""


def told_by(
    hass: HomeAssistant, before: Mapping[str, Any], sensor: str | None
) -> Reading | Signal | Refused:
    """Return what a sensor tells; of one that is silent now, what it told before."""
    if sensor is None:
        return Signal()
    if sensor == before.get(CONF_SENSOR) and is_silent(hass, sensor):
        if unit := before.get(CONF_UNIT):
            return Reading(unit)
        states = tuple(before.get(CONF_RUNNING_STATES, ()))
        return Signal(states, states)
    return describe(hass, sensor)


def read_sensing(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    mistakes: Mistakes,
    before: Mapping[str, Any],
    sensor: str,
    told: Reading | Signal | Refused,
) -> dict[str, Any]:
    """Judge when a machine counts as running."""
    data: dict[str, Any] = {}
    typed = dict(typed)
    usual = _USUAL
    if isinstance(told, Reading):
        if touched(typed, before, CONF_RUNNING_STATES):
            mistakes.add(CONF_RUNNING_STATES, "states_without_signal")
        data[CONF_UNIT] = told.unit
        limit = LEVEL_LIMITS[told.unit]
        for field, level in zip(LEVELS, LEVEL_DEFAULTS[told.unit], strict=True):
            # A level that was left as it stood for another unit says nothing.
            if before.get(CONF_UNIT) != told.unit and not touched(typed, before, field):
                typed[field] = None
            data[field] = number_of(typed, field, mistakes, level, limit)
        # What was certain of another sensor or start level is not of this one.
        same = (
            before.get(CONF_UNIT) == told.unit
            and before.get(CONF_SENSOR) == sensor
            and before.get(CONF_START) == data[CONF_START]
        )
        if typed.get(CONF_CERTAIN) is not None and (
            same or touched(typed, before, CONF_CERTAIN)
        ):
            data[CONF_CERTAIN] = number_of(typed, CONF_CERTAIN, mistakes, 0, limit)
    elif isinstance(told, Signal):
        usual = SIGNAL_LEVELS
        for field in ANY_LEVELS:
            if touched(typed, before, field):
                mistakes.add(field, "levels_without_reading")
        data[CONF_RUNNING_STATES] = _read_states(
            hass, typed, mistakes, before, sensor, told
        )
    was = _USUAL if before.get(CONF_UNIT) else SIGNAL_LEVELS
    for field in (CONF_START_SETTLE, CONF_STOP_SETTLE, CONF_GRACE):
        left = typed.get(field) == before.get(field)
        if left and usual is not was and typed.get(field) in _usual(field, was):
            typed[field] = None
        data[field] = number_of(typed, field, mistakes, getattr(usual, field))
    data[CONF_ON_LOST] = OnLost(typed.get(CONF_ON_LOST, OnLost.STOPPED)).value
    return data


def _read_states(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    mistakes: Mistakes,
    before: Mapping[str, Any],
    sensor: str,
    told: Signal,
) -> list[str]:
    states = [
        text for state in typed.get(CONF_RUNNING_STATES, []) if (text := state.strip())
    ]
    if sensor != before.get(CONF_SENSOR) and not touched(
        typed, before, CONF_RUNNING_STATES
    ):
        states = []
    states = states or list(told.running)
    if not states:
        mistakes.add(CONF_RUNNING_STATES, "states_missing", name_of(hass, sensor))
    if not {STATE_UNAVAILABLE, STATE_UNKNOWN}.isdisjoint(states):
        mistakes.add(CONF_RUNNING_STATES, "states_unusable")
    return states


def read_limits(
    typed: Mapping[str, Any],
    mistakes: Mistakes,
    before: Mapping[str, Any],
    told: Reading | Signal | Refused | None,
) -> dict[str, float]:
    """Judge how long a reading may be silent and a machine be on."""
    minutes: dict[str, float] = {}
    if isinstance(told, Reading):
        minutes[CONF_SILENCE] = number_of(typed, CONF_SILENCE, mistakes, _SILENCE)
    elif (
        not isinstance(told, Refused)
        and typed.get(CONF_SILENCE)
        and touched(typed, before, CONF_SILENCE)
    ):
        mistakes.add(CONF_SILENCE, "silence_without_reading")
    if told is not None:
        minutes[CONF_RUN_LIMIT] = number_of(typed, CONF_RUN_LIMIT, mistakes, 0)
    elif typed.get(CONF_RUN_LIMIT) and touched(typed, before, CONF_RUN_LIMIT):
        mistakes.add(CONF_RUN_LIMIT, "run_limit_without_sensor")
    return {field: limit * 60 for field, limit in minutes.items() if limit}


def _usual(field: str, levels: Levels) -> tuple[float, ...]:
    """Return what is usual for a field now, and was in earlier versions."""
    usual: float = getattr(levels, field)
    once = field == CONF_START_SETTLE and levels is _USUAL
    return (usual, _START_SETTLE_ONCE) if once else (usual,)
