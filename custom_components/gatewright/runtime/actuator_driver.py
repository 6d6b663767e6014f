"""Drives one actuator to the core's orders.

One call is in flight at a time; when it ends, for better or worse, the newest order is
given again. A failed call is no error here: the core sees that the actuator isn't where
it should be, retries and raises an alarm.
"""

import asyncio
from collections import deque
from collections.abc import Callable
import logging
from typing import NamedTuple

from homeassistant.components.cover import (
    ATTR_POSITION,
    DOMAIN as COVER_DOMAIN,
    SERVICE_SET_COVER_POSITION,
    CoverEntityFeature,
)
from homeassistant.components.valve import (
    DOMAIN as VALVE_DOMAIN,
    SERVICE_SET_VALVE_POSITION,
    ValveEntityFeature,
)
from homeassistant.config_entries import ConfigEntry
from homeassistant.const import (
    ATTR_ENTITY_ID,
    ATTR_SUPPORTED_FEATURES,
    SERVICE_CLOSE_COVER,
    SERVICE_CLOSE_VALVE,
    SERVICE_OPEN_COVER,
    SERVICE_OPEN_VALVE,
    SERVICE_TURN_OFF,
    SERVICE_TURN_ON,
)
from homeassistant.core import Context, HomeAssistant, split_entity_id

from ..core.control.actuator import Order
from ..core.inputs import CommandDispatched, CommandHeldUp

_LOGGER = logging.getLogger(__name__)

CALL_TIMEOUT = 10.0
"""Seconds until a call that hasn't returned is given up."""

_CONTEXTS_KEPT = 256


class OwnContexts:
    """Remembers our calls' contexts, to tell their effects from manual changes."""

    def __init__(self) -> None:
        self._order: deque[str] = deque()
        self._ids: set[str] = set()

    def new(self) -> Context:
        """Return a new context for one of our calls."""
        context = Context()
        self._order.append(context.id)
        self._ids.add(context.id)
        if len(self._order) > _CONTEXTS_KEPT:
            self._ids.discard(self._order.popleft())
        return context

    def own(self, context: Context) -> bool:
        """Return whether a state change comes from one of our calls."""
        return context.id in self._ids or context.parent_id in self._ids


class ServiceCall(NamedTuple):
    """A service call that moves an actuator."""

    domain: str
    service: str
    data: dict[str, object]


async def call_device(
    hass: HomeAssistant, call: ServiceCall, context: Context | None = None
) -> str | None:
    """Call a device's service, with a time limit; return what went wrong, if anything.

    All devices are driven through here: device libraries raise anything.
    """
    try:
        async with asyncio.timeout(CALL_TIMEOUT):
            await hass.services.async_call(
                call.domain, call.service, call.data, blocking=True, context=context
            )
    except TimeoutError:
        return "timeout"
    except Exception as err:  # noqa: BLE001 - libraries of devices raise anything
        return str(err) or type(err).__name__
    return None


async def switch_off(hass: HomeAssistant, entity_id: str) -> None:
    """Turn off a device that we let go of; a repair reports a failure."""
    domain, _ = split_entity_id(entity_id)
    call = ServiceCall(domain, SERVICE_TURN_OFF, {ATTR_ENTITY_ID: entity_id})
    if error := await call_device(hass, call):
        _LOGGER.warning(
            "%s is no longer driven and could not be switched off: %s", entity_id, error
        )


class ActuatorDriver:
    """Drives one actuator."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry,
        part: str,
        entity_id: str,
        contexts: OwnContexts,
        report: Callable[[CommandDispatched | CommandHeldUp], None],
        ended: Callable[[str, str | None], None],
        *,
        inverted: bool = False,
    ) -> None:
        """Drive `entity_id`, which is a `part` of the core.

        `report` gets the result of each order; `ended` is called when a call has
        returned: with None, or with what went wrong.
        """
        self.part = part
        self.entity_id = entity_id
        self.inverted = inverted
        self.last_error: str | None = None
        self._domain = split_entity_id(entity_id)[0]
        self._name = f"gatewright {entity_id}"
        self._hass = hass
        self._entry = entry
        self._contexts = contexts
        self._report = report
        self._ended = ended
        self._sent: Order | None = None
        self._busy = False
        self._task: asyncio.Task[object] | None = None
        self._closed = False

    def close(self) -> None:
        """Stop driving, and cancel a call in flight, lest it end after another's."""
        self._closed = True
        if self._task is not None:
            self._task.cancel()

    def forget(self) -> None:
        """Treat the next order as new: the core numbers its orders anew."""
        self._sent = None

    def give(self, order: Order) -> None:
        """Carry out an order once, unless a call is still in flight."""
        if self._closed or order == self._sent:
            return
        if self._busy:
            self._report(CommandHeldUp(self.part))
            return
        self._sent = order
        self._busy = True
        self._report(CommandDispatched(self.part))
        self._entry.async_create_background_task(
            self._hass, self._drive(order.target), self._name
        )

    async def _drive(self, target: bool) -> None:
        # Set here and not where the task is created: the task may finish, and the next
        # one begin, before that returns.
        self._task = asyncio.current_task()
        try:
            call = self._call(target)
            self.last_error = await call_device(self._hass, call, self._contexts.new())
        finally:
            self._busy = False
        if self.last_error is not None:
            _LOGGER.debug("%s failed a call: %s", self.entity_id, self.last_error)
        self._ended(self.part, self.last_error)

    def _call(self, target: bool) -> ServiceCall:
        domain = self._domain
        data: dict[str, object] = {ATTR_ENTITY_ID: self.entity_id}
        target = target is not self.inverted
        if domain in (COVER_DOMAIN, VALVE_DOMAIN):
            return self._move(domain, target, data)
        return ServiceCall(
            domain, SERVICE_TURN_ON if target else SERVICE_TURN_OFF, data
        )

    def _move(self, domain: str, target: bool, data: dict[str, object]) -> ServiceCall:
        state = self._hass.states.get(self.entity_id)
        features = (
            0 if state is None else state.attributes.get(ATTR_SUPPORTED_FEATURES, 0)
        )
        if domain == COVER_DOMAIN:
            ends = int(CoverEntityFeature.OPEN | CoverEntityFeature.CLOSE)
            to_position = int(CoverEntityFeature.SET_POSITION)
            services = (SERVICE_OPEN_COVER, SERVICE_CLOSE_COVER)
            by_position = SERVICE_SET_COVER_POSITION
        else:
            ends = int(ValveEntityFeature.OPEN | ValveEntityFeature.CLOSE)
            to_position = int(ValveEntityFeature.SET_POSITION)
            services = (SERVICE_OPEN_VALVE, SERVICE_CLOSE_VALVE)
            by_position = SERVICE_SET_VALVE_POSITION
        if features & ends != ends and features & to_position:
            position = {ATTR_POSITION: 100 if target else 0}
            return ServiceCall(domain, by_position, {**data, **position})
        return ServiceCall(domain, services[0] if target else services[1], data)
