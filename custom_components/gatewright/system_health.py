"""Gatewright's section on the system information page."""

from typing import Any

from homeassistant.components import system_health
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant, callback

from .const import DOMAIN
from .runtime.system_context import GatewrightConfigEntry, system_of


@callback
def async_register(
    hass: HomeAssistant, register: system_health.SystemHealthRegistration
) -> None:
    """Register the section."""
    register.async_register_info(_info)


async def _info(hass: HomeAssistant) -> dict[str, Any]:
    """Return how much there is to run, and how much of it is in order."""
    entries: list[GatewrightConfigEntry] = hass.config_entries.async_entries(DOMAIN)
    systems = [
        system_of(entry) for entry in entries if entry.state is ConfigEntryState.LOADED
    ]
    return {
        "systems": len(entries),
        "systems_at_work": len(systems),
        "machines": sum(len(system.layout.plans) for system in systems),
        "gates": sum(len(system.layout.gates) for system in systems),
        "missing_entities": sum(len(system.layout.missing) for system in systems),
        "alarms": sum(len(system.shop.alarms.standing) for system in systems),
    }
