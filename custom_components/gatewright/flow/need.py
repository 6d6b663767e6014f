"""How much air a machine needs, in its form."""

from collections.abc import Mapping
from typing import Any

from homeassistant.core import HomeAssistant
import voluptuous as vol

from ..air.needs import usual_flow
from ..const import CONF_KIND, CONF_REQUIRED_FLOW, CONF_SIZE
from ..shop.kinds import MachineKind
from .fields import Fields
from .mistakes import Mistakes
from .quantities import quantity_field, quantity_of, shown, usual_text

NEED = (CONF_SIZE, CONF_REQUIRED_FLOW)
"""The fields of this part of the form."""


def need_fields(hass: HomeAssistant) -> Fields:
    """Return the fields for what a machine needs."""
    return {vol.Optional(field): quantity_field(hass, field) for field in NEED}


def need_values(hass: HomeAssistant, data: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a form shows for a stored machine."""
    return {field: shown(hass, field, data.get(field)) for field in NEED}


def need_placeholders(hass: HomeAssistant, data: Mapping[str, Any]) -> dict[str, str]:
    """Return what the texts of the fields name: the flow that is usual."""
    usual = 0.0
    if CONF_KIND in data:
        usual = usual_flow(MachineKind(data[CONF_KIND]), data.get(CONF_SIZE))
    text = usual_text(hass, CONF_REQUIRED_FLOW, usual) if usual else "–"
    return {f"usual_{CONF_REQUIRED_FLOW}": text}


def read_need(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    mistakes: Mistakes,
    before: Mapping[str, Any],
    stored: Mapping[str, Any],
) -> dict[str, Any]:
    """Judge what a machine needs; return what to store of it."""
    return {
        field: quantity_of(hass, typed, field, mistakes, before, stored, 0.0)
        for field in NEED
        if typed.get(field) is not None
    }
