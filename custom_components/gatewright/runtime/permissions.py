"""Decides who may read, move and store what.

Every action, websocket command, page, sentence, intent, tool and repair passes through
here with its `Permission`. On a part of a system, users have the rights that they have
on the part's own entity; changes of the set-up are for administrators. Calls without a
user (an automation, a voice satellite) count as the owner's.
"""

from collections.abc import Callable, Coroutine, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import wraps
from inspect import iscoroutinefunction
from typing import Any, Final

from homeassistant.auth.models import User
from homeassistant.auth.permissions.const import POLICY_CONTROL, POLICY_READ
from homeassistant.components import websocket_api
from homeassistant.config_entries import ConfigEntry, ConfigEntryState
from homeassistant.core import (
    Context,
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.exceptions import (
    ServiceValidationError,
    Unauthorized,
    UnknownUser,
)
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.typing import VolSchemaType
from homeassistant.util.hass_dict import HassKey
import voluptuous as vol

from ..const import DOMAIN, SUBENTRY_GATE, SUBENTRY_MACHINE
from ..core.config import COLLECTOR
from .old_names.actions import register_old_action
from .system_context import GatewrightConfigEntry, SystemContext


class Permission(StrEnum):
    """The kind of access: read, move (or report as done), or change the set-up."""

    READ = "read"
    MOVE = "move"
    STORE = "store"


GUARDED: HassKey[dict[str, Permission]] = HassKey(f"{DOMAIN}_guarded")
"""The permission that each action and command needs, by name."""

REQUEST: Final = ("switch", "request")
COLLECTOR_SWITCH: Final = ("switch", "collector")
GATE: Final = ("cover", "gate")


@dataclass(frozen=True, slots=True)
class Requester:
    """The caller: a user with rights, or None for the owner's own automation."""

    hass: HomeAssistant
    user: User | None
    context: Context | None = None

    @property
    def administers(self) -> bool:
        """Whether the caller may change the set-up."""
        return self.user is None or bool(self.user.is_admin)

    def reads(self, entity_id: str | None) -> bool:
        """Return whether the caller may read an entity; administrators read what has none."""
        return self._may(entity_id, POLICY_READ)

    def controls(self, entity_id: str | None) -> bool:
        """Return whether the caller may control an entity, likewise."""
        return self._may(entity_id, POLICY_CONTROL)

    def sees(self, entry: ConfigEntry[Any]) -> bool:
        """Return whether the caller may see a system: its collector decides."""
        return self.reads(self._own(COLLECTOR_SWITCH, entry.entry_id))

    def sees_machine(self, machine_id: str) -> bool:
        """Return whether the caller may see a machine: its request decides."""
        return self.reads(self._own(REQUEST, machine_id))

    def sees_gate(self, gate_id: str) -> bool:
        """Return whether the caller may see a gate that moves."""
        return self.reads(self._own(GATE, gate_id))

    def sees_part(self, system: SystemContext, part: str) -> bool:
        """Return whether the caller may see the part that an alarm is about.

        That is the collector, a machine or gate, or a linked switch by its own entity.
        """
        if self.administers:
            return True
        entry = system.entry
        if part in (COLLECTOR, entry.entry_id) or system.announcer.also_name(part):
            return self.sees(entry)
        subentry = entry.subentries.get(part)
        if subentry is None:
            source = system.layout.linked_devices.get(part)
            source = source or system.layout.maintenance_switches().get(part)
            return source is not None and self.reads(source.entity_id)
        if subentry.subentry_type == SUBENTRY_MACHINE:
            return self.sees_machine(part)
        if subentry.subentry_type == SUBENTRY_GATE:
            # An opening that never moves has no entity, so nothing to hide.
            return self._own(GATE, part) is None or self.sees_gate(part)
        return self.sees(entry)

    def require_control(self, domain: str, unique_id: str) -> None:
        """Raise `Unauthorized` if the caller may not control an entity of ours."""
        entity_id = er.async_get(self.hass).async_get_entity_id(
            domain, DOMAIN, unique_id
        )
        if not self.controls(entity_id):
            raise Unauthorized(
                context=self.context, entity_id=entity_id, permission=POLICY_CONTROL
            )

    def require_administration(self) -> None:
        """Raise `Unauthorized` if the caller may not change the set-up."""
        if not self.administers:
            raise Unauthorized(context=self.context)

    def system(self, entry_id: str) -> GatewrightConfigEntry:
        """Return a loaded system that the caller may see.

        Raises the same `ServiceValidationError` for a hidden as for a missing system.
        """
        entry: GatewrightConfigEntry | None
        entry = self.hass.config_entries.async_get_entry(entry_id)
        if entry is None or entry.domain != DOMAIN or not self.sees(entry):
            raise ServiceValidationError(
                translation_domain=DOMAIN,
                translation_key="no_such_system",
                translation_placeholders={"system": entry_id},
            )
        if entry.state is not ConfigEntryState.LOADED:
            raise ServiceValidationError(
                translation_domain=DOMAIN,
                translation_key="system_not_loaded",
                translation_placeholders={"name": entry.title},
            )
        return entry

    def _own(self, kind: tuple[str, str], owner: str) -> str | None:
        domain, key = kind
        registry = er.async_get(self.hass)
        return registry.async_get_entity_id(domain, DOMAIN, f"{owner}_{key}")

    def _may(self, entity_id: str | None, policy: str) -> bool:
        if self.user is None:
            return True
        if entity_id is None:
            return bool(self.user.is_admin)
        return self.user.permissions.check_entity(entity_id, policy)


async def asker_of(hass: HomeAssistant, context: Context | None) -> Requester:
    """Return the caller of a context; raises `UnknownUser` for a deleted user."""
    if context is None or context.user_id is None:
        return Requester(hass, None, context)
    user = await hass.auth.async_get_user(context.user_id)
    if user is None:
        raise UnknownUser(context=context, permission=POLICY_CONTROL)
    return Requester(hass, user, context)


type ActionHandler = Callable[
    [ServiceCall, Requester],
    ServiceResponse | Coroutine[Any, Any, ServiceResponse],
]


@callback
def register_action(
    hass: HomeAssistant,
    name: str,
    handler: ActionHandler,
    schema: VolSchemaType,
    *,
    deed: Permission,
    supports_response: SupportsResponse = SupportsResponse.NONE,
) -> None:
    """Register an action that needs `deed`; its handler gets the caller.

    The handler checks what it touches against the caller's rights. Storing is for
    administrators, which is checked here.
    """

    async def guarded(call: ServiceCall) -> ServiceResponse:
        asker = await asker_of(hass, call.context)
        if deed is Permission.STORE:
            asker.require_administration()
        answer = handler(call, asker)
        if isinstance(answer, Coroutine):
            answer = await answer
        return answer

    known = hass.data.setdefault(GUARDED, {})
    known[name] = deed
    hass.services.async_register(
        DOMAIN, name, guarded, schema, supports_response=supports_response
    )
    if old := register_old_action(hass, name, guarded, schema, supports_response):
        known[old] = deed


type CommandHandler = Callable[
    [HomeAssistant, websocket_api.ActiveConnection, dict[str, Any], Requester], Any
]


@callback
def register_command(
    hass: HomeAssistant,
    name: str,
    fields: Mapping[Any, Any],
    handler: CommandHandler,
    *,
    deed: Permission,
) -> None:
    """Register the command `gatewright/<name>` that needs `deed`, like an action."""
    command = f"{DOMAIN}/{name}"

    @wraps(handler)
    @callback
    def guarded(
        hass: HomeAssistant,
        connection: websocket_api.ActiveConnection,
        msg: dict[str, Any],
    ) -> Any:
        asker = Requester(hass, connection.user)
        if deed is Permission.STORE:
            asker.require_administration()
        return handler(hass, connection, msg, asker)

    async def waited_for(
        hass: HomeAssistant,
        connection: websocket_api.ActiveConnection,
        msg: dict[str, Any],
    ) -> None:
        await guarded(hass, connection, msg)

    hass.data.setdefault(GUARDED, {})[command] = deed
    waits = iscoroutinefunction(handler)
    register = websocket_api.websocket_command(
        {vol.Required("type"): command, **fields}
    )
    websocket_api.async_register_command(
        hass,
        register(websocket_api.async_response(waited_for) if waits else guarded),
    )


def user_at_once(hass: HomeAssistant, context: Context | None) -> Requester | None:
    """Return the caller of a context where nothing can be awaited.

    None if that isn't known without waiting: then show nothing.
    """
    waiting = asker_of(hass, context)
    try:
        waiting.send(None)
    except StopIteration as known:
        asker: Requester = known.value
        return asker
    except UnknownUser:
        return None
    waiting.close()
    return None
