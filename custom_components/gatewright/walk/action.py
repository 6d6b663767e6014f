"""The action that checks the gates of a system without a person."""

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

from ..gatekeeper import Asker, Deed, register_action
from ..old_names.shown import shown_data
from ..refusals import refusal
from ..shop.plan import COLLECTOR
from ..system_context import system_of
from ..walk.runner import WalkRunner
from .report_text import report_data
from .runner import Busy

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
        deed=Deed.MOVE,
        supports_response=SupportsResponse.OPTIONAL,
    )


async def _check_gates(call: ServiceCall, asker: Asker) -> ServiceResponse:
    """Open and shut every gate that says where it is, and return what was found.

    Who may control all of them may have them checked; to store their travel times is
    for administrators.
    """
    entry = asker.system(call.data[ATTR_CONFIG_ENTRY_ID])
    runner = system_of(entry).of(WalkRunner)
    gates = [part for part in runner.parts() if part != COLLECTOR]
    asker.require_control("switch", f"{entry.entry_id}_collector")
    for gate in system_of(entry).sequence.gates.powered():
        asker.require_control("cover", f"{gate}_gate")
    if call.data[CONF_STORE] and not asker.administers:
        raise refusal("check_gates_stores", name=entry.title)
    try:
        runner.begin(gates, person=False)
    except Busy as err:
        raise refusal(err.why, name=entry.title) from err
    try:
        while runner.going:
            await runner.next_task()
    finally:
        # Whoever called may have gone away.
        runner.stop()
    await runner.finish(setting=call.data[CONF_STORE], telling=False)
    if not call.return_response or runner.last is None:
        return None
    return shown_data(entry, report_data(call.hass, runner.last, runner.name))
