"""Where a system's memory is kept: on disk over a restart, in memory over a reload."""

from collections.abc import Callable
from typing import Any, NamedTuple

from homeassistant.core import HomeAssistant
from homeassistant.helpers.storage import Store
from homeassistant.util.hass_dict import HassKey

from .const import DOMAIN

_VERSION = 1
_DELAY = 1.0
"""Seconds that changes are gathered before they are written, if nothing else is said."""


class Handover(NamedTuple):
    """What a system leaves to the one that is loaded after it.

    `at` is the instant on the monotonic clock of this process; None where it was left
    by an earlier process, nobody knows how long ago.
    """

    memory: dict[str, Any]
    at: float | None


_HANDOVERS: HassKey[dict[str, Handover]] = HassKey(f"{DOMAIN}_handovers")


def leave(hass: HomeAssistant, entry_id: str, handover: Handover) -> None:
    """Leave a memory for the next load in this process."""
    hass.data.setdefault(_HANDOVERS, {})[entry_id] = handover


def take(hass: HomeAssistant, entry_id: str) -> Handover | None:
    """Return the memory left in this process, once."""
    return hass.data.get(_HANDOVERS, {}).pop(entry_id, None)


class DelayedStore:
    """A file in which what changes often is written in a while."""

    def __init__(self, hass: HomeAssistant, key: str) -> None:
        """Name the file."""
        self._loop = hass.loop
        self._due: float | None = None
        self._store: Store[dict[str, Any]] = Store(hass, _VERSION, key)

    async def read(self) -> dict[str, Any] | None:
        """Return what was written last."""
        return await self._store.async_load()

    def write_soon(
        self, memory: Callable[[], dict[str, Any]], delay: float = _DELAY
    ) -> None:
        """Write what `memory` returns then, in so many seconds or at a stop.

        A write that is due earlier takes in what happens until then: put off by each
        change, it would not come at all in a shop where something changes all the time.
        """

        def due() -> dict[str, Any]:
            self._due = None
            return memory()

        at = self._loop.time() + delay
        if self._due is None or at < self._due:
            self._due = at
            self._store.async_delay_save(due, delay)

    async def write(self, memory: dict[str, Any]) -> None:
        """Write at once, in place of a write that is due."""
        self._due = None
        await self._store.async_save(memory)

    async def remove(self) -> None:
        """Delete the file."""
        await self._store.async_remove()


class MemoryStore(DelayedStore):
    """One system's memory on disk."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Keep it in a file of its own."""
        super().__init__(hass, f"{DOMAIN}.{entry_id}")

    async def load(self) -> Handover | None:
        """Return what an earlier process wrote last."""
        memory = await self.read()
        return None if memory is None else Handover(memory, None)
