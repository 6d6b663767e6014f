"""Run detection: the fields of a machine's form that decide when it runs."""

from typing import Any, override

from homeassistant.const import STATE_UNAVAILABLE, STATE_UNKNOWN
from homeassistant.helpers.selector import Selector

from ... import const
from ...core.config import SIGNAL_LEVELS, Thresholds, WhenSensorLost
from ...core.kinds import LEVEL_DEFAULTS
from ...core.stored.parts import StoredMachine
from ...core.stored.table import table_of
from ...runtime.entity_references import to_entity_id
from ..entity_picker import RELAY
from ..field import Answers, Field, FormContext, Values
from ..form import Group
from ..kinds import ChoiceField, EntityField
from ..numbers import FieldLimits, NumberField
from ..selectors import states_field
from ..sensor_description import (
    SensorReading,
    Signal,
    UnusableSensor,
    describe,
    is_silent,
    name_of,
)

LEVEL_LIMITS = {
    const.UNIT_WATT: FieldLimits(0, 50_000, const.UNIT_WATT),
    const.UNIT_AMPERE: FieldLimits(0, 250, const.UNIT_AMPERE),
}
"""Limits of the levels by the reading's unit."""
_ANY_LEVEL = FieldLimits(0, LEVEL_LIMITS[const.UNIT_WATT].high, None)
"""The limit of a level while the reading's unit is unknown."""

LEVELS = (const.CONF_START, const.CONF_STOP)
"""The levels of every reading."""
ANY_LEVELS = (*LEVELS, const.CONF_CERTAIN)
"""The same, with the optional one."""
_NAMES = {item.key: item.place for item in table_of(StoredMachine).fields}
"""What the core calls the value under a stored key."""
_TIMES = (const.CONF_START_CONFIRM, const.CONF_STOP_CONFIRM, const.CONF_DROPOUT)

_USUAL = Thresholds(start=1.0, stop=0.0)
_START_CONFIRM_ONCE = 1.0
"""The default start confirmation time in s up to version 0.1.0."""

_STALE_AFTER = 15 * 60.0
"""How long in s a reading may stay unrenewed while the machine runs.

Common practice, no source.
"""


def sensor_in(context: FormContext, values: Values) -> str | None:
    """Return the present id of the sensor that a form names."""
    sensor: str | None = values.get(const.CONF_SENSOR)
    return (to_entity_id(context.hass, sensor) or sensor) if sensor else None


def describe_sensor(
    context: FormContext, sensor: str | None
) -> SensorReading | Signal | UnusableSensor:
    """Return what a sensor reports; for a silent one, what it reported before."""
    if sensor is None:
        return Signal()
    if sensor == context.shown.get(const.CONF_SENSOR) and is_silent(
        context.hass, sensor
    ):
        if unit := context.stored.get(const.CONF_UNIT):
            return SensorReading(unit)
        states = tuple(context.stored.get(const.CONF_RUNNING_STATES, ()))
        return Signal(states, states)
    return describe(context.hass, sensor)


class _LevelField(NumberField):
    """A level of the reading, in its unit."""

    @override
    def limit_for(self, context: FormContext, values: Values) -> FieldLimits:
        reported = describe_sensor(context, sensor_in(context, values))
        return (
            LEVEL_LIMITS[reported.unit]
            if isinstance(reported, SensorReading)
            else _ANY_LEVEL
        )


class StatesField(Field):
    """The states that mean running, among the sensor's known states."""

    faults = (
        "states_missing",
        "states_unusable",
        "states_without_signal",
    )

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        reported = describe_sensor(context, sensor_in(context, values))
        return states_field(reported.known if isinstance(reported, Signal) else ())


class _SilenceField(NumberField):
    """How long a reading may stay unrenewed: zero means no limit.

    An empty field takes the default when the machine gets a reading.
    """

    @override
    def load(self, context: FormContext) -> float | None:
        return (
            super().load(context) or 0.0 if const.CONF_UNIT in context.stored else None
        )


def _read_detection(answers: Answers) -> None:
    """Validate run detection."""
    sensor = sensor_in(answers.context, answers.typed)
    reported = None
    if sensor:
        reported = describe_sensor(answers.context, sensor)
        _read_sensing(answers, sensor, reported)
    _read_limits(answers, reported)


def _read_sensing(
    answers: Answers, sensor: str, reported: SensorReading | Signal | UnusableSensor
) -> None:
    usual = _USUAL
    if isinstance(reported, SensorReading):
        if answers.touched(const.CONF_RUNNING_STATES):
            answers.refuse(const.CONF_RUNNING_STATES, "states_without_signal")
        _read_levels(answers, sensor, reported.unit)
    elif isinstance(reported, Signal):
        usual = SIGNAL_LEVELS
        for key in ANY_LEVELS:
            if answers.touched(key):
                answers.refuse(key, "levels_without_reading")
        answers.data[const.CONF_RUNNING_STATES] = _read_states(
            answers, sensor, reported
        )
    was = _USUAL if answers.context.stored.get(const.CONF_UNIT) else SIGNAL_LEVELS
    for key in _TIMES:
        if usual is not was and answers.left_as(key, *_usual(key, was)):
            answers.typed[key] = None
        answers.data[key] = answers.number(key, _of_key(usual, key))
    answers.read(const.CONF_ON_LOST)


def _read_levels(answers: Answers, sensor: str, unit: str) -> None:
    data, shown = answers.data, answers.context.shown
    was = answers.context.stored.get(const.CONF_UNIT)
    data[const.CONF_UNIT] = unit
    for key, level in zip(LEVELS, LEVEL_DEFAULTS[unit], strict=True):
        # A level left over from another unit means nothing.
        if was != unit and not answers.touched(key):
            answers.typed[key] = None
        data[key] = answers.number(key, level)
    # A certain level of another sensor or start level doesn't apply to this one.
    same = (
        was == unit
        and shown.get(const.CONF_SENSOR) == sensor
        and shown.get(const.CONF_START) == data[const.CONF_START]
    )
    if same or answers.touched(const.CONF_CERTAIN):
        answers.read(const.CONF_CERTAIN)


def _read_states(answers: Answers, sensor: str, reported: Signal) -> list[str]:
    typed = answers.typed.get(const.CONF_RUNNING_STATES) or ()
    states = [text for state in typed if (text := state.strip())]
    if sensor != answers.context.shown.get(const.CONF_SENSOR) and not answers.touched(
        const.CONF_RUNNING_STATES
    ):
        states = []
    states = states or list(reported.running)
    if not states:
        name = name_of(answers.context.hass, sensor)
        answers.refuse(const.CONF_RUNNING_STATES, "states_missing", name)
    if not {STATE_UNAVAILABLE, STATE_UNKNOWN}.isdisjoint(states):
        answers.refuse(const.CONF_RUNNING_STATES, "states_unusable")
    return states


def _read_limits(
    answers: Answers, reported: SensorReading | Signal | UnusableSensor | None
) -> None:
    """Validate how long a reading may be unrenewed and a machine may run."""
    limits: dict[str, float] = {}
    if isinstance(reported, SensorReading):
        limits[const.CONF_STALE_AFTER] = answers.number(
            const.CONF_STALE_AFTER, _STALE_AFTER
        )
    elif not isinstance(reported, UnusableSensor):
        _refuse_unused(answers, const.CONF_STALE_AFTER, "silence_without_reading")
    if reported is not None:
        limits[const.CONF_RUN_LIMIT] = answers.number(const.CONF_RUN_LIMIT, 0)
    else:
        _refuse_unused(answers, const.CONF_RUN_LIMIT, "run_limit_without_sensor")
    answers.data |= {key: limit for key, limit in limits.items() if limit}


def _refuse_unused(answers: Answers, key: str, code: str) -> None:
    """Reject a limit that limits nothing."""
    if answers.typed.get(key) and answers.touched(key):
        answers.refuse(key, code)


def _of_key(levels: Thresholds, key: str) -> float:
    """Return the time or level under a stored key."""
    value: float = getattr(levels, _NAMES[key])
    return value


def _usual(key: str, levels: Thresholds) -> tuple[float, ...]:
    """Return a field's default now, and in earlier versions."""
    usual = _of_key(levels, key)
    once = key == const.CONF_START_CONFIRM and levels is _USUAL
    return (usual, _START_CONFIRM_ONCE) if once else (usual,)


DETECTION = Group(
    "detection",
    StatesField(const.CONF_RUNNING_STATES),
    *(_LevelField(key, _ANY_LEVEL) for key in ANY_LEVELS),
    NumberField(const.CONF_START_CONFIRM, FieldLimits(0, 60)),
    NumberField(const.CONF_STOP_CONFIRM, FieldLimits(0, 300)),
    NumberField(const.CONF_DROPOUT, FieldLimits(0, 3600)),
    ChoiceField(
        const.CONF_ON_LOST, WhenSensorLost, required=True, new=WhenSensorLost.STOPPED
    ),
    _SilenceField(const.CONF_STALE_AFTER, FieldLimits(0, 1440, "min"), size=60),
    NumberField(const.CONF_RUN_LIMIT, FieldLimits(0, 1440, "min"), size=60),
    EntityField(const.CONF_RELAY, RELAY),
    read=_read_detection,
    errors=(
        "levels_without_reading",
        "run_limit_without_sensor",
        "silence_without_reading",
        "stop_not_below_start",
        "certain_below_start",
    ),
    owns=(const.CONF_UNIT,),
)
"""The sensor's part of a machine's form; the relay is read with the others."""
