"""One system as it is stored, as far as it can be read."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Self

from .parts import StoredDuct, StoredGate, StoredMachine, StoredPart
from .system import StoredSystem


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
