"""Reads a system's settings from its config entry, and writes changed ones into it."""

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
    """Read what is stored of a system; what cannot be read is left out, and named.

    A part goes as a whole, a value of the collector alone. Raises `UnreadableError` where
    the collector has no switch.
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
    """Return what is stored of a system as it stands, to be compared with later."""
    return (
        entry.title,
        entry.data,
        {
            part_id: (part.title, part.data)
            for part_id, part in entry.subentries.items()
        },
    )


def read_system(entry: ConfigEntry[Any]) -> StoredSystem:
    """Read what is stored of a collector; raises as `read_config` does."""
    return StoredSystem.from_data(entry.data, part_id=entry.entry_id, name=entry.title)


def read_part[P: StoredPart](kind: type[P], part: ConfigSubentry) -> P:
    """Read what is stored of a part.

    Raises `UnreadableError` where something cannot be read that it cannot be without.
    """
    return kind.from_data(part.data, part_id=part.subentry_id, name=part.title)


def read_parts[P: StoredPart](entry: ConfigEntry[Any], kind: type[P]) -> dict[str, P]:
    """Return a system's parts of a kind by their ids, those that can be read."""
    return {
        part.subentry_id: _read_whole(kind, part)
        for part in entry.get_subentries_of_type(kind.SUBENTRY_TYPE)
        if not unreadable_in(kind, part.data)
    }


def _read_whole[P: StoredPart](kind: type[P], part: ConfigSubentry) -> P:
    """Read a part of which nothing is unreadable: that needn't be looked at again."""
    return kind.from_form(part.data, part_id=part.subentry_id, name=part.title)


@callback
def update_entry(
    hass: HomeAssistant, entry: ConfigEntry[Any], changed: StoredSystem | StoredPart
) -> None:
    """Store a system or a part of it that was read from the entry and then changed.

    It has to be read from the entry just then: what was made usable of it lacks what
    cannot be used, and stays stored.
    """
    if isinstance(changed, StoredPart):
        hass.config_entries.async_update_subentry(
            entry, entry.subentries[changed.part_id], data=changed.to_data()
        )
    else:
        hass.config_entries.async_update_entry(entry, data=changed.to_data())
