"""Where a gate sits, in its form: on which duct, and what lies before it."""

from collections.abc import Mapping
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant
import voluptuous as vol

from ..air.ducts import OLD_HOSE, OLD_SEAL, USUAL_HOOD, USUAL_HOSE, USUAL_SEAL
from ..air.needs import IN_DUCT
from ..airflow import HOODS, HoseState, Seal
from ..const import (
    CONF_DROP_DIAMETER,
    CONF_DROP_ELBOWS,
    CONF_DROP_LENGTH,
    CONF_DUCT,
    CONF_ENTRY_ANGLE,
    CONF_HOOD,
    CONF_HOSE_DIAMETER,
    CONF_HOSE_LENGTH,
    CONF_HOSE_STATE,
    CONF_PORT_DIAMETER,
    CONF_SEAL,
    SUBENTRY_DUCT,
    SUBENTRY_GATE,
)
from .duct import duct_choice
from .fields import Fields, choice_field, number_field, number_of, touched
from .mistakes import Mistakes
from .quantities import quantity_field, quantity_of, shown

HOOD_CHOICES = (
    USUAL_HOOD,
    *(hood for hood in HOODS if hood != USUAL_HOOD),
    IN_DUCT,
)

_QUANTITIES = (
    CONF_PORT_DIAMETER,
    CONF_HOSE_DIAMETER,
    CONF_HOSE_LENGTH,
    CONF_DROP_DIAMETER,
    CONF_DROP_LENGTH,
)
_NUMBERS = (CONF_DROP_ELBOWS, CONF_ENTRY_ANGLE)

_CHOICES = {
    CONF_HOSE_STATE: (HoseState, USUAL_HOSE, OLD_HOSE),
    CONF_SEAL: (Seal, USUAL_SEAL, OLD_SEAL),
}
"""Each choice: its words, what a new gate is shown with, what one without it is."""

PLACE = (CONF_DUCT, CONF_HOOD, *_QUANTITIES, *_NUMBERS, *_CHOICES)
"""The fields of this part of the form."""


def place_fields(hass: HomeAssistant, entry: ConfigEntry) -> Fields:
    """Return the fields for where a gate sits; none in a system without ducts."""
    if not entry.get_subentries_of_type(SUBENTRY_DUCT):
        return {}
    return {
        vol.Optional(CONF_DUCT): duct_choice(entry, collector=False),
        vol.Required(CONF_HOOD): choice_field(CONF_HOOD, HOOD_CHOICES),
        **{vol.Optional(field): quantity_field(hass, field) for field in _QUANTITIES},
        **{vol.Optional(field): number_field(field) for field in _NUMBERS},
        **{
            vol.Optional(field): choice_field(field, words)
            for field, (words, _, _) in _CHOICES.items()
        },
    }


def place_values(
    hass: HomeAssistant, entry: ConfigEntry, data: Mapping[str, Any]
) -> dict[str, Any]:
    """Return what a form shows for a stored gate."""
    ducts = {d.subentry_id for d in entry.get_subentries_of_type(SUBENTRY_DUCT)}
    duct = data.get(CONF_DUCT)
    return {
        CONF_DUCT: duct if duct in ducts else None,
        CONF_HOOD: data.get(CONF_HOOD, USUAL_HOOD),
        **{field: shown(hass, field, data.get(field)) for field in _QUANTITIES},
        **{field: data.get(field) for field in _NUMBERS},
        **{
            field: data.get(field, old if duct in ducts else new)
            for field, (_, new, old) in _CHOICES.items()
        },
    }


def read_place(
    hass: HomeAssistant,
    entry: ConfigEntry,
    typed: Mapping[str, Any],
    mistakes: Mistakes,
    before: Mapping[str, Any],
    gate_id: str,
) -> dict[str, Any]:
    """Judge where a gate sits; return what to store of it.

    `before` is what the form showed at first.
    """
    given = [field for field in (*_QUANTITIES, *_NUMBERS) if typed.get(field)]
    duct = typed.get(CONF_DUCT)
    if not duct:
        # What was left from a duct that is gone is no mistake.
        if any(touched(typed, before, field) for field in (CONF_HOOD, *given)):
            mistakes.add(CONF_DUCT, "place_without_duct")
        return {}
    ducts = {d.subentry_id: d for d in entry.get_subentries_of_type(SUBENTRY_DUCT)}
    if duct not in ducts:
        mistakes.add(CONF_DUCT, "unknown_duct")
        return {}
    stored = entry.subentries[gate_id].data if gate_id else {}
    data: dict[str, Any] = {CONF_DUCT: duct, CONF_HOOD: typed[CONF_HOOD]}
    for field, (words, _, old) in _CHOICES.items():
        if (choice := words(typed.get(field) or before.get(field) or old)) != old:
            data[field] = choice.value
    if typed[CONF_HOOD] == IN_DUCT:
        if given:
            mistakes.add(CONF_HOOD, "opening_unused")
        for gate in entry.get_subentries_of_type(SUBENTRY_GATE):
            if (
                gate.subentry_id != gate_id
                and gate.data.get(CONF_DUCT) == duct
                and gate.data.get(CONF_HOOD) == IN_DUCT
            ):
                mistakes.add(CONF_HOOD, "duct_gate_taken", gate.title)
        data.pop(CONF_HOSE_STATE, None)
        return data
    for field in given:
        if field in _QUANTITIES:
            data[field] = quantity_of(hass, typed, field, mistakes, before, stored, 0)
        else:
            data[field] = number_of(typed, field, mistakes, 0.0)
    if CONF_HOSE_LENGTH not in data:
        data.pop(CONF_HOSE_STATE, None)
    if data.get(CONF_DROP_ELBOWS, 0) % 1:
        mistakes.add(CONF_DROP_ELBOWS, "elbow_parts")
    elif CONF_DROP_ELBOWS in data:
        data[CONF_DROP_ELBOWS] = int(data[CONF_DROP_ELBOWS])
    return data
