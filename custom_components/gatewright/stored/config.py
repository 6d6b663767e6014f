"""One system as it is stored, as far as it can be read."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Protocol, Self

from .parts import StoredDuct, StoredGate, StoredMachine, StoredPart
from .system import StoredSystem
from .table import unreadable_in

KINDS: Mapping[str, type[StoredPart]] = {
    kind.SUBENTRY_TYPE: kind for kind in (StoredGate, StoredMachine, StoredDuct)
}


class PartLike(Protocol):
    """How a gate, machine or duct is kept."""

    @property
    def data(self) -> Mapping[str, Any]:
        """What was entered of it."""

    @property
    def subentry_id(self) -> str:
        """The id."""

    @property
    def subentry_type(self) -> str:
        """What it is."""

    @property
    def title(self) -> str:
        """The name."""


class EntryLike(Protocol):
    """How a system is kept."""

    @property
    def data(self) -> Mapping[str, Any]:
        """What was entered of the collector."""

    @property
    def entry_id(self) -> str:
        """The id."""

    @property
    def title(self) -> str:
        """The name."""

    @property
    def subentries(self) -> Mapping[str, Any]:
        """The gates, machines and ducts by their ids, each a `PartLike`."""


@dataclass(frozen=True, slots=True)
class Unread:
    """What could not be read: of which part (None: the collector), and which value."""

    part: str | None
    name: str
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredConfig:
    """A system with its parts by their ids, in the owner's order."""

    system: StoredSystem
    parts: Mapping[str, StoredPart]
    unread: tuple[Unread, ...] = ()
    gates: Mapping[str, StoredGate] = field(init=False)
    machines: Mapping[str, StoredMachine] = field(init=False)
    ducts: Mapping[str, StoredDuct] = field(init=False)

    def __post_init__(self) -> None:
        """Sort the parts."""
        for name, kind in (
            ("gates", StoredGate),
            ("machines", StoredMachine),
            ("ducts", StoredDuct),
        ):
            found = {i: part for i, part in self.parts.items() if type(part) is kind}
            object.__setattr__(self, name, found)

    def with_part(self, part: StoredPart) -> Self:
        """Return the system with a part that is new or changed."""
        return replace(self, parts={**self.parts, part.part_id: part})

    def without(self, part_id: str, what: str) -> Self:
        """Return the system without a part, which cannot be used for `what`."""
        parts = dict(self.parts)
        unread = Unread(part_id, parts.pop(part_id).name, what)
        return replace(self, parts=parts, unread=(*self.unread, unread))


def read_config(entry: EntryLike) -> StoredConfig:
    """Read what is stored of a system; what cannot be read is left out, and named.

    A part goes as a whole, a value of the collector alone. Raises `UnreadableError` where
    the collector has no switch.
    """
    system = StoredSystem.from_data(
        entry.data, part_id=entry.entry_id, name=entry.title
    )
    unread = [
        Unread(None, entry.title, what)
        for what in unreadable_in(StoredSystem, entry.data)
    ]
    parts: dict[str, StoredPart] = {}
    for part in entry.subentries.values():
        if (kind := KINDS.get(part.subentry_type)) is None:
            continue
        if wrong := unreadable_in(kind, part.data):
            unread.append(Unread(part.subentry_id, part.title, wrong[0]))
        else:
            parts[part.subentry_id] = read_part(kind, part)
    return StoredConfig(system=system, parts=parts, unread=tuple(unread))


def read_part[P: StoredPart](kind: type[P], part: PartLike) -> P:
    """Read what is stored of a part, as far as that goes.

    Raises `UnreadableError` where something is missing that it cannot be without.
    """
    return kind.from_data(part.data, part_id=part.subentry_id, name=part.title)


def read_parts[P: StoredPart](entry: EntryLike, kind: type[P]) -> dict[str, P]:
    """Return a system's parts of a kind by their ids, as far as they can be read."""
    return dict(_readable(entry, kind))


def _readable[P: StoredPart](
    entry: EntryLike, kind: type[P]
) -> Iterator[tuple[str, P]]:
    for part in entry.subentries.values():
        if part.subentry_type == kind.SUBENTRY_TYPE and not unreadable_in(
            kind, part.data
        ):
            yield part.subentry_id, read_part(kind, part)
