"""Where a system's memory is kept: on disk over a restart, in memory over a reload."""

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
"""What the issue of a file is about, and how its id and its texts begin."""

_ASIDE: Final = ".unreadable."
_VERSION = 1
DELAY = 1.0
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


class FileKind(StrEnum):
    """What is kept in a file of its own; also the end of its name and of its texts."""

    MEMORY = "memory"
    MAINTENANCE = "upkeep"
    RECORD = "record"
    WALK = "walk"
    DRIFT = "drift"
    PAUSES = "pauses"
    PLAN = "plan"


class _Store(Store[Any]):
    """A file as Home Assistant keeps it; what version 0.1.0 wrote is renewed.

    It is on the disk before it takes the place of the one before.
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
    """A file of ours, which may be gone, damaged, or of a later version.

    What cannot be read is put aside under another name, a repair says which file it was
    and what is lost, and whoever reads begins with nothing.
    """

    def __init__(
        self, hass: HomeAssistant, kind: FileKind, entry: ConfigEntry[Any] | None = None
    ) -> None:
        """Keep a file of the system of `entry`; without it, one that all systems share."""
        self._hass = hass
        self._kind = kind
        self._entry = entry
        self._due: float | None = None
        self.lost = False
        """Whether there was something that could not be read."""
        parts = [DOMAIN] if entry is None else [DOMAIN, entry.entry_id]
        if entry is None or kind is not FileKind.MEMORY:
            parts.append(kind.value)
        self.key = ".".join(parts)
        self._store = _Store(hass, self.key)

    async def read(self) -> dict[str, Any] | None:
        """Return what was written last; None without anything that can be read."""
        kept: Any
        there = await self._hass.async_add_executor_job(self._exists)
        try:
            kept = await self._store.async_load()
        except Exception as err:  # noqa: BLE001 - whatever is wrong with a file
            await self.put_aside(err)
            return None
        if kept is None and there:
            # It was no JSON: Home Assistant has put it aside, and says so in general.
            self._take_back_general()
            self.tell()
        elif kept is not None and not isinstance(kept, dict):
            await self.put_aside(TypeError(f"{type(kept).__name__} instead of a map"))
            return None
        return cast("dict[str, Any] | None", kept)

    async def put_aside(self, err: Exception) -> None:
        """Give the file another name, since what is in it is of no use; tell that."""
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
        """Say in a repair which file could not be read, and so what is lost.

        Another text and file than the usual ones can be given.
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
        """Write what `memory` returns then, in so many seconds or at a stop.

        A write that is due earlier takes in what happens until then: put off by each
        change, it would not come at all in a shop where something changes all the time.
        """

        def due() -> dict[str, Any]:
            self._due = None
            return memory()

        at = self._hass.loop.time() + delay
        if self._due is None or at < self._due:
            self._due = at
            self._store.async_delay_save(due, delay)

    async def write(self, memory: dict[str, Any]) -> None:
        """Write at once, in place of a write that is due."""
        self._due = None
        await self._store.async_save(memory)

    async def holds(self, memory: dict[str, Any]) -> bool:
        """Whether this is what is on disk: a full one is only logged when written."""
        return bool(await self._read_back() == memory)

    async def _read_back(self) -> Any:
        """Return what is on disk; None where nothing can be read."""
        try:
            return await _Store(self._hass, self.key).async_load()
        except Exception:  # noqa: BLE001 - then nothing is there
            return None

    async def remove(self) -> None:
        """Delete the file, what is beside it, and what was put aside of it."""
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
    """Take back what was told of the files of a system that is removed."""
    delete_issues(hass, _prefix(entry))


def _prefix(entry: ConfigEntry[Any] | None) -> str:
    return f"{FILE_LOST}_{'all' if entry is None else entry.entry_id}_"


def rename_aside(path: Path) -> None:
    """Give a file another name, under which nobody reads it; for the executor."""
    mark = dt_util.utcnow().strftime("%Y%m%d%H%M%S%f")
    try:
        path.rename(path.with_name(f"{path.name}{_ASIDE}{mark}"))
    except OSError as err:
        if not isinstance(err, FileNotFoundError):
            _LOGGER.warning("The file %s cannot be renamed: %s", path, err)


def remove_asides(path: Path) -> None:
    """Delete what was put aside of a file, by us or by Home Assistant."""
    for mark in (_ASIDE, ".corrupt."):
        for aside in path.parent.glob(f"{escape(path.name)}{mark}*"):
            aside.unlink(missing_ok=True)
