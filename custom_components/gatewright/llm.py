"""Tools for language models: see the shop, turn on collection, explain alarms.

A model sees what is exposed to its assistant, and may do what its user may. Nothing
here allows blocked starts or resets a fire alarm shutdown: that takes somebody at the
machine.
"""

from abc import abstractmethod
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, override

from homeassistant.components.llm import LLMTools
from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError, Unauthorized
from homeassistant.helpers.llm import LLM_API_ASSIST, LLMContext, Tool, ToolInput
from homeassistant.util.json import JsonObjectType
import voluptuous as vol

from .const import DOMAIN
from .features.actions.requests import request_air, request_data, withdraw_air
from .features.actions.targets import TargetPart
from .features.voice.exposed import ExposedShop, machines_of, views
from .runtime.internals.llm_results import annotations, result
from .runtime.permissions import Permission, Requester, asker_of, user_at_once

if TYPE_CHECKING:
    from homeassistant.helpers.llm import ToolResult

_LONGEST = 240

_LOOKS = annotations(read_only=True)
# Repeating a request changes only its time limit, and withdrawing one removes only what
# was requested.
_MOVES = annotations(read_only=False)

_PROMPT = (
    "The workshop has a dust collector. It runs on its own while a machine runs. Dust "
    "collection can be turned on and off at machines and pickups with the gatewright "
    "tools. Only a person in Home Assistant can allow blocked starts again or reset a "
    "fire alarm shutdown, never you: say so when asked."
)


class ShopTool(Tool):
    """A tool about what its assistant may see."""

    integration = DOMAIN
    deed = Permission.READ

    def __init__(self, names: Iterable[str] = ()) -> None:
        self.parameters = vol.Schema({})
        self.names = sorted(names)

    @override
    async def async_call(
        self, hass: HomeAssistant, tool_input: ToolInput, llm_context: LLMContext
    ) -> ToolResult:
        """Run the tool; a refusal is returned with its reason."""
        try:
            args = self.parameters(tool_input.tool_args)
            asker = await asker_of(hass, llm_context.context)
            return result(self.run(args, asker, llm_context.assistant))
        except vol.Invalid as err:
            return _failed(f"Invalid arguments: {err}")
        except Unauthorized:
            return _failed("The person who asks may not do that.")
        except HomeAssistantError as err:
            return _failed(str(err))

    @abstractmethod
    def run(
        self, args: dict[str, Any], asker: Requester, assistant: str | None
    ) -> JsonObjectType:
        """Return what was found or done."""


class ShopState(ShopTool):
    """Reports on the shop."""

    name = f"{DOMAIN}__shop_state"
    title = "Look at the workshop's dust collection"
    description = (
        "Returns the collector's phase, whether starts are blocked or a fire alarm "
        "stopped it, every machine with its phase and whether dust is collected there, "
        "the alarms, the bin, and the seconds the collector ran today."
    )
    annotations = _LOOKS

    @override
    def run(
        self, args: dict[str, Any], asker: Requester, assistant: str | None
    ) -> JsonObjectType:
        """Return the shop's present state."""
        return {"systems": [_system(view) for view in views(asker, assistant)]}


class ExplainAlarms(ShopTool):
    """Explains alarms."""

    name = f"{DOMAIN}__explain_alarms"
    title = "Explain the workshop's alarms"
    description = (
        "Returns every present alarm of the dust collection with its cause, what was done "
        "about it, and what a person should do. An empty list: nothing is wrong."
    )
    annotations = _LOOKS

    @override
    def run(
        self, args: dict[str, Any], asker: Requester, assistant: str | None
    ) -> JsonObjectType:
        """Return the alarms as text."""
        return {
            "alarms": [
                {
                    "system": view.name,
                    "alarm": alarm.kind.value,
                    "part": view.system.announcer.name(alarm.part),
                    "title": text.title,
                    "explanation": text.description,
                }
                for view in views(asker, assistant)
                for alarm in view.alarms
                if (text := view.system.announcer.text(alarm))
            ]
        }


class AirTool(ShopTool):
    """A tool about one machine or pickup."""

    annotations = _MOVES
    deed = Permission.MOVE

    def __init__(self, names: Iterable[str] = ()) -> None:
        super().__init__(names)
        self.parameters = vol.Schema({self._machine: vol.In(self.names)})

    @property
    def _machine(self) -> vol.Required:
        return vol.Required("machine", description="The name of the machine or pickup.")

    @override
    def run(
        self, args: dict[str, Any], asker: Requester, assistant: str | None
    ) -> JsonObjectType:
        """Run the tool if the user may control the machine."""
        machines = machines_of(asker, assistant)
        named = [part for part in machines if part.name == args["machine"]]
        if not named:
            raise vol.Invalid("this machine is not there any more")
        part = named[0]
        asker.require_control("switch", f"{part.part}_request")
        self.act(part, args, asker)
        return request_data(part)

    @abstractmethod
    def act(self, part: TargetPart, args: dict[str, Any], asker: Requester) -> None:
        """Perform the action."""


class RequestAir(AirTool):
    """Requests dust collection."""

    name = f"{DOMAIN}__turn_on_collection"
    title = "Turn on dust collection at a machine"
    description = (
        "Turns on dust collection at a machine or pickup of the workshop: its gates open "
        "and the dust collector starts. Only when a person explicitly asks for it."
    )

    def __init__(self, names: Iterable[str] = ()) -> None:
        super().__init__(names)
        minutes = vol.Optional(
            "minutes",
            description="Minutes until it turns off; without it, the machine's own limit "
            "counts.",
        )
        self.parameters = vol.Schema(
            {
                self._machine: vol.In(self.names),
                minutes: vol.All(vol.Coerce(int), vol.Range(min=1, max=_LONGEST)),
            }
        )

    @override
    def act(self, part: TargetPart, args: dict[str, Any], asker: Requester) -> None:
        """Request dust collection."""
        minutes = args.get("minutes")
        request_air(part, None if minutes is None else 60.0 * minutes, asker)


class WithdrawAir(AirTool):
    """Withdraws a request."""

    name = f"{DOMAIN}__turn_off_collection"
    title = "Turn off dust collection at a machine"
    description = (
        "Turns off dust collection that was turned on at a machine or pickup. A machine "
        "that runs keeps it."
    )

    @override
    def act(self, part: TargetPart, args: dict[str, Any], asker: Requester) -> None:
        """Withdraw the request."""
        withdraw_air(part)


@callback
def async_get_tools(
    hass: HomeAssistant, llm_context: LLMContext, api_id: str
) -> LLMTools | None:
    """Return the tools if a shop is exposed."""
    asker = user_at_once(hass, llm_context.context)
    if api_id != LLM_API_ASSIST or asker is None:
        return None
    tools: list[Tool] = []
    if views(asker, llm_context.assistant):
        tools += [ShopState(), ExplainAlarms()]
    if names := [part.name for part in machines_of(asker, llm_context.assistant)]:
        tools += [RequestAir(names), WithdrawAir(names)]
    return LLMTools(tools=tools, prompt=_PROMPT) if tools else None


def _system(view: ExposedShop) -> JsonObjectType:
    sequence = view.system.sequence
    return {
        "name": view.name,
        "phase": sequence.phase.value,
        "automatic": sequence.automatic,
        "start_block": sequence.start_block,
        "fire_shutdown": sequence.fire_shutdown,
        "machines": [
            {**request_data(part), "running": sequence.machines[part.part].in_use}
            for part in view.machines
        ],
        "alarms": [view.system.announcer.text(alarm).title for alarm in view.alarms],
        "bin_full": view.bin_full,
        "bin_fill": view.bin_share,
        "collector_seconds_today": round(view.on_time_today, 1),
    }


def _failed(why: str) -> ToolResult:
    return result({"error": why}, error=True)
