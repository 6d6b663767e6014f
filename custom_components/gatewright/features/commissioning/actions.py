"""The action that checks a system's gates without a person."""

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

from ...core.config import COLLECTOR
from ...runtime.errors import validation_error
from ...runtime.old_names.shown import shown_data
from ...runtime.permissions import Permission, Requester, register_action
from ...runtime.system_context import system_of
from .manager import Busy, SystemCheckManager
from .report_text import report_data

SERVICE_CHECK_GATES = "check_gates"

CONF_STORE = "store"


@callback
def async_setup_walk(hass: HomeAssistant) -> None:
    """Register the action."""
    register_action(
        hass,
        SERVICE_CHECK_GATES,
        _check_gates,
        vol.Schema(
            {
                vol.Required(ATTR_CONFIG_ENTRY_ID): cv.string,
                vol.Optional(CONF_STORE, default=True): cv.boolean,
            }
        ),
        deed=Permission.MOVE,
        supports_response=SupportsResponse.OPTIONAL,
    )


async def _check_gates(call: ServiceCall, asker: Requester) -> ServiceResponse:
    """Open and close every gate with feedback, and return the results.

    The caller must be allowed to control all of them; only administrators may store the
    measured travel times.
    """
    entry = asker.system(call.data[ATTR_CONFIG_ENTRY_ID])
    runner = system_of(entry).of(SystemCheckManager)
    gates = [part for part in runner.parts() if part != COLLECTOR]
    asker.require_control("switch", f"{entry.entry_id}_collector")
    for gate in system_of(entry).sequence.gates.powered():
        asker.require_control("cover", f"{gate}_gate")
    if call.data[CONF_STORE] and not asker.administers:
        raise validation_error("check_gates_stores", name=entry.title)
    try:
        runner.begin(gates, person=False)
    except Busy as err:
        raise validation_error(err.why, name=entry.title) from err
    try:
        while runner.running:
            await runner.next_task()
    finally:
        # The caller may be gone by now.
        runner.stop()
    await runner.finish(setting=call.data[CONF_STORE], telling=False)
    if not call.return_response or runner.last is None:
        return None
    return shown_data(entry, report_data(call.hass, runner.last, runner.name))
