"""Watches the states of Home Assistant's entities, with the instants of their changes."""

import asyncio
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
import os
import time
from typing import Any, Self

from .hub_socket import HubGoneError, HubSocket


@dataclass(frozen=True, slots=True)
class StateChange:
    """One change of one entity's state or attributes.

    `at` is Home Assistant's own time of the change in seconds since the epoch,
    `received` the monotonic time of its arrival. A state is None before an entity was
    added or after it was removed.
    """

    entity_id: str
    old: str | None
    new: str | None
    attributes: dict[str, Any]
    at: float
    received: float

    @property
    def is_new_state(self) -> bool:
        """Whether the state changed, and not only an attribute."""
        return self.old != self.new


PATIENCE = float(os.environ.get("GATEWRIGHT_PATIENCE", "1"))
"""The factor of all waiting times: tests have to pass on a busy machine, too."""


class StateWatch:
    """All states of Home Assistant, and their changes since the watch began."""

    def __init__(self, socket: HubSocket) -> None:
        """Watch through a connection; use `start`."""
        self._socket = socket
        self._states: dict[str, dict[str, Any]] = {}
        self._news = asyncio.Event()
        self.changes: list[StateChange] = []
        """Every change since the watch began, in order."""
        self.listeners: list[Callable[[StateChange], None]] = []

    @classmethod
    async def start(cls, socket: HubSocket) -> Self:
        """Begin to watch."""
        watch = cls(socket)
        # Subscribe first: a change in between is then seen twice rather than never.
        await socket.subscribe(
            "subscribe_events", watch._take, event_type="state_changed"
        )
        for state in await socket.command("get_states"):
            watch._states.setdefault(state["entity_id"], state)
        return watch

    def __contains__(self, entity_id: object) -> bool:
        """Whether an entity has a state."""
        return entity_id in self._states

    @property
    def entity_ids(self) -> list[str]:
        """Return all entities that have a state."""
        return sorted(self._states)

    def state(self, entity_id: str) -> str | None:
        """Return an entity's state, None if it has none."""
        state = self._states.get(entity_id)
        return None if state is None else str(state["state"])

    def number(self, entity_id: str) -> float | None:
        """Return an entity's state as a number, None if it is not one."""
        try:
            return float(self.state(entity_id) or "")
        except ValueError:
            return None

    def attribute(self, entity_id: str, name: str) -> Any:
        """Return an attribute, None if there is none."""
        state = self._states.get(entity_id)
        return None if state is None else state["attributes"].get(name)

    def since(self, entity_id: str) -> float:
        """Return since when an entity has its state, in s since the epoch."""
        changed: str = self._states[entity_id]["last_changed"]
        return datetime.fromisoformat(changed).timestamp()

    async def until(
        self,
        wanted: Callable[[], bool],
        timeout: float = 30.0,
        *,
        what: str = "what was expected",
    ) -> float:
        """Wait until a condition over the states holds; return the seconds waited. Raises `TimeoutError`."""
        timeout *= PATIENCE
        began = time.monotonic()
        while not wanted():
            left = began + timeout - time.monotonic()
            if left <= 0:
                raise TimeoutError(f"{what} did not happen within {timeout:g} s")
            self._news.clear()
            if self._socket.closed.is_set():
                raise HubGoneError(f"Home Assistant is gone while waiting for {what}")
            try:
                # A stopped Home Assistant sends nothing: check now and then.
                async with asyncio.timeout(min(left, 1.0)):
                    await self._news.wait()
            except TimeoutError:
                continue
        return time.monotonic() - began

    async def until_state(
        self,
        entity_id: str,
        wanted: str | Iterable[str] | Callable[[str | None], bool],
        timeout: float = 30.0,
    ) -> float:
        """Wait until an entity has one of some states, or one that a function accepts; return the seconds waited."""
        if callable(wanted):
            likes = wanted
        else:
            choice = {wanted} if isinstance(wanted, str) else set(wanted)
            likes = choice.__contains__
        try:
            return await self.until(lambda: likes(self.state(entity_id)), timeout)
        except TimeoutError:
            raise TimeoutError(
                f"{entity_id} is {self.state(entity_id)}, and did not become "
                f"{wanted} within {timeout:g} s"
            ) from None

    def history(
        self, entity_id: str, since: float = 0.0, *, attributes: bool = False
    ) -> list[StateChange]:
        """Return an entity's changes of state since an instant of Home Assistant's clock, with those of attributes if wanted."""
        return [
            change
            for change in self.changes
            if change.entity_id == entity_id
            and change.at >= since
            and (attributes or change.is_new_state)
        ]

    def _take(self, event: dict[str, Any]) -> None:
        """Record a change."""
        data = event["data"]
        entity_id: str = data["entity_id"]
        old, new = data["old_state"], data["new_state"]
        if new is None:
            self._states.pop(entity_id, None)
        else:
            self._states[entity_id] = new
        change = StateChange(
            entity_id,
            None if old is None else old["state"],
            None if new is None else new["state"],
            {} if new is None else new["attributes"],
            datetime.fromisoformat(event["time_fired"]).timestamp(),
            time.monotonic(),
        )
        self.changes.append(change)
        for listen in self.listeners:
            listen(change)
        self._news.set()
