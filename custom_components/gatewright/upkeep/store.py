"""Where the past of one system is kept: calendar, record, bin, filter, services.

In a file of its own, apart from the memory of the sequence: it is larger by far and
wanted less often.
"""

from collections.abc import Callable
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers.storage import Store

from ..const import DOMAIN

_VERSION = 1
_DELAY = 10.0
"""Seconds that changes are gathered before they are written."""


class UpkeepStore:
    """One system's past on disk."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Keep it in a file of its own."""
        self._loop = hass.loop
        self._due: float | None = None
        self._store: Store[dict[str, Any]] = Store(
            hass, _VERSION, f"{DOMAIN}.{entry_id}.upkeep"
        )

    async def load(self) -> dict[str, Any] | None:
        """Return what was written last."""
        return await self._store.async_load()

    def write_soon(
        self, memory: Callable[[], dict[str, Any]], delay: float = _DELAY
    ) -> None:
        """Write what `memory` returns then, in so many seconds or at a stop.

        A write that is due earlier takes it in.
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
