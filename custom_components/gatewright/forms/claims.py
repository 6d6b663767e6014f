"""Which entities Gatewright's systems use already, and what that rules out."""

from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass
from enum import Enum, auto
from typing import Self

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant

from .. import const
from ..entities import to_entity_id
from .readings import Refused, name_of

COLLECTOR_PART = ""
"""The part that is the collector itself; the others go by their subentry's id."""


class Role(Enum):
    """What an entity is used for."""

    ACTUATOR = auto()
    COMPANION = auto()
    READING = auto()
    WATCHED = auto()
    ATTACHED = auto()
    FORETOLD = auto()
    DRIVE = auto()


_MOVED = (Role.ACTUATOR, Role.COMPANION, Role.DRIVE)
_SHARED = (Role.COMPANION, Role.ATTACHED, Role.FORETOLD)
"""Several machines of one system may share an air cleaner, a socket that tells where
the hose is, or a sensor that tells who is there."""

ROLES = {
    const.CONF_SWITCH: Role.ACTUATOR,
    const.CONF_POWER: Role.READING,
    const.CONF_EMERGENCY: Role.WATCHED,
    const.CONF_BIN_FULL: Role.WATCHED,
    const.CONF_AIR_SUPPLY: Role.WATCHED,
    const.CONF_FILTER_PRESSURE: Role.WATCHED,
    const.CONF_SUCTION: Role.WATCHED,
    const.CONF_BIN_LEVEL: Role.WATCHED,
    const.CONF_PARTICLES: Role.WATCHED,
    const.CONF_CLEANING: Role.ACTUATOR,
    const.CONF_ROOM_CLEANER: Role.ACTUATOR,
    const.CONF_DRIVE: Role.DRIVE,
    const.CONF_ACTUATOR: Role.ACTUATOR,
    const.CONF_OPEN_SENSOR: Role.READING,
    const.CONF_SHUT_SENSOR: Role.READING,
    const.CONF_SENSOR: Role.READING,
    const.CONF_ATTACHED: Role.ATTACHED,
    const.CONF_FORETOLD: Role.FORETOLD,
    const.CONF_RELAY: Role.FORETOLD,
    const.CONF_COMPANIONS: Role.COMPANION,
}
"""The role of each field that holds one entity or several."""


def conflicts_of(role: Role) -> set[str]:
    """Return the codes of why an entity cannot be used in a role as well."""
    found = {"used_elsewhere", "already_used", "picked_twice"}
    return found | {"switches_itself"} if role is Role.COMPANION else found


@dataclass(frozen=True, slots=True)
class Use:
    """One use of an entity: by which part of which system, and in which role."""

    entity_id: str
    role: Role
    system: str
    part: str
    label: str


def uses_of(hass: HomeAssistant, entry: ConfigEntry) -> Iterator[Use]:
    """Yield every use that a system makes of an entity that still exists."""
    parts = entry.subentries.values()
    for part, label, data in (
        (COLLECTOR_PART, entry.title, entry.data),
        *((part.subentry_id, part.title, part.data) for part in parts),
    ):
        for field, role in ROLES.items():
            stored = data.get(field) or []
            for reference in [stored] if isinstance(stored, str) else stored:
                if entity_id := to_entity_id(hass, reference):
                    yield Use(entity_id, role, entry.entry_id, part, label)


class Claims:
    """The uses that stand when one part of a system is set up or changed."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry | None = None,
        part: str = COLLECTOR_PART,
    ) -> None:
        """Collect the uses of all systems, except those of the part in hand.

        Without `entry` the system is a new one.
        """
        self._hass = hass
        self._system = entry.entry_id if entry else ""
        self._part = part
        self._label = ""
        self._titles = {
            other.entry_id: other.title
            for other in hass.config_entries.async_entries(const.DOMAIN)
        }
        self._uses: dict[str, list[Use]] = {}
        self.collector: str | None = None
        if entry:
            self.collector = to_entity_id(hass, entry.data[const.CONF_SWITCH])
        for other in hass.config_entries.async_entries(const.DOMAIN):
            for use in uses_of(hass, other):
                if (use.system, use.part) != (self._system, part):
                    self._uses.setdefault(use.entity_id, []).append(use)

    def copy(self) -> Self:
        """Return the claims as they stand now."""
        other = copy(self)
        other._uses = {  # noqa: SLF001
            entity_id: list(uses) for entity_id, uses in self._uses.items()
        }
        return other

    def begin(self, part: str, label: str) -> None:
        """Turn to another part of the same system, and forget what that one used."""
        self._part = part
        self._label = label
        for entity_id, uses in self._uses.items():
            self._uses[entity_id] = [
                use for use in uses if (use.system, use.part) != (self._system, part)
            ]

    def add(self, entity_id: str, role: Role) -> None:
        """Add a use by the part in hand."""
        use = Use(entity_id, role, self._system, self._part, self._label)
        self._uses.setdefault(entity_id, []).append(use)

    def reads(self, entity_id: str) -> bool:
        """Return whether any system reads from this entity what runs or where it is."""
        return any(use.role is Role.READING for use in self._uses.get(entity_id, ()))

    def conflict(self, entity_id: str, role: Role) -> Refused | None:
        """Return why an entity cannot be used in a role, if so."""
        for use in self._uses.get(entity_id, ()):
            own = use.system == self._system
            if own and use.role is role and role in _SHARED:
                continue
            # A fan may be switched and driven by one and the same entity.
            both = {use.role, role} == {Role.ACTUATOR, Role.DRIVE}
            if own and both and use.part == COLLECTOR_PART == self._part:
                continue
            # Reading what another system moves or reads does that system no harm.
            if not own and not (use.role in _MOVED and role in _MOVED):
                continue
            name = name_of(self._hass, entity_id)
            if not own:
                where = f"{use.label}, {self._titles[use.system]}"
                return Refused("used_elsewhere", f"{name} ({where})")
            if use.part != self._part:
                return Refused("already_used", f"{name} ({use.label})")
            if {use.role, role} == {Role.READING, Role.COMPANION}:
                return Refused("switches_itself", name)
            return Refused("picked_twice", name)
        return None
