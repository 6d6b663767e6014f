"""Constants of the virtual workshop."""

from typing import Final

from homeassistant.const import Platform

DOMAIN: Final = "virtual_workshop"

WORLD_FILE: Final = "virtual_workshop.json"
"""The file with the state of the world, in the configuration directory."""

PLATFORMS: Final = [
    Platform.BINARY_SENSOR,
    Platform.COVER,
    Platform.SENSOR,
    Platform.SWITCH,
    Platform.VALVE,
]
