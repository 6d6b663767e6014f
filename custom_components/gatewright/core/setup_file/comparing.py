"""Holds a set-up from a file against the one that is there: what importing it changes."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ..stored.system import StoredSystem
from ..stored.table import Stored
from .document import KINDS, SetupFile, SetupPart
from .settings import settings_of

ADDED: Final = "added"
CHANGED: Final = "changed"
REMOVED: Final = "removed"
RENAMED: Final = "renamed"


@dataclass(frozen=True, slots=True)
class SettingChange:
    """A setting before and after, by its path; None for none."""

    path: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupChange:
    """What an import does to one part; `kind` is `collector` for the whole system."""

    code: str
    kind: str
    name: str
    was: str = ""
    settings: tuple[SettingChange, ...] = ()


def matched(new: SetupFile, old: SetupFile) -> dict[str, str]:
    """Return the part of `old` that each part of `new` is, by their ids.

    By its id where the file is the system's own, otherwise by kind and name.
    """
    kinds = {part.part_id: part.kind for part in old.parts}
    found = {
        part.part_id: part.part_id
        for part in new.parts
        if kinds.get(part.part_id) == part.kind
    }
    left = {
        (part.kind, part.name.casefold()): part.part_id
        for part in old.parts
        if part.part_id not in found
    }
    for part in new.parts:
        if part.part_id not in found:
            same = left.pop((part.kind, part.name.casefold()), None)
            if same is not None:
                found[part.part_id] = same
    return found


def changes(new: SetupFile, old: SetupFile) -> list[SetupChange]:
    """Return what makes `new` of `old`; parts that are the same have the same id."""
    found = _changed(
        "collector", StoredSystem, (old.name, old.data), new.name, new.data
    )
    before = {part.part_id: part for part in old.parts}
    for part in new.parts:
        was = before.pop(part.part_id, None)
        if was is None:
            found.append(SetupChange(code=ADDED, kind=part.kind, name=part.name))
        else:
            kind = KINDS[part.kind]
            stood = was.name, was.data
            found += _changed(part.kind, kind, stood, part.name, part.data)
    found += map(_removed, before.values())
    return found


def _removed(part: SetupPart) -> SetupChange:
    return SetupChange(code=REMOVED, kind=part.kind, name=part.name)


def _changed(
    label: str,
    kind: type[Stored],
    before: tuple[str, Mapping[str, Any]],
    name: str,
    data: Mapping[str, Any],
) -> list[SetupChange]:
    was, old_data = before
    old, new = _flat(settings_of(kind, old_data)), _flat(settings_of(kind, data))
    settings = tuple(
        SettingChange(path, old.get(path), new.get(path))
        for path in sorted(old.keys() | new.keys())
        if old.get(path) != new.get(path)
    )
    found = []
    if was != name:
        found.append(SetupChange(code=RENAMED, kind=label, name=name, was=was))
    if settings:
        found.append(
            SetupChange(code=CHANGED, kind=label, name=name, settings=settings)
        )
    return found


def _flat(settings: Mapping[str, Any], path: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in settings.items():
        if isinstance(value, Mapping) and not path:
            found |= _flat(value, f"{key}.")
        else:
            found[f"{path}{key}"] = value
    return found
