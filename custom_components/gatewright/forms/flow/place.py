"""Where a gate is installed, in its form: on which duct, and what lies before it."""

from dataclasses import KW_ONLY, dataclass
from typing import Any, override

from homeassistant.config_entries import ConfigEntry

from ... import const
from ...const import CONF_HOOD, SUBENTRY_DUCT, SUBENTRY_GATE
from ...core.airflow import HOODS, HoseState, Seal
from ...features.airflow.ducts import (
    OLD_HOSE,
    OLD_SEAL,
    USUAL_HOOD,
    USUAL_HOSE,
    USUAL_SEAL,
)
from ...features.airflow.needs import IN_DUCT
from ..field import Answers, FormContext
from ..form import Group
from ..kinds import ChoiceField
from ..numbers import RUN, WIDTH, FieldLimits, NumberField, QuantityField
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
    NumberField(const.CONF_DROP_ELBOWS, FieldLimits(0, 10, None)),
    NumberField(const.CONF_ENTRY_ANGLE, ENTRY_ANGLE),
)
"""What lies between the duct and the opening."""


@dataclass(frozen=True)
class _AgedField(ChoiceField):
    """A choice that didn't always exist: `omit` is what was stored without it.

    That is the value under `of`.
    """

    _: KW_ONLY
    of: str = const.CONF_DUCT

    @override
    def load(self, context: FormContext) -> Any:
        old = self.of in context.stored and _DUCT.load(context) is not None
        return context.stored.get(self.key, self.omit if old else self.new)

    @override
    def dump(self, answers: Answers) -> str:
        shown = answers.context.shown.get(self.key)
        return str(answers.typed.get(self.key) or shown or self.omit)


def has_ducts(entry: ConfigEntry[Any]) -> bool:
    """Return whether a system has any duct for a gate."""
    return bool(entry.get_subentries_of_type(SUBENTRY_DUCT))


_DUCT = DuctField(const.CONF_DUCT)


def _read_place(answers: Answers) -> None:
    """Validate where a gate is installed; without a duct the rest is meaningless."""
    given = [field.key for field in _BEFORE_IT if answers.typed.get(field.key)]
    duct = answers.typed.get(const.CONF_DUCT)
    if not duct:
        # A leftover of a removed duct is no error.
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
    _AgedField(
        const.CONF_HOSE_STATE,
        HoseState,
        new=USUAL_HOSE,
        omit=OLD_HOSE,
        of=const.CONF_HOSE_LENGTH,
    ),
    _AgedField(const.CONF_SEAL, Seal, new=USUAL_SEAL, omit=OLD_SEAL),
    read=_read_place,
    errors=("place_without_duct", "opening_unused", "duct_gate_taken", "elbow_parts"),
)
