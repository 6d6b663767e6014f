"""The form of a machine or pickup."""

from collections.abc import Mapping
from dataclasses import replace
from typing import cast, override

from homeassistant.const import CONF_NAME

from ... import const
from ...core.kinds import KIND_DEFAULTS, MachineKind
from ...core.stored.parts import StoredMachine
from ...core.stored.table import table_of
from ...features.airflow.needs import usual_flow
from ...features.statistics.manager import StatisticsManager
from ...features.statistics.time_to_air_text import time_to_air_text
from ...runtime.system_context import loaded_system
from ...texts.texts import Texts
from ..entity_picker import CONNECTED, EARLY_SIGNAL, LINKED_DEVICE, MACHINE_SENSOR
from ..field import Answers, FormContext
from ..form import Form, Group, read_elsewhere
from ..kinds import BooleanField, ChoiceField, EntityField, NameField, PartsField
from ..names import guess_kind, machine_name
from ..numbers import FLOW, SIZE, FieldLimits, NumberField, QuantityField
from ..sensor_description import Signal
from .detection import DETECTION, describe_sensor, sensor_in
from .parts import NEW_PART, machine_part, machine_problems
from .purge import FIRST_GATES, PURGE_ERRORS, PURGE_TIMES, PURGING, read_purge
from .simulate_steps import CONF_SIMULATE, SIMULATE

CONF_FIND = "find_levels"

_FIELDS_OF_THE_CORE = {
    **{item.place: item.key for item in table_of(StoredMachine).fields},
    "purge": FIRST_GATES,
}
"""The field that shows a problem which the core reports under another name."""
_WITH_OTHERS = (const.CONF_RUN_LIMIT, const.CONF_RELAY)
"""The sensor's fields that are on another page than the levels."""
_LINKED = (
    const.CONF_CONNECTED,
    const.CONF_LINKED_DEVICES,
    const.CONF_EARLY_SIGNAL,
    const.CONF_RELAY,
)
"""Entities that are picked in several groups; the first of these has the entity."""


class _FindField(BooleanField):
    """Whether to find the levels from history; not offered again once stored."""

    @override
    def load(self, context: FormContext) -> bool:
        return False


class _RequestField(NumberField):
    """How long a request lasts: zero means that it never ends."""

    @override
    def load(self, context: FormContext) -> float:
        return super().load(context) or 0.0


def _usual_for(kind: MachineKind) -> dict[str, float]:
    """Return a kind's defaults, as the form shows them."""
    usual = KIND_DEFAULTS[kind]
    return {
        const.CONF_HOLD: usual.hold,
        **dict.fromkeys(PURGE_TIMES, usual.purge),
        const.CONF_REQUEST_LIMIT: (usual.request_limit or 0) / 60,
    }


def _read_machine(answers: Answers) -> None:
    answers.read(const.CONF_SENSOR, CONF_NAME)
    kind = MachineKind(answers.typed.get(const.CONF_KIND) or guess_kind(answers.name))
    answers.typed[const.CONF_KIND] = kind
    answers.read(const.CONF_KIND, const.CONF_GATES)
    # Times that were still the earlier kind's defaults are cleared.
    was = answers.context.shown.get(const.CONF_KIND) or kind
    for key, usual in _usual_for(MachineKind(was)).items():
        if was != kind and answers.left_as(key, usual):
            answers.typed[key] = None


def _read_afterwards(answers: Answers) -> None:
    usual = KIND_DEFAULTS[answers.typed[const.CONF_KIND]]
    answers.data[const.CONF_HOLD] = answers.number(const.CONF_HOLD, usual.hold)
    answers.read(const.CONF_COLLECT_WHILE_RUNNING)
    read_purge(answers, usual.purge)


def _read_more(answers: Answers) -> None:
    usual = KIND_DEFAULTS[answers.typed[const.CONF_KIND]].request_limit
    if limit := answers.number(const.CONF_REQUEST_LIMIT, usual or 0):
        answers.data[const.CONF_REQUEST_LIMIT] = limit


def _check(answers: Answers) -> None:
    """Store the picked entities, and add the core's problems with the machine."""
    answers.read(*_LINKED)
    context = answers.context
    machine = machine_part(NEW_PART, answers.data)
    for problem in machine_problems(context.gates.values(), machine):
        place = _FIELDS_OF_THE_CORE.get(problem.field, problem.field)
        if problem.code not in ("negative", "not_positive"):
            answers.refuse(place, problem.code)
        elif problem.field != "purge":
            field = cast("NumberField", MACHINE[place])
            limit = field.limit_for(context, answers.typed)
            answers.refuse(place, f"bad_{place}", str(limit))


def _usual_flow(context: FormContext) -> float | None:
    """Return the usual flow in m3/s of the stored kind of machine."""
    kind = MachineKind(context.stored[const.CONF_KIND])
    return usual_flow(kind, context.stored.get(const.CONF_SIZE)) or None


def _time_to_air(context: FormContext) -> Mapping[str, str]:
    """Return the machine's time to air and what limits it, if known."""
    entry = context.system
    system = None if entry is None else loaded_system(entry)
    timing = None
    if system is not None:
        timing = system.of(StatisticsManager).keeper.time_to_air(context.part_id)
    texts = Texts.cached(context.hass)
    return {"time_to_air": time_to_air_text(texts, timing, context.part_names)}


MACHINE = Form(
    Group(
        "machine",
        NameField(
            required=lambda context: not context.new,
            after=(const.CONF_SENSOR,),
            guess=machine_name,
        ),
        ChoiceField(
            const.CONF_KIND, MachineKind, required=lambda context: not context.new
        ),
        EntityField(const.CONF_SENSOR, MACHINE_SENSOR),
        _FindField(CONF_FIND, new=True, stored=False),
        PartsField(const.CONF_GATES),
        SIMULATE,
        collapsed=False,
        read=_read_machine,
        errors=("machine_without_gates", "unknown_gate"),
        about=_time_to_air,
    ),
    DETECTION,
    Group(
        "afterwards",
        NumberField(const.CONF_HOLD, FieldLimits(0, 600)),
        BooleanField(
            const.CONF_COLLECT_WHILE_RUNNING, required=True, new=True, usual=True
        ),
        *PURGING,
        read=_read_afterwards,
        errors=("machine_never_gets_air", *PURGE_ERRORS),
        owns=(const.CONF_PURGE,),
    ),
    Group(
        "need",
        QuantityField(const.CONF_SIZE, SIZE),
        QuantityField(const.CONF_REQUIRED_FLOW, FLOW, placeholder=_usual_flow),
    ),
    Group(
        "ahead", EntityField(const.CONF_EARLY_SIGNAL, EARLY_SIGNAL), read=read_elsewhere
    ),
    Group(
        "movable",
        EntityField(const.CONF_CONNECTED, CONNECTED),
        NumberField(const.CONF_HOSE_CONFIRM, FieldLimits(0, 60)),
        read=lambda answers: answers.read(const.CONF_HOSE_CONFIRM),
    ),
    Group(
        "more",
        EntityField(const.CONF_LINKED_DEVICES, LINKED_DEVICE, multiple=True, usual=[]),
        _RequestField(const.CONF_REQUEST_LIMIT, FieldLimits(0, 1440, "min"), size=60),
        read=_read_more,
    ),
    check=_check,
)
"""The form; its groups are read in order, and their entities at the end."""


def _is_unclear(context: FormContext) -> bool:
    """Return whether the sensor's states that mean running are unknown."""
    sensor = sensor_in(context, context.values)
    reported = describe_sensor(context, sensor) if sensor else None
    return isinstance(reported, Signal) and not reported.running


STATES_IF_UNCLEAR = replace(MACHINE[const.CONF_RUNNING_STATES], exists=_is_unclear)
"""The states that mean running, asked beside the sensor where needed."""

_BASICS = (
    CONF_NAME,
    const.CONF_KIND,
    const.CONF_SENSOR,
    STATES_IF_UNCLEAR,
    const.CONF_GATES,
    CONF_FIND,
)
_FROM_GATES = (
    "machine_without_gates",
    "unknown_gate",
    "machine_never_gets_air",
    *PURGE_ERRORS,
)

MACHINE_PAGES: Mapping[str, Form] = {
    "user": MACHINE.page("user", *_BASICS, CONF_SIMULATE, errors=_FROM_GATES),
    "basics": MACHINE.page("basics", *_BASICS, errors=_FROM_GATES),
    "detection": MACHINE.page(
        "detection",
        *(f.key for f in DETECTION.fields if f.key not in _WITH_OTHERS),
        CONF_SIMULATE,
        errors=DETECTION.errors,
        owns=(const.CONF_UNIT,),
    ),
    "afterwards": MACHINE.page(
        "afterwards",
        const.CONF_HOLD,
        const.CONF_COLLECT_WHILE_RUNNING,
        *(field.key for field in PURGING),
        CONF_SIMULATE,
        errors=_FROM_GATES,
        owns=(const.CONF_PURGE,),
    ),
    "more": MACHINE.page(
        "more",
        const.CONF_CONNECTED,
        const.CONF_HOSE_CONFIRM,
        const.CONF_LINKED_DEVICES,
        const.CONF_EARLY_SIGNAL,
        const.CONF_REQUEST_LIMIT,
        const.CONF_RUN_LIMIT,
        const.CONF_RELAY,
        errors=("run_limit_without_sensor",),
    ),
    "need": MACHINE.page("need", const.CONF_SIZE, const.CONF_REQUIRED_FLOW),
}
"""The form's pages, by their steps; at most ten fields each."""
