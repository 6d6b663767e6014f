"""The purge steps of a machine in its form, which has room for two."""

from collections.abc import Container, Sequence
from typing import Any, override

from ...const import CONF_DURATION, CONF_GATES, CONF_PURGE
from ..field import Answers, Field, FormContext
from ..kinds import PartsField
from ..numbers import FieldLimits, NumberField

_STEPS = (
    ("clearing_1_gates", "clearing_1_time"),
    ("clearing_2_gates", "clearing_2_time"),
)
PURGE_TIMES = tuple(time for _, time in _STEPS)
FIRST_GATES = _STEPS[0][0]
PURGE_ERRORS = ("clearing_without_time", "clearing_without_gates")

type Step = dict[str, Any]


def steps_left(steps: Sequence[Step], gates: Container[str]) -> list[Step]:
    """Return the steps without removed gates."""
    kept = [
        {**step, CONF_GATES: [gate for gate in step[CONF_GATES] if gate in gates]}
        for step in steps
    ]
    return [
        left
        for left, step in zip(kept, steps, strict=True)
        if left[CONF_GATES] or not step[CONF_GATES]
    ]


def _of_step(context: FormContext, field: str, key: str) -> Any:
    """Return the stored data of a field's step, if it exists."""
    number = [field in fields for fields in _STEPS].index(True)
    steps = steps_left(context.stored.get(CONF_PURGE, ()), context.gates)
    return steps[number][key] if number < len(steps) else None


class _GatesField(PartsField):
    """The gates that a step opens."""

    @override
    def load(self, context: FormContext) -> Any:
        return _of_step(context, self.key, CONF_GATES)


class _TimeField(NumberField):
    """How long a step lasts."""

    @override
    def load(self, context: FormContext) -> Any:
        return _of_step(context, self.key, CONF_DURATION)


PURGING: tuple[Field, ...] = tuple(
    field
    for gates, time in _STEPS
    for field in (
        _GatesField(gates, stored=False),
        _TimeField(time, FieldLimits(0, 600), stored=False),
    )
)
"""The fields of the purge steps."""


def read_purge(answers: Answers, usual: float) -> None:
    """Validate the steps; keep them, and those beyond the form's rows.

    `usual` is the time (s) of a step whose time was left empty.
    """
    context, steps = answers.context, list[Step]()
    for gates, time in _STEPS:
        chosen = answers.dump(gates)
        if chosen or (not context.gates and answers.typed.get(time)):
            duration = answers.number(time, usual)
            if duration == 0:
                answers.refuse(time, "clearing_without_time")
            steps.append({CONF_GATES: chosen, CONF_DURATION: duration})
        # A time without gates means no step.
        elif context.gates and answers.touched(time):
            answers.refuse(gates, "clearing_without_gates")
    stored = steps_left(context.stored.get(CONF_PURGE, ()), context.gates)
    answers.data[CONF_PURGE] = [*steps, *stored[len(_STEPS) :]]
