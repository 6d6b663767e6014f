"""Stores one system's past: calendar, record, bin, filter, services.

In a file of its own, apart from the sequence's memory: it's far larger and written less
often.
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
