"""Config flow of the virtual workshop, without questions."""

from typing import Any

from homeassistant.config_entries import ConfigFlow, ConfigFlowResult

from .const import DOMAIN


class VirtualWorkshopConfigFlow(ConfigFlow, domain=DOMAIN):
    """Creates the one config entry, whose data are the changes to the standard workshop."""

    VERSION = 1

    async def async_step_user(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Use the standard workshop."""
        return await self._async_create({})

    async def async_step_import(self, import_data: dict[str, Any]) -> ConfigFlowResult:
        """Use the workshop of configuration.yaml."""
        return await self._async_create(import_data)

    async def _async_create(self, changes: dict[str, Any]) -> ConfigFlowResult:
        await self.async_set_unique_id(DOMAIN)
        self._abort_if_unique_id_configured()
        return self.async_create_entry(title="Virtual workshop", data=changes)
