"""Settings as they stand in a file: under the names of their fields, in groups.

What Home Assistant stores has keys that go back to the first version; a file has the
words of today, so that a person can read and write it.
"""

from collections.abc import Mapping
from dataclasses import MISSING
from typing import Any

from ..plan.fields import PlanRefusal
from ..stored.table import Stored, table_of
from .document import NOT_SET_UP


def settings_of(kind: type[Stored], data: Mapping[str, Any]) -> dict[str, Any]:
    """Return stored data as settings; what cannot be read is left out."""
    table = table_of(kind)
    found = {
        name: data[item.key]
        for name, item in table.own.items()
        if name not in NOT_SET_UP
        and data.get(item.key) is not None
        and item.kind.check(data[item.key])
    }
    for name, part in table.parts.items():
        if inner := settings_of(part, data):
            found[name] = inner
    return found


class SettingsReader:
    """Reads settings; notes what is wrong, and what this version doesn't know."""

    def __init__(self) -> None:
        self.refusals: list[PlanRefusal] = []
        self.unknown: list[str] = []

    def read(self, kind: type[Stored], raw: Any, path: str) -> dict[str, Any]:
        """Return what is to be stored for settings at a place of the file."""
        if not isinstance(raw, Mapping):
            self.refuse("wrong_type", path, wanted="map")
            return {}
        table = table_of(kind)
        found: dict[str, Any] = {}
        for name, item in table.own.items():
            if name in NOT_SET_UP:
                continue
            value = raw.get(name)
            if value is None:
                if item.default is MISSING:
                    self.refuse("missing", f"{path}.{name}")
                elif item.always:
                    found[item.key] = item.kind.dump(item.default)
            elif item.kind.check(value):
                found[item.key] = value
            else:
                self.refuse("wrong_value", f"{path}.{name}")
        for name, part in table.parts.items():
            found |= self.read(part, raw.get(name) or {}, f"{path}.{name}")
        known = (table.own.keys() | table.parts.keys()) - NOT_SET_UP
        self.unknown += [f"{path}.{name}" for name in raw if name not in known]
        return found

    def refuse(self, code: str, path: str, **values: str) -> None:
        """Note a mistake at a place of the file."""
        self.refusals.append(PlanRefusal(code=code, path=path, values=values))
