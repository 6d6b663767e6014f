"""Where a gate sits, in its form: on which duct, and what lies before it."""

from typing import Any, override

from .. import const
from ..air.ducts import OLD_HOSE, OLD_SEAL, USUAL_HOOD, USUAL_HOSE, USUAL_SEAL
from ..air.needs import IN_DUCT
from ..airflow import HOODS, HoseState, Seal
from ..const import CONF_HOOD, SUBENTRY_DUCT, SUBENTRY_GATE
from ..forms.field import Answers, FormContext
from ..forms.form import Group
from ..forms.kinds import ChoiceField
from ..forms.numbers import RUN, WIDTH, Limit, NumberField, QuantityField
from .duct import ENTRY_ANGLE, DuctField

HOOD_CHOICES = (
    USUAL_HOOD,
    *(hood for hood in HOODS if hood != USUAL_HOOD),
    IN_DUCT,
)

_BEFORE_IT = (
    QuantityField(const.CONF_PORT_DIAMETER, WIDTH),
    QuantityField(const.CONF_HOSE_DIAMETER, WIDTH),
    QuantityField(const.CONF_HOSE_LENGTH, RUN),
    QuantityField(const.CONF_DROP_DIAMETER, WIDTH),
    QuantityField(const.CONF_DROP_LENGTH, RUN),
    NumberField(const.CONF_DROP_ELBOWS, Limit(0, 10, None)),
    NumberField(const.CONF_ENTRY_ANGLE, ENTRY_ANGLE),
)
"""What lies between the duct and the opening."""


class _AgedField(ChoiceField):
    """A choice that gates were placed without once: `omit` is what they are."""

    @override
    def load(self, context: FormContext) -> Any:
        placed = _DUCT.load(context) is not None
        return context.stored.get(self.key, self.omit if placed else self.new)

    @override
    def dump(self, answers: Answers) -> str:
        shown = answers.context.shown.get(self.key)
        return str(answers.typed.get(self.key) or shown or self.omit)


def _has_ducts(context: FormContext) -> bool:
    return bool(context.system.get_subentries_of_type(SUBENTRY_DUCT))


_DUCT = DuctField(const.CONF_DUCT)


def _read_place(answers: Answers) -> None:
    """Judge where a gate sits; without a duct nothing else says anything."""
    given = [field.key for field in _BEFORE_IT if answers.typed.get(field.key)]
    duct = answers.typed.get(const.CONF_DUCT)
    if not duct:
        # What was left from a duct that is gone is no mistake.
        if answers.touched(CONF_HOOD, *given):
            answers.refuse(const.CONF_DUCT, "place_without_duct")
        return
    context = answers.context
    if duct not in _DUCT.ducts(context):
        answers.refuse(const.CONF_DUCT, "unknown_duct")
        return
    answers.read(const.CONF_DUCT, CONF_HOOD, const.CONF_SEAL)
    if answers.typed[CONF_HOOD] == IN_DUCT:
        if given:
            answers.refuse(CONF_HOOD, "opening_unused")
        for gate in context.system.get_subentries_of_type(SUBENTRY_GATE):
            in_duct = gate.data.get(CONF_HOOD) == IN_DUCT
            if in_duct and (
                gate.subentry_id != context.part_id
                and gate.data.get(const.CONF_DUCT) == duct
            ):
                answers.refuse(CONF_HOOD, "duct_gate_taken", gate.title)
        return
    answers.read(*given)
    if const.CONF_HOSE_LENGTH in answers.data:
        answers.read(const.CONF_HOSE_STATE)
    elbows = answers.data.get(const.CONF_DROP_ELBOWS, 0)
    if elbows % 1:
        answers.refuse(const.CONF_DROP_ELBOWS, "elbow_parts")
    elif elbows:
        answers.data[const.CONF_DROP_ELBOWS] = int(elbows)


PLACE = Group(
    "place",
    _DUCT,
    ChoiceField(CONF_HOOD, HOOD_CHOICES, required=True, new=USUAL_HOOD),
    *_BEFORE_IT,
    _AgedField(const.CONF_HOSE_STATE, HoseState, new=USUAL_HOSE, omit=OLD_HOSE),
    _AgedField(const.CONF_SEAL, Seal, new=USUAL_SEAL, omit=OLD_SEAL),
    exists=_has_ducts,
    read=_read_place,
    errors=("place_without_duct", "opening_unused", "duct_gate_taken", "elbow_parts"),
)
