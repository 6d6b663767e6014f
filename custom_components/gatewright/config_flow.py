"""Sets up and changes a system through forms."""

from typing import override

from homeassistant.config_entries import ConfigSubentryFlow, OptionsFlow
from homeassistant.core import callback

from .const import DOMAIN, SUBENTRY_DUCT, SUBENTRY_GATE, SUBENTRY_MACHINE
from .forms.flow.duct import DuctFlow
from .forms.flow.gate import GateFlow
from .forms.flow.machine_steps import MachineFlow
from .forms.flow.settings import SettingsFlow
from .forms.flow.system import SystemFlow
from .runtime.system_context import GatewrightConfigEntry


class GatewrightConfigFlow(SystemFlow, domain=DOMAIN):
    """Set up a system; its gates, machines and ducts are subentries."""

    VERSION = 1
    MINOR_VERSION = 2

    @staticmethod
    @callback
    @override
    def async_get_options_flow(config_entry: GatewrightConfigEntry) -> OptionsFlow:
        """Return the settings menu."""
        return SettingsFlow()

    @classmethod
    @callback
    @override
    def async_get_supported_subentry_types(
        cls, config_entry: GatewrightConfigEntry
    ) -> dict[str, type[ConfigSubentryFlow]]:
        """Return the types of parts that a system can have."""
        return {
            SUBENTRY_GATE: GateFlow,
            SUBENTRY_MACHINE: MachineFlow,
            SUBENTRY_DUCT: DuctFlow,
        }
