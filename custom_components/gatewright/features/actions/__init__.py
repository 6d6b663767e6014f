"""Actions for people and automations: requests, modes and alarms."""

from homeassistant.core import HomeAssistant, callback

from .alarms import async_setup_alarms
from .modes import async_setup_modes
from .requests import async_setup_air


@callback
def async_setup_actions(hass: HomeAssistant) -> None:
    """Register the actions."""
    async_setup_air(hass)
    async_setup_modes(hass)
    async_setup_alarms(hass)
