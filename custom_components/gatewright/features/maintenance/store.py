"""Where the past of one system is kept: calendar, record, bin, filter, services.

In a file of its own, apart from the memory of the sequence: it is larger by far and
wanted less often.
"""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant

from ...runtime.store import FileKind, KeptFile


class MaintenanceStore(KeptFile):
    """One system's past on disk."""

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
        super().__init__(hass, FileKind.MAINTENANCE, entry)
