"""Keeps a system's memory: on disk for a restart, in memory for a reload."""

from collections.abc import Callable
from enum import StrEnum
from glob import escape
import logging
from pathlib import Path
from typing import Any, Final, NamedTuple, cast, override

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import DOMAIN as HOMEASSISTANT, HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir
from homeassistant.helpers.storage import Store
from homeassistant.util import dt as dt_util
from homeassistant.util.hass_dict import HassKey

from ..const import DOMAIN
from .issues import delete_issues, raise_issue
from .old_names.files import MINOR_VERSION, renewed

_LOGGER = logging.getLogger(__name__)

FILE_LOST: Final = "file_lost"
"""The issue about a file: the prefix of its id and of its texts."""

_ASIDE: Final = ".unreadable."
_VERSION = 1
DELAY = 1.0
"""Seconds to collect changes before writing, by default."""


class Handover(NamedTuple):
    """The memory that a system leaves to its next load.

    `at` is the instant on this process's monotonic clock; None if an earlier process
    left it an unknown time ago.
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


class FileKind(StrEnum):
    """A file of its own; also the suffix of its name and of its texts."""

    MEMORY = "memory"
    MAINTENANCE = "upkeep"
    RECORD = "record"
    WALK = "walk"
    DRIFT = "drift"
    PAUSES = "pauses"
    PLAN = "plan"


class _Store(Store[Any]):
    """A file in Home Assistant's storage; version 0.1.0's data is converted.

    It's on disk before it replaces the previous one.
    """

    def __init__(self, hass: HomeAssistant, key: str) -> None:
        super().__init__(
            hass, _VERSION, key, minor_version=MINOR_VERSION, atomic_writes=True
        )

    @override
    async def _async_migrate_func(
        self, old_major_version: int, old_minor_version: int, old_data: Any
    ) -> Any:
        return renewed(old_data)


class KeptFile:
    """One of our files, which may be missing, damaged, or of a later version.

    An unreadable file is renamed, a repair says which file it was and what is lost, and
    its reader begins with nothing.
    """

    def __init__(
        self, hass: HomeAssistant, kind: FileKind, entry: ConfigEntry[Any] | None = None
    ) -> None:
        """Be the file of a system, or one that all systems share."""
        self._hass = hass
        self._kind = kind
        self._entry = entry
        self._due: float | None = None
        self.lost = False
        """Whether there was something unreadable."""
        parts = [DOMAIN] if entry is None else [DOMAIN, entry.entry_id]
        if entry is None or kind is not FileKind.MEMORY:
            parts.append(kind.value)
        self.key = ".".join(parts)
        self._store = _Store(hass, self.key)

    async def read(self) -> dict[str, Any] | None:
        """Return what was written last; None without anything readable."""
        kept: Any
        there = await self._hass.async_add_executor_job(self._exists)
        try:
            kept = await self._store.async_load()
        except Exception as err:  # noqa: BLE001 - whatever is wrong with a file
            await self.put_aside(err)
            return None
        if kept is None and there:
            # It was no JSON: Home Assistant has renamed it, and raises a general issue.
            self._take_back_general()
            self.tell()
        elif kept is not None and not isinstance(kept, dict):
            await self.put_aside(TypeError(f"{type(kept).__name__} instead of a map"))
            return None
        return cast("dict[str, Any] | None", kept)

    async def put_aside(self, err: Exception) -> None:
        """Rename an unusable file, and report it."""
        _LOGGER.warning(
            "The file %s of %s cannot be read and was put aside: %r",
            self.key,
            DOMAIN if self._entry is None else self._entry.title,
            err,
        )
        await self._hass.async_add_executor_job(self._rename)
        # Nothing of it is left to be read again in this process.
        self._store = _Store(self._hass, self.key)
        self.tell()

    @callback
    def tell(self, text: str = "", file: str = "") -> None:
        """Raise a repair that says which file couldn't be read, and what is lost.

        It may have another text and file than usual.
        """
        self.lost = True
        raise_issue(
            self._hass,
            f"{_prefix(self._entry)}{self._kind.value}",
            f"{FILE_LOST}_{text or self._kind.value}",
            {
                "system": "" if self._entry is None else self._entry.title,
                "file": f".storage/{file or self.key}",
            },
            data={
                "what": FILE_LOST,
                "kind": self._kind.value,
                "entry_id": "" if self._entry is None else self._entry.entry_id,
            },
            # The file is read once; the owner may look in a week.
            persistent=True,
            severity=ir.IssueSeverity.ERROR,
        )

    def write_soon(
        self, memory: Callable[[], dict[str, Any]], delay: float = DELAY
    ) -> None:
        """Write what `memory` returns in this many seconds, or at a stop.

        An earlier pending write includes what happens until then: if each change
        postponed it, a shop with constant changes would never be written.
        """

        def due() -> dict[str, Any]:
            self._due = None
            return memory()

        at = self._hass.loop.time() + delay
        if self._due is None or at < self._due:
            self._due = at
            self._store.async_delay_save(due, delay)

    async def write(self, memory: dict[str, Any]) -> None:
        """Write at once, in place of a pending write."""
        self._due = None
        await self._store.async_save(memory)

    async def holds(self, memory: dict[str, Any]) -> bool:
        """Return whether this is on disk: a write error is only logged."""
        return bool(await self._read_back() == memory)

    async def _read_back(self) -> Any:
        """Return what is on disk; None without anything readable."""
        try:
            return await _Store(self._hass, self.key).async_load()
        except Exception:  # noqa: BLE001 - then nothing is there
            return None

    async def remove(self) -> None:
        """Delete the file, those beside it, and renamed unreadable ones."""
        await self._store.async_remove()
        await self._hass.async_add_executor_job(self._remove_asides)

    def _exists(self) -> bool:
        return Path(self._store.path).exists()

    def _rename(self) -> None:
        rename_aside(Path(self._store.path))

    def _remove_asides(self) -> None:
        remove_asides(Path(self._store.path))

    def _take_back_general(self) -> None:
        begins = f"storage_corruption_{self.key}_"
        for domain, issue_id in list(ir.async_get(self._hass).issues):
            if domain == HOMEASSISTANT and issue_id.startswith(begins):
                ir.async_delete_issue(self._hass, domain, issue_id)


@callback
def forget_lost_files(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Delete the issues about the files of a removed system."""
    delete_issues(hass, _prefix(entry))


def _prefix(entry: ConfigEntry[Any] | None) -> str:
    return f"{FILE_LOST}_{'all' if entry is None else entry.entry_id}_"


def rename_aside(path: Path) -> None:
    """Rename a file so that nobody reads it; for the executor."""
    mark = dt_util.utcnow().strftime("%Y%m%d%H%M%S%f")
    try:
        path.rename(path.with_name(f"{path.name}{_ASIDE}{mark}"))
    except OSError as err:
        if not isinstance(err, FileNotFoundError):
            _LOGGER.warning("The file %s cannot be renamed: %s", path, err)


def remove_asides(path: Path) -> None:
    """Delete a file's renamed copies, ours and Home Assistant's."""
    for mark in (_ASIDE, ".corrupt."):
        for aside in path.parent.glob(f"{escape(path.name)}{mark}*"):
            aside.unlink(missing_ok=True)
