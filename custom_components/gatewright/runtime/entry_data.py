"""Reads a system's settings from its config entry, and writes changed ones."""

from typing import Any

from homeassistant.config_entries import ConfigEntry, ConfigSubentry
from homeassistant.core import HomeAssistant, callback

from ..core.stored.config import StoredConfig, Unread
from ..core.stored.parts import StoredDuct, StoredGate, StoredMachine, StoredPart
from ..core.stored.system import StoredSystem
from ..core.stored.table import unreadable_in

_KINDS: dict[str, type[StoredPart]] = {
    kind.SUBENTRY_TYPE: kind for kind in (StoredGate, StoredMachine, StoredDuct)
}


def read_config(entry: ConfigEntry[Any]) -> StoredConfig:
    """Read a system's stored data; unreadable data is left out, and listed.

    A part is left out as a whole, a collector's value alone. Raises `UnreadableError`
    if the collector has no switch.
    """
    system = read_system(entry)
    unread = [
        Unread(None, entry.title, what)
        for what in unreadable_in(StoredSystem, entry.data)
    ]
    parts: dict[str, StoredPart] = {}
    for part_id, part in entry.subentries.items():
        if (kind := _KINDS.get(part.subentry_type)) is None:
            continue
        if wrong := unreadable_in(kind, part.data):
            unread.append(Unread(part_id, part.title, wrong[0]))
        else:
            parts[part_id] = _read_whole(kind, part)
    return StoredConfig(system=system, parts=parts, unread=tuple(unread))


def written(entry: ConfigEntry[Any]) -> object:
    """Return a system's stored data as it is, for a later comparison."""
    return (
        entry.title,
        entry.data,
        {
            part_id: (part.title, part.data)
            for part_id, part in entry.subentries.items()
        },
    )


def read_system(entry: ConfigEntry[Any]) -> StoredSystem:
    """Read a collector's stored data; raises the same error as `read_config`."""
    return StoredSystem.from_data(entry.data, part_id=entry.entry_id, name=entry.title)


def read_part[P: StoredPart](kind: type[P], part: ConfigSubentry) -> P:
    """Read a part's stored data.

    Raises `UnreadableError` if something necessary can't be read.
    """
    return kind.from_data(part.data, part_id=part.subentry_id, name=part.title)


def read_parts[P: StoredPart](entry: ConfigEntry[Any], kind: type[P]) -> dict[str, P]:
    """Return a system's readable parts of one kind by their ids."""
    return {
        part.subentry_id: _read_whole(kind, part)
        for part in entry.get_subentries_of_type(kind.SUBENTRY_TYPE)
        if not unreadable_in(kind, part.data)
    }


def _read_whole[P: StoredPart](kind: type[P], part: ConfigSubentry) -> P:
    """Read a part that is known to be readable."""
    return kind.from_form(part.data, part_id=part.subentry_id, name=part.title)


@callback
def update_entry(
    hass: HomeAssistant, entry: ConfigEntry[Any], changed: StoredSystem | StoredPart
) -> None:
    """Store a system or a part that was read from the entry and then changed.

    Use what was just read from the entry: the usable data lacks unreadable values,
    which have to stay stored.
    """
    if isinstance(changed, StoredPart):
        hass.config_entries.async_update_subentry(
            entry, entry.subentries[changed.part_id], data=changed.to_data()
        )
    else:
        hass.config_entries.async_update_entry(entry, data=changed.to_data())
