"""Applies the settings that a system check proposes."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ...core.commissioning.findings import Setting, SettingKind
from ...core.stored.parts import StoredGate
from ...runtime.entry_data import read_parts, update_entry


@callback
def make(
    hass: HomeAssistant, entry: ConfigEntry[Any], settings: Iterable[Setting]
) -> tuple[Setting, ...]:
    """Store settings in the gates' data; return those that were stored."""
    made = []
    for setting in settings:
        gate = read_parts(entry, StoredGate).get(setting.part)
        if gate is None:
            continue
        match setting.kind:
            case SettingKind.TRAVEL if setting.seconds is not None:
                gate = replace(gate, travel=setting.seconds)
            case SettingKind.INVERT:
                gate = replace(gate, inverted=not gate.inverted)
            case SettingKind.SWAP_SENSORS:
                gate = replace(
                    gate,
                    open_sensor=gate.closed_sensor,
                    closed_sensor=gate.open_sensor,
                )
        update_entry(hass, entry, gate)
        made.append(setting)
    return tuple(made)
