"""Files that change all the time: seldom written in full, with a journal in between.

The file itself is Home Assistant's; a journal beside it has the later changes. The
first write of a process is complete, and so is the one after the journal has grown, the
one at a stop and the one before a backup. The file has a mark, which its journal
repeats: whichever of the two a crash leaves older, they aren't mixed.
"""

import asyncio
from collections.abc import Callable
import logging
from pathlib import Path
from typing import Any, Final, override

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import EVENT_HOMEASSISTANT_FINAL_WRITE
from homeassistant.core import CALLBACK_TYPE, CoreState, Event, HomeAssistant, callback
from homeassistant.helpers.json import json_bytes
from homeassistant.util.uuid import random_uuid_hex

from .journal import ENDING, MARK, Journal, caught_up
from .store import DELAY, FileKind, Handover, KeptFile, remove_asides, rename_aside
from .timer import Timer

_LOGGER = logging.getLogger(__name__)

LEAST_JOURNAL: Final = 131_072
"""Bytes that a journal may always have; it may also grow to twice the file's size."""

_DAMAGED: Final = "journal"
"""The suffix of the text about a damaged journal."""


class JournaledFile(KeptFile):
    """A file with a journal of its changes."""

    def __init__(
        self, hass: HomeAssistant, kind: FileKind, entry: ConfigEntry[Any]
    ) -> None:
        super().__init__(hass, kind, entry)
        self._journal = Journal(Path(f"{self._store.path}{ENDING}"))
        self._content: Callable[[], dict[str, Any]] | None = None
        self._at = 0.0
        self._timer = Timer(hass, f"gatewright {kind} write", self._due_now)
        self._final: CALLBACK_TYPE | None = None
        self._one = asyncio.Lock()

    @override
    async def read(self) -> dict[str, Any] | None:
        kept = await super().read()
        if kept is None:
            return None
        kept, sound = await self._hass.async_add_executor_job(
            caught_up, self._journal.path, kept
        )
        if not sound:
            await self._hass.async_add_executor_job(rename_aside, self._journal.path)
            # What the memory lost may be a start block.
            text = "" if self._kind is FileKind.MEMORY else _DAMAGED
            self.tell(text, f"{self.key}{ENDING}")
        return kept

    @override
    @callback
    def write_soon(
        self, memory: Callable[[], dict[str, Any]], delay: float = DELAY
    ) -> None:
        if self._hass.state is CoreState.stopping:
            self._give_up()
            super().write_soon(lambda: self._marked(memory()), delay)
            return
        at = self._hass.loop.time() + delay
        if self._content is None or at < self._at:
            self._at = at
            self._timer.arm(delay)
        self._content = memory
        if self._final is None:
            self._final = self._hass.bus.async_listen_once(
                EVENT_HOMEASSISTANT_FINAL_WRITE, self._last_write
            )

    @override
    async def write(self, memory: dict[str, Any]) -> None:
        self._give_up()
        async with self._one:
            await self._write_whole(memory)

    @override
    async def remove(self) -> None:
        self._give_up()
        async with self._one:
            await super().remove()

    @override
    def _rename(self) -> None:
        super()._rename()
        self._journal.end()
        rename_aside(self._journal.path)

    @override
    def _remove_asides(self) -> None:
        super()._remove_asides()
        self._journal.remove()
        remove_asides(self._journal.path)

    # How it works ---------------------------------------------------------------

    @callback
    def _give_up(self) -> None:
        """Cancel a pending write."""
        self._content = None
        self._timer.disarm()
        if self._final is not None:
            self._final()
            self._final = None

    @callback
    def _due_now(self) -> None:
        self._hass.async_create_task(
            self._write_changes(), f"gatewright {self.key}", eager_start=True
        )

    async def _last_write(self, _event: Event) -> None:
        self._final = None
        if (content := self._content) is not None:
            await self.write(content())

    async def _write_changes(self) -> None:
        async with self._one:
            if (content := self._content) is None:
                return
            self._give_up()
            memory = content()
            if self._hass.state is CoreState.stopping:
                await self._store.async_save(self._marked(memory))
                return
            # Serialized here: its source may change meanwhile.
            text = json_bytes(memory)
            journal = self._journal
            if (
                journal.begun
                and journal.size <= max(LEAST_JOURNAL, 2 * len(text))
                and await self._append(text)
            ):
                return
            await self._write_whole(memory, text)

    async def _append(self, text: bytes) -> bool:
        """Append the changes to the journal; return whether that worked."""
        try:
            await self._hass.async_add_executor_job(self._journal.append, text)
        except OSError as err:
            path = self._journal.path
            _LOGGER.warning("The file %s can't be written: %s", path, err)
            return False
        return True

    async def _write_whole(
        self, memory: dict[str, Any], text: bytes | None = None
    ) -> None:
        """Write the complete file, and begin a journal if it's really on disk."""
        if text is None:
            text = json_bytes(memory)
        marked = self._marked(memory)
        await self._store.async_save(marked)
        if self._hass.state is CoreState.stopping:
            # It's written at the very end.
            return
        there = await self._read_back()
        if isinstance(there, dict) and there.get(MARK) == marked[MARK]:
            self._journal.begin(marked[MARK], text)
        elif self._journal.begun:
            await self._append(text)

    @staticmethod
    def _marked(memory: dict[str, Any]) -> dict[str, Any]:
        return {MARK: random_uuid_hex(), **memory}


class MemoryStore(JournaledFile):
    """One system's memory on disk."""

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
        super().__init__(hass, FileKind.MEMORY, entry)

    async def load(self) -> Handover | None:
        """Return what an earlier process wrote last."""
        memory = await self.read()
        return None if memory is None else Handover(memory, None)
