"""The clearing steps of a machine in its form, which has room for two."""

from collections.abc import Container, Mapping, Sequence
from typing import Any

import voluptuous as vol

from ..const import CONF_CLEARING, CONF_DURATION, CONF_GATES
from .fields import (
    CONF_CLEARING_TIME,
    Fields,
    number_field,
    number_of,
    parts_field,
    touched,
)
from .mistakes import Mistakes

CONF_CLEARING_GATES = ("clearing_1_gates", "clearing_2_gates")

type Step = dict[str, Any]


def clearing_fields(gates: Mapping[str, str]) -> Fields:
    """Return the fields of the clearing steps."""
    fields: Fields = {}
    for step_gates, time in zip(CONF_CLEARING_GATES, CONF_CLEARING_TIME, strict=True):
        if gates:
            fields[vol.Optional(step_gates)] = parts_field(gates)
        fields[vol.Optional(time)] = number_field(time)
    return fields


def clearing_values(steps: Sequence[Step], gates: Container[str]) -> dict[str, Any]:
    """Return what a form shows for stored steps, and the steps themselves."""
    values: dict[str, Any] = {CONF_CLEARING: steps_left(steps, gates)}
    for step_gates, time, step in zip(
        CONF_CLEARING_GATES, CONF_CLEARING_TIME, values[CONF_CLEARING], strict=False
    ):
        values[step_gates] = step[CONF_GATES]
        values[time] = step[CONF_DURATION]
    return values


def steps_left(steps: Sequence[Step], gates: Container[str]) -> list[Step]:
    """Return the steps without gates that have been removed since."""
    kept = [
        {**step, CONF_GATES: [gate for gate in step[CONF_GATES] if gate in gates]}
        for step in steps
    ]
    return [
        left
        for left, step in zip(kept, steps, strict=True)
        if left[CONF_GATES] or not step[CONF_GATES]
    ]


def read_clearing(
    typed: Mapping[str, Any],
    mistakes: Mistakes,
    before: Mapping[str, Any],
    gates: Mapping[str, Any],
    usual: float,
) -> list[Step]:
    """Judge the typed steps; return them, and those that the form has no room for.

    `usual` is the time (s) of a step whose time was left empty.
    """
    steps: list[Step] = []
    for step_gates, time in zip(CONF_CLEARING_GATES, CONF_CLEARING_TIME, strict=True):
        chosen = list(typed.get(step_gates, []))
        if chosen or (not gates and typed.get(time)):
            duration = number_of(typed, time, mistakes, usual)
            if duration == 0:
                mistakes.add(time, "clearing_without_time")
            steps.append({CONF_GATES: chosen, CONF_DURATION: duration})
        # A time that was left when the gates were taken out means no step.
        elif gates and touched(typed, before, time):
            mistakes.add(step_gates, "clearing_without_gates")
    beyond = before.get(CONF_CLEARING, [])[len(CONF_CLEARING_TIME) :]
    return [*steps, *steps_left(beyond, gates)]
