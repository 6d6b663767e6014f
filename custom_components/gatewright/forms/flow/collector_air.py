"""The airflow part of the collector's form: fan, losses, drive, room and automation."""

from collections.abc import Iterator
import re
from typing import override

from homeassistant.components.fan import DOMAIN as FAN, FanEntityFeature
from homeassistant.components.number import DOMAIN as NUMBER
from homeassistant.const import ATTR_SUPPORTED_FEATURES, PERCENTAGE
from homeassistant.core import HomeAssistant, split_entity_id

from ... import const
from ...core.airflow import INLETS, MATERIALS_CARRIED, AirflowError, Fan
from ...core.stored.system import DischargeKind
from ...features.airflow.ducts import USUAL_INLET, USUAL_TEMPERATURE
from ..entity_picker import EntityPicker, likely_any
from ..entity_usage import EntityRole
from ..field import Answers, FormContext
from ..form import Group
from ..kinds import ChoiceField, EntityField, SettingField, TextsField
from ..numbers import (
    ALTITUDE,
    FLOW,
    LOSS,
    RUN,
    TEMPERATURE,
    WIDTH,
    FieldLimits,
    NumberField,
    QuantityField,
    from_si,
    limit_in,
    to_si,
)
from ..sensor_description import UnusableSensor, name_of
from .safety_inputs import FILTER_PRESSURE

FLOOR, CEILING = 40.0, 100.0
"""Lowest and highest speed in percent. Common practice, no source: below about 40 %
many motors are no longer cooled well enough by their own fan."""

BEHAVIORS = (
    const.CONF_SPEED_CONTROL,
    const.CONF_BLEED,
    const.CONF_TRANSPORT_SHUTOFF_DELAY,
    const.CONF_TOGETHER_ALARM,
)
"""The automatic functions that the owner can turn on."""

_PAIRS = (
    (const.CONF_FREE_FLOW, const.CONF_MAX_SUCTION),
    (const.CONF_SEPARATOR_FLOW, const.CONF_SEPARATOR_LOSS),
    (const.CONF_FILTER_FLOW, const.CONF_FILTER_LOSS),
)
_SINGLE = (
    const.CONF_INLET_DIAMETER,
    const.CONF_STACK_DIAMETER,
    const.CONF_STACK_LENGTH,
    const.CONF_TEMPERATURE,
    const.CONF_ALTITUDE,
)


def _judge_drive(hass: HomeAssistant, entity_id: str) -> UnusableSensor | None:
    if split_entity_id(entity_id)[0] == NUMBER:
        return None
    state = hass.states.get(entity_id)
    features = state.attributes.get(ATTR_SUPPORTED_FEATURES, 0) if state else 0
    if features & FanEntityFeature.SET_SPEED:
        return None
    return UnusableSensor("no_speed", name_of(hass, entity_id))


DRIVE = EntityPicker(
    role=EntityRole.DRIVE,
    domains=(FAN, NUMBER),
    judge=_judge_drive,
    faults=("no_speed",),
    likely=likely_any,
)


def _limits(hass: HomeAssistant) -> Iterator[FieldLimits]:
    """Yield the limits of a flow and of a pressure, in the units in use."""
    yield from (limit_in(hass, limits) for limits in (FLOW, LOSS))


def _point_text(hass: HomeAssistant, point: tuple[float, float]) -> str:
    """Return a point of the fan's curve as a person types it."""
    return " ".join(
        f"{float(f'{from_si(value, limit.unit):.4g}'):g}"
        for value, limit in zip(point, _limits(hass), strict=True)
    )


class _FanPointsField(TextsField):
    """Points of the fan's curve: two numbers each, flow and pressure."""

    faults = (
        "fan_point_unreadable",
        "fan_point_range",
        "fan_curve_odd",
    )

    @override
    def placeholders(self, context: FormContext) -> dict[str, str]:
        return {
            "point_units": " ".join(str(limit.unit) for limit in _limits(context.hass)),
            "point_example": _point_text(context.hass, (0.472, 1993.0)),
        }

    @override
    def load(self, context: FormContext) -> list[str] | None:
        stored = context.stored.get(self.key, ())
        return [_point_text(context.hass, point) for point in stored] or None

    @override
    def dump(self, answers: Answers) -> list[list[float]] | None:
        context, typed = answers.context, answers.typed.get(self.key)
        if not typed:
            return None
        texts: list[str] = [text for text in typed if text.strip()]
        if texts == context.shown.get(self.key):
            kept: list[list[float]] = context.stored[self.key]
            return kept
        points: list[list[float]] = []
        for text in texts:
            point = self._point(answers, text)
            if not point:
                return []
            points.append(point)
        points.sort()
        try:
            Fan(points=tuple((flow, pressure) for flow, pressure in points))
        except AirflowError:
            answers.refuse(self.key, "fan_curve_odd")
        return points

    def _point(self, answers: Answers, text: str) -> list[float]:
        """Validate one point; return its flow and pressure, if they're valid."""
        limits = list(_limits(answers.context.hass))
        try:
            flow, pressure = map(float, re.split(r"[\s;/]+", text.strip()))
        except ValueError:
            answers.refuse(self.key, "fan_point_unreadable", text)
            return []
        point = list(zip((flow, pressure), limits, strict=True))
        if not all(0 <= number <= limit.high for number, limit in point):
            ranges = ", ".join(f"0–{limit.high:g} {limit.unit}" for limit in limits)
            answers.refuse(self.key, "fan_point_range", f"{text} ({ranges})")
            return []
        return [to_si(number, limit.unit) for number, limit in point]


def _read_air(answers: Answers) -> None:
    """Validate the fan's data; the gauge is read after the drive."""
    answers.read(*_SINGLE)
    for pair in _PAIRS:
        answers.read(*pair)
        answers.refuse_half(pair, "half_of_pair")
    answers.read(
        const.CONF_FAN_POINTS,
        const.CONF_DISCHARGE,
        const.CONF_CARRIED,
        const.CONF_INLET,
    )
    _check_stack(answers)
    answers.read(const.CONF_AIR_MARGIN)


def _check_stack(answers: Answers) -> None:
    """Reject a stack that is half described, or that has no flow."""
    data = answers.data
    if const.CONF_DISCHARGE in data:
        if const.CONF_STACK_LENGTH in data and const.CONF_STACK_DIAMETER not in data:
            answers.refuse(const.CONF_STACK_DIAMETER, "stack_diameter_missing")
        return
    for key in (const.CONF_STACK_DIAMETER, const.CONF_STACK_LENGTH):
        if key in data and answers.touched(key):
            answers.refuse(const.CONF_DISCHARGE, "stack_without_outside")


def _read_driving(answers: Answers) -> None:
    """Validate the speeds, and the automatic functions."""
    answers.read(const.CONF_DRIVE, const.CONF_SUCTION, *BEHAVIORS)
    data, typed = answers.data, answers.typed
    floor = answers.number(const.CONF_DRIVE_FLOOR, FLOOR)
    ceiling = answers.number(const.CONF_DRIVE_CEILING, CEILING)
    if const.CONF_DRIVE in data:
        data |= {const.CONF_DRIVE_FLOOR: floor, const.CONF_DRIVE_CEILING: ceiling}
    elif const.CONF_SPEED_CONTROL in data and not typed.get(const.CONF_DRIVE):
        answers.refuse(const.CONF_DRIVE, "drive_missing")
    if floor > ceiling:
        answers.refuse(const.CONF_DRIVE_FLOOR, "floor_over_ceiling")
    known = typed.get(const.CONF_FAN_POINTS) or const.CONF_FREE_FLOW in data
    if data.keys() & set(BEHAVIORS) and not known:
        answers.refuse(const.CONF_FAN_POINTS, "fan_missing")


AIR = Group(
    "air",
    _FanPointsField(const.CONF_FAN_POINTS),
    QuantityField(const.CONF_FREE_FLOW, FLOW),
    QuantityField(const.CONF_MAX_SUCTION, LOSS),
    QuantityField(const.CONF_INLET_DIAMETER, WIDTH),
    ChoiceField(const.CONF_INLET, INLETS, omit=USUAL_INLET),
    QuantityField(const.CONF_SEPARATOR_FLOW, FLOW),
    QuantityField(const.CONF_SEPARATOR_LOSS, LOSS),
    QuantityField(const.CONF_FILTER_FLOW, FLOW),
    QuantityField(const.CONF_FILTER_LOSS, LOSS),
    ChoiceField(
        const.CONF_DISCHARGE,
        DischargeKind,
        required=True,
        default=DischargeKind.RETURN,
        new=DischargeKind.RETURN,
        omit=DischargeKind.RETURN,
    ),
    QuantityField(const.CONF_STACK_DIAMETER, WIDTH),
    QuantityField(const.CONF_STACK_LENGTH, RUN),
    ChoiceField(const.CONF_CARRIED, MATERIALS_CARRIED),
    QuantityField(const.CONF_TEMPERATURE, TEMPERATURE, placeholder=USUAL_TEMPERATURE),
    QuantityField(
        const.CONF_ALTITUDE,
        ALTITUDE,
        placeholder=lambda context: float(context.hass.config.elevation),
    ),
    # A static pressure sensor is validated like any other pressure sensor.
    EntityField(const.CONF_SUCTION, FILTER_PRESSURE),
    NumberField(const.CONF_AIR_MARGIN, FieldLimits(0, 100, PERCENTAGE)),
    read=_read_air,
    errors=("half_of_pair", "stack_diameter_missing", "stack_without_outside"),
)

DRIVING = Group(
    "driving",
    EntityField(const.CONF_DRIVE, DRIVE),
    NumberField(const.CONF_DRIVE_FLOOR, FieldLimits(10, 100, PERCENTAGE)),
    NumberField(const.CONF_DRIVE_CEILING, FieldLimits(10, 100, PERCENTAGE)),
    *(SettingField(key, required=True, default=False, new=False) for key in BEHAVIORS),
    read=_read_driving,
    errors=("drive_missing", "floor_over_ceiling", "fan_missing"),
)
