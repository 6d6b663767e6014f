"""The rating of the collector's motor in its form, and what it implies."""

from typing import Any, override

from ... import const
from ...const import (
    CONF_MIN_OFF_TIME,
    CONF_MOTOR_PHASES,
    CONF_MOTOR_POLES,
    CONF_MOTOR_RATING,
    CONF_STARTS_PER_HOUR,
)
from ...core.config import CollectorConfig
from ...core.control.motor_rating import POLES, allowance, wheel_inertia
from ..field import Answers, FormContext, Values
from ..form import Group
from ..kinds import ChoiceField
from ..numbers import MOTOR, WEIGHT, WIDTH, FieldLimits, NumberField, QuantityField

_USUAL = CollectorConfig(name="")
_WHEEL = (const.CONF_WHEEL_DIAMETER, const.CONF_WHEEL_WEIGHT)
THREE_PHASE, SINGLE_PHASE = "three", "single"


class _PhasesField(ChoiceField):
    """How many phases the motor has."""

    @override
    def load(self, context: FormContext) -> Any:
        # A rating without a stored choice is one of the table's motors.
        rated = THREE_PHASE if CONF_MOTOR_RATING in context.stored else None
        return context.stored.get(self.key, rated)


class _PolesField(ChoiceField):
    """The motor's number of poles: a number, chosen by its label."""

    @override
    def load(self, context: FormContext) -> str | None:
        poles = context.stored.get(self.key)
        return poles and str(poles)


def _read_motor(answers: Answers) -> None:
    answers.read(*_WHEEL)
    answers.refuse_half(_WHEEL, "half_of_wheel")
    _read_rating(answers)
    if not answers.mistakes:
        _follow_rating(answers)
    answers.read(CONF_MIN_OFF_TIME, CONF_STARTS_PER_HOUR)


def _read_rating(answers: Answers) -> None:
    """Validate the rating, which only counts as a whole."""
    rated = answers.typed.get(CONF_MOTOR_RATING) is not None
    poles, phases = answers.dump(CONF_MOTOR_POLES), answers.dump(CONF_MOTOR_PHASES)
    if phases == SINGLE_PHASE:
        if rated or poles:
            answers.refuse(CONF_MOTOR_PHASES, "motor_single_phase")
        answers.data[CONF_MOTOR_PHASES] = phases
    elif not rated:
        if poles:
            answers.refuse(CONF_MOTOR_RATING, "motor_rating_missing")
    elif not poles:
        answers.refuse(CONF_MOTOR_POLES, "motor_poles_missing")
    elif not phases:
        answers.refuse(CONF_MOTOR_PHASES, "motor_phases_missing")
    else:
        answers.read(CONF_MOTOR_RATING)
        answers.data[CONF_MOTOR_POLES] = int(poles)
        # Where none is stored, as by earlier versions, there are three.
        stored = CONF_MOTOR_PHASES in answers.context.stored
        if stored or not answers.left_as(CONF_MOTOR_PHASES, THREE_PHASE):
            answers.data[CONF_MOTOR_PHASES] = phases


def _follow_rating(answers: Answers) -> None:
    """Apply the limits that the rating allows.

    This covers limits that were left empty, and limits still at the defaults of the
    stored rating.
    """
    was = _usual_for(answers.context.stored)
    for key, usual in _usual_for(answers.data).items():
        if answers.typed.get(key) is None or answers.left_as(key, was[key]):
            answers.typed[key] = usual


def _usual_for(data: Values) -> dict[str, float | None]:
    """Return the default limits with or without a rating."""
    if CONF_MOTOR_RATING not in data:
        return {
            CONF_MIN_OFF_TIME: _USUAL.rest,
            CONF_STARTS_PER_HOUR: _USUAL.starts_per_hour,
        }
    inertia = None
    if all(key in data for key in _WHEEL):
        inertia = wheel_inertia(*(data[key] for key in _WHEEL))
    allowed = allowance(
        data[CONF_MOTOR_RATING] / 1000, data[CONF_MOTOR_POLES], load_inertia=inertia
    )
    return {
        CONF_MIN_OFF_TIME: allowed.rest,
        # The form's minimum: a motor for less than one start an hour is started by
        # hand.
        CONF_STARTS_PER_HOUR: max(1.0, round(allowed.starts_per_hour, 1)),
    }


MOTOR_GROUP = Group(
    "motor",
    QuantityField(CONF_MOTOR_RATING, MOTOR),
    _PhasesField(CONF_MOTOR_PHASES, (THREE_PHASE, SINGLE_PHASE)),
    _PolesField(CONF_MOTOR_POLES, tuple(map(str, POLES))),
    QuantityField(const.CONF_WHEEL_DIAMETER, WIDTH),
    QuantityField(const.CONF_WHEEL_WEIGHT, WEIGHT),
    NumberField(CONF_MIN_OFF_TIME, FieldLimits(0, 3600), usual=_USUAL.rest),
    NumberField(CONF_STARTS_PER_HOUR, FieldLimits(1, 120, None)),
    read=_read_motor,
    errors=(
        "half_of_wheel",
        "motor_single_phase",
        "motor_rating_missing",
        "motor_poles_missing",
        "motor_phases_missing",
    ),
)
