"""Presets: one choice that sets the values for a kind of workshop, all changeable."""

from abc import abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from homeassistant.config_entries import ConfigFlowResult, OptionsFlow
import voluptuous as vol

from ... import const
from ...const import SUBENTRY_MACHINE
from ...core.config import CollectorConfig
from ...core.kinds import KIND_DEFAULTS, MachineKind
from ..selectors import choice_field

CONF_PRESET = "preset"


class Workshop(StrEnum):
    """The kinds of workshop with a preset."""

    SINGLE = "single"
    SMALL = "small"
    SCHOOL = "school"


@dataclass(frozen=True, slots=True)
class Preset:
    """The values for a kind of workshop, under their stored keys."""

    system: Mapping[str, float] = field(default_factory=dict)
    sensed: Mapping[str, float] = field(default_factory=dict)
    """For machines with a sensor."""
    by_hand: Mapping[str, float] = field(default_factory=dict)
    """For pickups without one."""


_UPKEEP = {const.CONF_FILTER_HOURS: 20.0, const.CONF_FILTER_LIFE: 1000.0}
PRESETS = {
    Workshop.SINGLE: Preset(
        system={const.CONF_SHUTOFF_DELAY: 5.0, const.CONF_FILTER_HOURS: 20.0},
        sensed={const.CONF_HOLD: 15.0},
    ),
    Workshop.SMALL: Preset(system={const.CONF_SHUTOFF_DELAY: 5.0, **_UPKEEP}),
    Workshop.SCHOOL: Preset(
        system={const.CONF_SHUTOFF_DELAY: 10.0, **_UPKEEP},
        sensed={const.CONF_RUN_LIMIT: 1800.0},
        by_hand={const.CONF_REQUEST_LIMIT: 300.0},
    ),
}
"""Common practice, no source. Seconds, and hours for the filter."""

_USUAL: Mapping[str, float] = {
    const.CONF_SHUTOFF_DELAY: CollectorConfig(name="").shutoff_delay
}


def with_preset(
    stored: Mapping[str, Any], preset: Mapping[str, float], usual: Mapping[str, Any]
) -> dict[str, Any]:
    """Return stored data with a preset's values, except where it was changed."""
    return {
        **stored,
        **{
            key: value
            for key, value in preset.items()
            if stored.get(key, usual.get(key)) == usual.get(key)
        },
    }


def _usual_of(machine: Mapping[str, Any]) -> dict[str, Any]:
    usual = KIND_DEFAULTS[MachineKind(machine[const.CONF_KIND])]
    return {
        const.CONF_HOLD: usual.hold,
        const.CONF_REQUEST_LIMIT: usual.request_limit,
    }


class PresetStep(OptionsFlow):
    """Applies a preset to whatever the owner hasn't changed."""

    async def async_step_presets(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Offer the presets."""
        if user_input is None:
            gates = self.config_entry.get_subentries_of_type(const.SUBENTRY_GATE)
            usual = Workshop.SMALL if any(gates) else Workshop.SINGLE
            marker = vol.Required(CONF_PRESET, default=usual.value)
            field = {marker: choice_field(CONF_PRESET, Workshop)}
            return self.async_show_form(
                step_id="presets", data_schema=vol.Schema(field)
            )
        self._set(PRESETS[Workshop(user_input[CONF_PRESET])])
        return await self.async_step_init()

    @abstractmethod
    async def async_step_init(self, user_input: None = None) -> ConfigFlowResult:
        """Return to the menu."""

    def _set(self, preset: Preset) -> None:
        entry, entries = self.config_entry, self.hass.config_entries
        for machine in entry.get_subentries_of_type(SUBENTRY_MACHINE):
            sensed = const.CONF_SENSOR in machine.data
            values = preset.sensed if sensed else preset.by_hand
            data = with_preset(machine.data, values, _usual_of(machine.data))
            entries.async_update_subentry(entry, machine, data=data)
        data = with_preset(entry.data, preset.system, _USUAL)
        entries.async_update_entry(entry, data=data)
