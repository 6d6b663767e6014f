"""Sets at the gates what a walk has found out."""

from collections.abc import Iterable
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ..const import (
    CONF_INVERTED,
    CONF_OPEN_SENSOR,
    CONF_SHUT_SENSOR,
    CONF_TRAVEL,
    SUBENTRY_GATE,
)
from ..shop.commissioning.findings import Setting, SettingKind


@callback
def make(
    hass: HomeAssistant, entry: ConfigEntry[Any], settings: Iterable[Setting]
) -> tuple[Setting, ...]:
    """Store settings in the gates' data; return those that could be made."""
    made = []
    for setting in settings:
        gate = entry.subentries.get(setting.part)
        if gate is None or gate.subentry_type != SUBENTRY_GATE:
            continue
        data = dict(gate.data)
        match setting.kind:
            case SettingKind.TRAVEL:
                data[CONF_TRAVEL] = setting.seconds
            case SettingKind.INVERT:
                data[CONF_INVERTED] = not data.get(CONF_INVERTED, False)
            case SettingKind.SWAP_SENSORS:
                opened = data.pop(CONF_OPEN_SENSOR, None)
                shut = data.pop(CONF_SHUT_SENSOR, None)
                if shut is not None:
                    data[CONF_OPEN_SENSOR] = shut
                if opened is not None:
                    data[CONF_SHUT_SENSOR] = opened
        hass.config_entries.async_update_subentry(entry, gate, data=data)
        made.append(setting)
    return tuple(made)
