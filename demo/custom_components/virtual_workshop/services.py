"""Actions of the virtual workshop: work, faults, and the record."""

from collections.abc import Callable
from typing import Any

from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import config_validation as cv
import voluptuous as vol

from .const import DOMAIN
from .driver import Workshop
from .model.faults import Fault
from .model.world import World, WorldError

_PERCENT = vol.All(vol.Coerce(float), vol.Range(min=0, max=100))
_SECONDS = vol.All(vol.Coerce(float), vol.Range(min=0))

_RUN_MACHINE = vol.Schema(
    {
        vol.Required("machine"): cv.string,
        vol.Optional("load", default=100): _PERCENT,
        vol.Optional("seconds"): _SECONDS,
    }
)
_MAKE_CUTS = vol.Schema(
    {
        vol.Required("machine"): cv.string,
        vol.Optional("count", default=3): vol.All(
            vol.Coerce(int), vol.Range(min=1, max=1000)
        ),
        vol.Optional("cut", default=4): _SECONDS,
        vol.Optional("pause", default=6): _SECONDS,
        vol.Optional("idling", default=False): cv.boolean,
        vol.Optional("load", default=100): _PERCENT,
    }
)
_STOP_MACHINE = vol.Schema({vol.Required("machine"): cv.string})
_ATTACH = vol.Schema(
    {vol.Required("machine"): cv.string, vol.Required("attached"): cv.boolean}
)
_MOVE_GATE = vol.Schema(
    {vol.Required("gate"): cv.string, vol.Required("position"): _PERCENT}
)
_SWITCH_COLLECTOR = vol.Schema({vol.Required("on"): cv.boolean})
_SET_BIN = vol.Schema({vol.Required("level"): _PERCENT})
_BREAK = vol.Schema(
    {vol.Required("part"): cv.string, vol.Required("fault"): vol.Coerce(Fault)}
)
_MEND = vol.Schema(
    {vol.Optional("part"): cv.string, vol.Optional("fault"): vol.Coerce(Fault)}
)
_NOTHING = vol.Schema({})


@callback
def async_setup_services(hass: HomeAssistant) -> None:
    """Register the actions."""

    def register(
        name: str, schema: vol.Schema, handler: Callable[[Workshop, ServiceCall], None]
    ) -> None:
        async def async_handle(call: ServiceCall) -> None:
            try:
                handler(_workshop(hass), call)
            except WorldError as err:
                raise ServiceValidationError(str(err)) from err

        hass.services.async_register(DOMAIN, name, async_handle, schema)

    register("run_machine", _RUN_MACHINE, _run_machine)
    register("make_cuts", _MAKE_CUTS, _make_cuts)
    register("stop_machine", _STOP_MACHINE, _stop_machine)
    register("attach_machine", _ATTACH, _attach_machine)
    register("move_gate", _MOVE_GATE, _move_gate)
    register("switch_collector", _SWITCH_COLLECTOR, _switch_collector)
    register("set_bin", _SET_BIN, _set_bin)
    register("break", _BREAK, _break)
    register("mend", _MEND, _mend)
    register("reset_truth", _NOTHING, _reset_truth)

    async def async_tell_truth(_call: ServiceCall) -> ServiceResponse:
        return _workshop(hass).truth()

    hass.services.async_register(
        DOMAIN,
        "get_truth",
        async_tell_truth,
        _NOTHING,
        supports_response=SupportsResponse.ONLY,
    )


def _workshop(hass: HomeAssistant) -> Workshop:
    """Return the workshop that is set up."""
    entries = hass.config_entries.async_loaded_entries(DOMAIN)
    if not entries:
        raise ServiceValidationError("The virtual workshop is not set up")
    workshop: Workshop = entries[0].runtime_data
    return workshop


def _run_machine(workshop: Workshop, call: ServiceCall) -> None:
    data = call.data
    workshop.act(
        lambda world: world.run_machine(
            data["machine"], data["load"] / 100, data.get("seconds")
        )
    )


def _make_cuts(workshop: Workshop, call: ServiceCall) -> None:
    """Run a stop-start machine: cuts with pauses in which it's off, or turns freely."""
    data: dict[str, Any] = dict(call.data)
    cut = (data["cut"], data["load"] / 100)
    pause = (data["pause"], 0.0 if data["idling"] else None)
    # After the last cut the machine turns off at once.
    steps = [step for _ in range(data["count"]) for step in (cut, pause)][:-1]
    workshop.act(lambda world: world.work_machine(data["machine"], steps))


def _stop_machine(workshop: Workshop, call: ServiceCall) -> None:
    workshop.act(lambda world: world.stop_machine(call.data["machine"]))


def _attach_machine(workshop: Workshop, call: ServiceCall) -> None:
    data = call.data
    workshop.act(lambda world: world.attach(data["machine"], attached=data["attached"]))


def _move_gate(workshop: Workshop, call: ServiceCall) -> None:
    data = call.data
    workshop.act(
        lambda world: world.move_gate_by_hand(data["gate"], data["position"] / 100)
    )


def _switch_collector(workshop: Workshop, call: ServiceCall) -> None:
    workshop.act(lambda world: world.switch_collector_by_hand(on=call.data["on"]))


def _set_bin(workshop: Workshop, call: ServiceCall) -> None:
    workshop.act(lambda world: world.set_bin(call.data["level"]))


def _break(workshop: Workshop, call: ServiceCall) -> None:
    data = call.data
    workshop.act_on_faults(lambda world: world.break_part(data["part"], data["fault"]))


def _mend(workshop: Workshop, call: ServiceCall) -> None:
    """Remove one fault, all faults of one part, or everything."""
    part: str | None = call.data.get("part")
    fault: Fault | None = call.data.get("fault")

    def mend(world: World) -> None:
        if part is not None:
            world.mend_part(part, fault)
        else:
            world.mend_everything()

    workshop.act_on_faults(mend)


def _reset_truth(workshop: Workshop, _call: ServiceCall) -> None:
    workshop.act(lambda world: world.reset_truth())
