"""Removes every trace of a system, however broken it is."""

from collections.abc import Iterator
import logging
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant

from .const import CONF_ACTUATOR, CONF_SWITCH
from .features.actions.pause import forget_pause
from .features.airflow.duct_tree import forget_ducts
from .features.airflow.readable_config import report_unreadable
from .features.calibration.manager import forget_drift
from .features.commissioning.issues import clear_issues
from .features.monitor_only.manager import forget_question
from .features.monitor_only.mode import is_monitor_only
from .features.notifications.issues import forget_phones
from .features.plan.drafts import forget_plan
from .features.statistics.manager import record_file
from .features.suggestions.manager import forget_suggestions
from .runtime import wrapped_entities
from .runtime.alarm_issues import clear_all_issues
from .runtime.issues import delete_issues
from .runtime.journaled_file import JournaledFile, MemoryStore
from .runtime.missing_entities import report_missing
from .runtime.release import KEEPS_ON, release_device
from .runtime.store import FileKind, KeptFile, forget_lost_files, take

_LOGGER = logging.getLogger(__name__)


async def leave_for_good(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Turn off, unhide, delete; no step depends on another's success."""
    for stored in await _to_switch_off(hass, entry):
        # The gates stay open: the impeller still turns.
        with _Step("switching off"):
            await release_device(hass, stored)
    for stored in _wrapped(entry):
        with _Step("showing what was hidden"):
            wrapped_entities.show(hass, [stored])
    with _Step("taking repairs back"):
        report_missing(hass, entry, ())
        report_unreadable(hass, entry, ())
        clear_all_issues(hass, entry)
        clear_issues(hass, entry)
        forget_ducts(hass, entry)
        forget_question(hass, entry)
        forget_suggestions(hass, entry, for_good=True)
        forget_pause(hass, entry.entry_id)
        forget_phones(hass, entry)
        delete_issues(hass, f"air_impossible_{entry.entry_id}")
    for file in (
        MemoryStore(hass, entry),
        JournaledFile(hass, FileKind.MAINTENANCE, entry),
        KeptFile(hass, FileKind.WALK, entry),
        record_file(hass, entry),
    ):
        with _Step("deleting a file"):
            await file.remove()
    with _Step("deleting a file"):
        await forget_drift(hass, entry)
    with _Step("deleting a file"):
        await forget_plan(hass, entry)
    with _Step("taking repairs back"):
        forget_lost_files(hass, entry)


async def _to_switch_off(hass: HomeAssistant, entry: ConfigEntry[Any]) -> list[str]:
    """Return what would stay on without us, always including the collector.

    In monitor-only mode, what is on isn't ours. A disabled system was turned off then:
    somebody else turned on what is on now.
    """
    if is_monitor_only(entry.data):
        return []
    found: dict[str, None] = {}
    with _Step("reading the memory"):
        left = take(hass, entry.entry_id) or await MemoryStore(hass, entry).load()
        kept = () if left is None else left.memory.get(KEEPS_ON, ())
        found |= dict.fromkeys(stored for stored in kept if isinstance(stored, str))
    if entry.disabled_by is None and isinstance(
        switch := entry.data.get(CONF_SWITCH), str
    ):
        found[switch] = None
    return list(found)


def _wrapped(entry: ConfigEntry[Any]) -> Iterator[str]:
    for stored in (
        entry.data.get(CONF_SWITCH),
        *(part.data.get(CONF_ACTUATOR) for part in entry.subentries.values()),
    ):
        if isinstance(stored, str):
            yield stored


class _Step:
    """One step of the removal: if it fails, that's logged, and the next one runs."""

    def __init__(self, what: str) -> None:
        self._what = what

    def __enter__(self) -> None:
        pass

    def __exit__(self, kind: object, err: BaseException | None, trace: object) -> bool:
        if not isinstance(err, Exception):
            return False
        _LOGGER.warning("Removing a system: %s failed: %r", self._what, err)
        return True
