"""Where the past of one system is kept: calendar, record, bin, filter, services.

In a file of its own, apart from the memory of the sequence: it is larger by far and
wanted less often.
"""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant

from ...runtime.journaled_file import JournaledFile
from ...runtime.store import FileKind


class MaintenanceStore(JournaledFile):
    """One system's past on disk."""

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
        super().__init__(hass, FileKind.MAINTENANCE, entry)
