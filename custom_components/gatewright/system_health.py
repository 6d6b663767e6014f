"""The line about Gatewright on the hub's page of system information."""

from typing import Any

from homeassistant.components import system_health
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant, callback

from .const import DOMAIN
from .engine import GatewrightConfigEntry


@callback
def async_register(
    hass: HomeAssistant, register: system_health.SystemHealthRegistration
) -> None:
    """Register what is told."""
    register.async_register_info(_info)


async def _info(hass: HomeAssistant) -> dict[str, Any]:
    """Return how much there is to run, and how much of that is in order."""
    entries: list[GatewrightConfigEntry] = hass.config_entries.async_entries(DOMAIN)
    engines = [
        entry.runtime_data
        for entry in entries
        if entry.state is ConfigEntryState.LOADED
    ]
    return {
        "systems": len(entries),
        "systems_at_work": len(engines),
        "machines": sum(len(engine.layout.plans) for engine in engines),
        "gates": sum(len(engine.layout.gates) for engine in engines),
        "missing_entities": sum(len(engine.layout.missing) for engine in engines),
        "alarms": sum(len(engine.shop.alarms.standing) for engine in engines),
    }
