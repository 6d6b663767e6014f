"""A system's set-up as it stands in a file, typed.

`data` of a system or part is what Home Assistant would store of it, except that an entity
goes by its entity id and another part by its id in the file.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from ..plan.document import ShopPlan
from ..stored.parts import StoredDuct, StoredGate, StoredMachine, StoredPart

FORMAT: Final = "gatewright-setup"
VERSION: Final = 1

NOT_SET_UP: Final = frozenset({"monitor_only_since", "remembers"})
"""Fields of a system that say how it stands, not how it is set up."""

KINDS: Final[Mapping[str, type[StoredPart]]] = {
    kind.SUBENTRY_TYPE: kind for kind in (StoredGate, StoredMachine, StoredDuct)
}

ENTITY_KEYS: Final = frozenset(
    {
        *("switch", "power", "emergency", "bin_full", "air_supply", "filter_pressure"),
        *("suction", "bin_level", "particles", "cleaning", "room_cleaner", "drive"),
        *("actuator", "open_sensor", "shut_sensor", "sensor", "attached", "foretold"),
        *("relay", "companions", "phones"),
    }
)
"""Keys under which entities are stored, one or several."""

MOVED_KEYS: Final = frozenset(
    {"switch", "cleaning", "room_cleaner", "drive", "actuator", "companions"}
)
"""Those whose entities are driven: two systems must not drive the same one."""

PART_KEYS: Final = frozenset({"gates", "hand_gates", "duct", "into"})
"""Keys under which other parts are stored, one or several."""

PURGE_KEY: Final = "clearing"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupPart:
    """A gate, machine or duct; `kind` is one of `KINDS`."""

    part_id: str
    kind: str
    name: str
    data: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupFile:
    """A whole set-up; `unknown` are the paths of settings that this version lacks."""

    name: str
    data: Mapping[str, Any]
    parts: tuple[SetupPart, ...] = ()
    plan: ShopPlan | None = None
    unknown: tuple[str, ...] = field(default=(), compare=False)

    def entities(self) -> Iterator[tuple[str, str, str]]:
        """Yield every use of an entity: name of the part, key, entity id."""
        for name, data in self._described():
            for key in sorted(ENTITY_KEYS & data.keys()):
                for entity_id in several(data[key]):
                    yield name, key, entity_id

    def references(self) -> Iterator[tuple[str, str]]:
        """Yield every use of another part: name of the part that uses it, and its id."""
        for name, data in self._described():
            steps = data.get(PURGE_KEY, ())
            for held in (data, *steps):
                for key in sorted(PART_KEYS & held.keys()):
                    for part_id in several(held[key]):
                        yield name, part_id

    def _described(self) -> Iterator[tuple[str, Mapping[str, Any]]]:
        yield self.name, self.data
        for part in self.parts:
            yield part.name, part.data


def several(value: str | Iterable[str]) -> list[str]:
    """Return one value, or several, as a list."""
    return [value] if isinstance(value, str) else list(value)
