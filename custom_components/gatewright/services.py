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
from .actions.targets import system_named
from .air.report import addresses, assess_all
from .air.sizing_action import async_setup_sizing
from .const import DOMAIN
from .refusals import refusal
from .rehearsing.action import async_setup_rehearsing
from .upkeep.actions import async_setup_upkeep
from .walk.action import async_setup_walk

SERVICE_ASSESS = "assess"


@callback
def async_setup_services(hass: HomeAssistant) -> None:
    """Register the actions."""
    hass.services.async_register(
        DOMAIN,
        SERVICE_ASSESS,
        _assess,
        vol.Schema({vol.Required(ATTR_CONFIG_ENTRY_ID): cv.string}),
        supports_response=SupportsResponse.ONLY,
    )
    async_setup_sizing(hass)
    async_setup_rehearsing(hass)
    async_setup_walk(hass)
    async_setup_actions(hass)
    async_setup_upkeep(hass)


async def _assess(call: ServiceCall) -> ServiceResponse:
    """Return the whole assessment of a system's air."""
    entry = system_named(call)
    engine = entry.runtime_data
    if (shop := engine.air.shop) is None:
        raise refusal("air_not_described", name=entry.title)
    found = await assess_all(engine, shop)
    if "http" in call.hass.config.components:
        found["addresses"] = addresses(call.hass, entry.entry_id)
    return found
