"""The form of a gate, and the steps for adding and changing one."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, override

from homeassistant.config_entries import ConfigSubentry, SubentryFlowResult
from homeassistant.const import CONF_NAME, PERCENTAGE

from ... import const
from ...core.config import GateConfig, GateKind, IdlePosition, gates_of
from ...core.kinds import TRAVEL_DEFAULTS, ActuatorSort
from ...features.suggestions.measured import measured_strokes
from ...runtime.entity_references import to_entity_id
from ..entity_picker import GATE_ACTUATOR, GATE_POSITION
from ..field import Answers, FormContext, Values
from ..form import Form, Group
from ..kinds import BooleanField, ChoiceField, EntityField, NameField
from ..names import gate_name, guess_sort
from ..numbers import FieldLimits, NumberField
from ..sensor_description import INPUT_BOOLEAN, name_of
from .new_gate import CONF_USERS, USERS, add_gate
from .part_steps import PartFlow, page_step
from .parts import machine_parts
from .place import PLACE, has_ducts

_SENSORS = (const.CONF_OPEN_SENSOR, const.CONF_CLOSED_SENSOR)
_USUAL = GateConfig(gate_id="", name="")
ON_OFF = ("switch", INPUT_BOOLEAN)


def _follow_sort(answers: Answers) -> None:
    """Clear a travel time that was still the default of the earlier kind."""
    shown = answers.context.shown
    sort = _sort(answers)
    was = ActuatorSort(shown.get(const.CONF_ACTUATOR_SORT) or sort)
    if was is not sort and answers.left_as(const.CONF_TRAVEL, TRAVEL_DEFAULTS[was]):
        answers.typed[const.CONF_TRAVEL] = None


def _sort(answers: Answers) -> ActuatorSort:
    """Return the kind of actuator, which only a powered gate has."""
    sort = answers.typed.get(const.CONF_ACTUATOR_SORT)
    actuator = answers.typed.get(const.CONF_ACTUATOR)
    if answers.typed[const.CONF_GATE_KIND] != GateKind.POWERED or not actuator:
        return ActuatorSort.OTHER
    hass = answers.context.hass
    if not sort and answers.context.new:
        return guess_sort(name_of(hass, to_entity_id(hass, actuator) or actuator))
    return ActuatorSort(sort or ActuatorSort.OTHER)


def _read_gate(answers: Answers) -> None:
    answers.read(const.CONF_ACTUATOR, *_SENSORS, CONF_NAME, const.CONF_GATE_KIND)
    sensed = [key for key in _SENSORS if answers.picked[key]]
    moved = bool(answers.picked[const.CONF_ACTUATOR])
    kind = GateKind(answers.typed[const.CONF_GATE_KIND])
    if kind is GateKind.POWERED and not moved:
        answers.refuse(const.CONF_ACTUATOR, "actuator_missing")
    if kind is not GateKind.POWERED and moved:
        answers.refuse(const.CONF_ACTUATOR, "actuator_unused")
    if kind is GateKind.HAND and not sensed:
        answers.refuse(const.CONF_OPEN_SENSOR, "hand_without_sensor")
    if kind is GateKind.FIXED:
        for key in sensed:
            answers.refuse(key, "sensor_unused")


def _read_movement(answers: Answers) -> None:
    answers.read(const.CONF_INVERTED)
    domains = {
        entity.partition(".")[0] for entity in answers.picked[const.CONF_ACTUATOR]
    }
    if answers.data[const.CONF_INVERTED] and not domains <= set(ON_OFF):
        answers.refuse(const.CONF_INVERTED, "inverted_not_switch")
    answers.read(const.CONF_OPEN_FROM, const.CONF_TRAVEL, const.CONF_IDLE_POSITION)
    # Where none is stored, as by earlier versions, it's "other".
    if (sort := _sort(answers)) is not ActuatorSort.OTHER:
        answers.data[const.CONF_ACTUATOR_SORT] = sort.value


class _SortField(ChoiceField):
    """What moves a gate: guessed for a new one, "other" if none is stored."""

    @override
    def load(self, context: FormContext) -> Any:
        return super().load(context) or ActuatorSort.OTHER


class _TravelField(NumberField):
    """A gate's travel time; the default depends on what moves it."""

    @override
    def dump(self, answers: Answers) -> float | None:
        return self.typed(answers, TRAVEL_DEFAULTS[_sort(answers)])


def _about(context: FormContext) -> Mapping[str, str]:
    entry = context.system
    users = [
        entry.subentries[machine_id].title
        for machine_id, machine in machine_parts(entry).items()
        if context.part_id in gates_of(machine)
    ]
    return {
        "machines": ", ".join(users) or "–",
        **measured_strokes(context.hass, entry, context.part_id),
    }


GATE = Form(
    Group(
        "gate",
        NameField(
            required=lambda context: not context.new,
            after=(const.CONF_ACTUATOR, *_SENSORS),
            guess=gate_name,
        ),
        ChoiceField(
            const.CONF_GATE_KIND, GateKind, required=True, new=GateKind.POWERED
        ),
        EntityField(const.CONF_ACTUATOR, GATE_ACTUATOR),
        EntityField(const.CONF_OPEN_SENSOR, GATE_POSITION),
        EntityField(const.CONF_CLOSED_SENSOR, GATE_POSITION),
        collapsed=False,
        read=_read_gate,
        errors=(
            "actuator_missing",
            "actuator_unused",
            "hand_without_sensor",
            "sensor_unused",
        ),
        about=_about,
    ),
    Group("users", USERS, collapsed=False),
    Group(
        "movement",
        _SortField(const.CONF_ACTUATOR_SORT, ActuatorSort),
        BooleanField(const.CONF_INVERTED, required=True, new=False, usual=False),
        _TravelField(const.CONF_TRAVEL, FieldLimits(0, 120)),
        NumberField(const.CONF_OPEN_FROM, FieldLimits(50, 100, PERCENTAGE)),
        ChoiceField(
            const.CONF_IDLE_POSITION, IdlePosition, required=True, new=_USUAL.rest
        ),
        read=_read_movement,
        errors=("inverted_not_switch",),
    ),
    PLACE,
    prepare=_follow_sort,
)


_BASICS = (
    CONF_NAME,
    const.CONF_GATE_KIND,
    const.CONF_ACTUATOR,
    const.CONF_ACTUATOR_SORT,
    *_SENSORS,
    const.CONF_INVERTED,
    const.CONF_TRAVEL,
)
_BASIC_ERRORS = (
    "actuator_missing",
    "actuator_unused",
    "hand_without_sensor",
    "sensor_unused",
    "inverted_not_switch",
)

GATE_PAGES: Mapping[str, Form] = {
    "user": GATE.page(
        "user", *_BASICS[:3], CONF_USERS, *_BASICS[3:], errors=_BASIC_ERRORS
    ),
    "basics": GATE.page(
        "basics",
        *_BASICS,
        const.CONF_OPEN_FROM,
        const.CONF_IDLE_POSITION,
        errors=_BASIC_ERRORS,
        about=_about,
    ),
    "place": GATE.page(
        "place",
        const.CONF_DUCT,
        const.CONF_ENTRY_ANGLE,
        const.CONF_DROP_DIAMETER,
        const.CONF_DROP_LENGTH,
        const.CONF_DROP_ELBOWS,
        const.CONF_SEAL,
        errors=PLACE.errors,
    ),
    "opening": GATE.page(
        "opening",
        const.CONF_HOOD,
        const.CONF_PORT_DIAMETER,
        const.CONF_HOSE_DIAMETER,
        const.CONF_HOSE_LENGTH,
        const.CONF_HOSE_STATE,
        errors=PLACE.errors,
    ),
}
"""The form's pages, by their steps; at most ten fields each."""


class GateFlow(PartFlow):
    """Add or change a gate."""

    form = GATE
    pages = GATE_PAGES

    async_step_place = page_step("place")
    async_step_opening = page_step("opening")

    @override
    def offered(self, stored: Values) -> list[str]:
        there = ["basics"]
        placed = const.CONF_DUCT in stored
        if placed or has_ducts(self._get_entry()):
            there.append("place")
        if placed:
            there.append("opening")
        return there

    @override
    async def take(
        self, step: str, answers: Answers, user_input: Values
    ) -> SubentryFlowResult:
        users = answers.typed.get(CONF_USERS)
        if not self.part_id and users:
            return self._add_for(users, answers.name, answers.data)
        return await super().take(step, answers, user_input)

    def _add_for(
        self, users: list[str], name: str, data: dict[str, Any]
    ) -> SubentryFlowResult:
        """Add a gate to the system and to the machines that use it."""
        entry = self._get_entry()
        gate = ConfigSubentry(
            data=MappingProxyType(data),
            subentry_type=const.SUBENTRY_GATE,
            title=name,
            unique_id=None,
        )
        add_gate(self.hass, entry, gate, users)
        titles = [entry.subentries[machine].title for machine in users]
        # Home Assistant doesn't accept an id for a gate that it creates itself.
        return self.async_abort(
            reason="gate_added",
            description_placeholders={"name": name, "machines": ", ".join(titles)},
        )
