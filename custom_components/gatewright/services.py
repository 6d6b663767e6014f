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

from .actions import async_setup_actions
from .air.report import addresses, assess_all, shop_for
from .air.sizing_action import async_setup_sizing
from .gatekeeper import Asker, Deed, register_action
from .refusals import refusal
from .rehearsing.action import async_setup_rehearsing
from .system_context import system_of
from .upkeep.actions import async_setup_upkeep
from .walk.action import async_setup_walk

SERVICE_ASSESS = "assess_airflow"


@callback
def async_setup_services(hass: HomeAssistant) -> None:
    """Register the actions."""
    register_action(
        hass,
        SERVICE_ASSESS,
        _assess,
        vol.Schema({vol.Required(ATTR_CONFIG_ENTRY_ID): cv.string}),
        deed=Deed.READ,
        supports_response=SupportsResponse.ONLY,
    )
    async_setup_sizing(hass)
    async_setup_rehearsing(hass)
    async_setup_walk(hass)
    async_setup_actions(hass)
    async_setup_upkeep(hass)


async def _assess(call: ServiceCall, asker: Asker) -> ServiceResponse:
    """Return the whole assessment of a system's air."""
    entry = asker.system(call.data[ATTR_CONFIG_ENTRY_ID])
    system = system_of(entry)
    if (shop := shop_for(asker, system)) is None:
        raise refusal("air_not_described", name=entry.title)
    found = await assess_all(system, shop)
    if "http" in call.hass.config.components:
        found["addresses"] = addresses(call.hass, entry.entry_id)
    return found
