"""Actions that belong to a whole system."""

from homeassistant.const import ATTR_CONFIG_ENTRY_ID
from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.helpers import config_validation as cv
import voluptuous as vol

from .features.actions import async_setup_actions
from .features.airflow.actions import async_setup_sizing
from .features.airflow.report import addresses, assess_all, shop_for
from .features.commissioning.actions import async_setup_walk
from .features.maintenance.actions import async_setup_maintenance
from .features.setup_file.actions import async_setup_files
from .features.simulation.actions import async_setup_simulating
from .runtime.errors import validation_error
from .runtime.permissions import Permission, Requester, register_action
from .runtime.system_context import system_of

SERVICE_ASSESS = "assess_airflow"


@callback
def async_setup_services(hass: HomeAssistant) -> None:
    """Register the actions."""
    register_action(
        hass,
        SERVICE_ASSESS,
        _assess,
        vol.Schema({vol.Required(ATTR_CONFIG_ENTRY_ID): cv.string}),
        deed=Permission.READ,
        supports_response=SupportsResponse.ONLY,
    )
    async_setup_sizing(hass)
    async_setup_simulating(hass)
    async_setup_walk(hass)
    async_setup_actions(hass)
    async_setup_maintenance(hass)
    async_setup_files(hass)


async def _assess(call: ServiceCall, asker: Requester) -> ServiceResponse:
    """Return the complete assessment of a system's airflow."""
    entry = asker.system(call.data[ATTR_CONFIG_ENTRY_ID])
    system = system_of(entry)
    if (shop := shop_for(asker, system)) is None:
        raise validation_error("air_not_described", name=entry.title)
    found = await assess_all(system, shop)
    if "http" in call.hass.config.components:
        found["addresses"] = addresses(call.hass, entry.entry_id)
    return found
