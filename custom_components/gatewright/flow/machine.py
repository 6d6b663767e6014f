"""The form of a machine or pickup."""

from collections.abc import Mapping
from typing import cast, override

from homeassistant.const import CONF_NAME

from .. import const
from ..air.needs import usual_flow
from ..forms.field import Answers, FormContext
from ..forms.form import Form, Group, read_elsewhere
from ..forms.kinds import BooleanField, ChoiceField, EntityField, NameField, PartsField
from ..forms.names import guess_kind, machine_name
from ..forms.numbers import FLOW, SIZE, Limit, NumberField, QuantityField
from ..forms.picks import ATTACHED, COMPANION, FORETOLD, MACHINE_SENSOR
from ..record.book import RecordBook
from ..record.time_to_air_text import time_to_air_text
from ..shop.kinds import KIND_DEFAULTS, MachineKind
from ..system_context import loaded_system
from ..text.texts import Texts
from .clearing import (
    CLEARING,
    CLEARING_ERRORS,
    CLEARING_TIMES,
    FIRST_GATES,
    read_clearing,
)
from .detection import DETECTION
from .parts import NEW_PART, machine_part, machine_problems
from .rehearse import REHEARSE

CONF_FIND = "find_levels"

_FIELDS_OF_THE_CORE = {"certain": const.CONF_CERTAIN, const.CONF_CLEARING: FIRST_GATES}
"""Where the form shows what the core finds wrong under another name."""
_LINKED = (
    const.CONF_ATTACHED,
    const.CONF_COMPANIONS,
    const.CONF_FORETOLD,
    const.CONF_RELAY,
)
"""Entities that are picked in several groups; the first one of these has the entity."""


class _FindField(BooleanField):
    """Whether to find out when the machine runs; not again for one that is stored."""

    @override
    def load(self, context: FormContext) -> bool:
        return False


class _RequestField(NumberField):
    """How long a request lasts: zero is how a form says that it never ends."""

    @override
    def load(self, context: FormContext) -> float:
        return super().load(context) or 0.0


def _usual_for(kind: MachineKind) -> dict[str, float]:
    """Return what a kind brings along, as the form shows it."""
    usual = KIND_DEFAULTS[kind]
    return {
        const.CONF_HOLD: usual.hold,
        **dict.fromkeys(CLEARING_TIMES, usual.clearing),
        const.CONF_REQUEST_LIMIT: (usual.request_limit or 0) / 60,
    }


def _read_machine(answers: Answers) -> None:
    answers.read(const.CONF_SENSOR, CONF_NAME)
    kind = MachineKind(answers.typed.get(const.CONF_KIND) or guess_kind(answers.name))
    answers.typed[const.CONF_KIND] = kind
    answers.read(const.CONF_KIND, const.CONF_GATES)
    # Times that were usual for the kind before and were left so are forgotten.
    was = answers.context.shown.get(const.CONF_KIND) or kind
    for key, usual in _usual_for(MachineKind(was)).items():
        if was != kind and answers.left_as(key, usual):
            answers.typed[key] = None


def _read_afterwards(answers: Answers) -> None:
    usual = KIND_DEFAULTS[answers.typed[const.CONF_KIND]]
    answers.data[const.CONF_HOLD] = answers.number(const.CONF_HOLD, usual.hold)
    answers.read(const.CONF_NEEDS_AIR)
    read_clearing(answers, usual.clearing)


def _read_more(answers: Answers) -> None:
    usual = KIND_DEFAULTS[answers.typed[const.CONF_KIND]].request_limit
    if limit := answers.number(const.CONF_REQUEST_LIMIT, usual or 0):
        answers.data[const.CONF_REQUEST_LIMIT] = limit


def _check(answers: Answers) -> None:
    """Take what is picked, and add what the core finds wrong with the machine."""
    answers.read(*_LINKED)
    context = answers.context
    machine = machine_part(NEW_PART, answers.data)
    for problem in machine_problems(context.gates.values(), machine):
        place = _FIELDS_OF_THE_CORE.get(problem.field, problem.field)
        if problem.code not in ("negative", "not_positive"):
            answers.refuse(place, problem.code)
        elif problem.field != const.CONF_CLEARING:
            field = cast("NumberField", MACHINE[place])
            limit = field.limit_for(context, answers.typed)
            answers.refuse(place, f"bad_{place}", str(limit))


def _usual_flow(context: FormContext) -> float | None:
    """Return the flow in m3/s that is usual for the kind of machine that is stored."""
    if (kind := context.stored.get(const.CONF_KIND)) is None:
        return None
    return usual_flow(MachineKind(kind), context.stored.get(const.CONF_SIZE)) or None


def _time_to_air(context: FormContext) -> Mapping[str, str]:
    """Return how long the machine in hand waits for its air and why, if known."""
    entry = context.system
    system = None if entry is None else loaded_system(entry)
    told = None
    if system is not None:
        told = system.of(RecordBook).keeper.time_to_air(context.part_id)
    texts = Texts.cached(context.hass)
    return {"time_to_air": time_to_air_text(texts, told, context.part_names)}


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
        REHEARSE,
        collapsed=False,
        read=_read_machine,
        errors=("machine_without_gates", "unknown_gate"),
        about=_time_to_air,
    ),
    DETECTION,
    Group(
        "afterwards",
        NumberField(const.CONF_HOLD, Limit(0, 600)),
        BooleanField(const.CONF_NEEDS_AIR, required=True, new=True, usual=True),
        *CLEARING,
        read=_read_afterwards,
        errors=("machine_never_gets_air", *CLEARING_ERRORS),
        owns=(const.CONF_CLEARING,),
    ),
    Group(
        "need",
        QuantityField(const.CONF_SIZE, SIZE),
        QuantityField(const.CONF_REQUIRED_FLOW, FLOW, placeholder=_usual_flow),
    ),
    Group("ahead", EntityField(const.CONF_FORETOLD, FORETOLD), read=read_elsewhere),
    Group(
        "movable",
        EntityField(const.CONF_ATTACHED, ATTACHED),
        NumberField(const.CONF_HOSE_CONFIRM, Limit(0, 60)),
        read=lambda answers: answers.read(const.CONF_HOSE_CONFIRM),
    ),
    Group(
        "more",
        EntityField(const.CONF_COMPANIONS, COMPANION, multiple=True, usual=[]),
        _RequestField(const.CONF_REQUEST_LIMIT, Limit(0, 1440, "min"), size=60),
        read=_read_more,
    ),
    check=_check,
)
"""The form; its groups are read in order, but what they pick only at the end."""
