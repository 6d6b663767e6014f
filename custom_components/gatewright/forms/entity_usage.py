"""Which entities Gatewright already uses, and what that rules out."""

from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass
from enum import Enum, auto
from typing import Self

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant

from .. import const
from ..runtime.entity_references import to_entity_id
from .sensor_description import UnusableSensor, name_of

COLLECTOR_PART = ""
"""The part of the collector; other parts have their subentry's id."""


class EntityRole(Enum):
    """What an entity is used for."""

    ACTUATOR = auto()
    LINKED_DEVICE = auto()
    READING = auto()
    WATCHED = auto()
    CONNECTED = auto()
    EARLY_SIGNAL = auto()
    DRIVE = auto()


_MOVED = (EntityRole.ACTUATOR, EntityRole.LINKED_DEVICE, EntityRole.DRIVE)
_SHARED = (EntityRole.LINKED_DEVICE, EntityRole.CONNECTED, EntityRole.EARLY_SIGNAL)
"""Several machines of one system may share an air cleaner, a socket that detects the
hose, or a presence sensor."""

ROLES = {
    const.CONF_SWITCH: EntityRole.ACTUATOR,
    const.CONF_POWER: EntityRole.READING,
    const.CONF_FIRE_DETECTORS: EntityRole.WATCHED,
    const.CONF_BIN_FULL: EntityRole.WATCHED,
    const.CONF_AIR_SUPPLY: EntityRole.WATCHED,
    const.CONF_FILTER_PRESSURE: EntityRole.WATCHED,
    const.CONF_SUCTION: EntityRole.WATCHED,
    const.CONF_BIN_LEVEL: EntityRole.WATCHED,
    const.CONF_PARTICLES: EntityRole.WATCHED,
    const.CONF_CLEANING: EntityRole.ACTUATOR,
    const.CONF_ROOM_CLEANER: EntityRole.ACTUATOR,
    const.CONF_DRIVE: EntityRole.DRIVE,
    const.CONF_ACTUATOR: EntityRole.ACTUATOR,
    const.CONF_OPEN_SENSOR: EntityRole.READING,
    const.CONF_CLOSED_SENSOR: EntityRole.READING,
    const.CONF_SENSOR: EntityRole.READING,
    const.CONF_CONNECTED: EntityRole.CONNECTED,
    const.CONF_EARLY_SIGNAL: EntityRole.EARLY_SIGNAL,
    const.CONF_RELAY: EntityRole.EARLY_SIGNAL,
    const.CONF_LINKED_DEVICES: EntityRole.LINKED_DEVICE,
}
"""The role of each field for one entity or several."""


def conflicts_of(role: EntityRole) -> set[str]:
    """Return the error codes of an entity that can't take a role as well."""
    found = {"used_elsewhere", "already_used", "picked_twice"}
    return found | {"switches_itself"} if role is EntityRole.LINKED_DEVICE else found


@dataclass(frozen=True, slots=True)
class EntityUse:
    """One use of an entity: by which part of which system, and in which role."""

    entity_id: str
    role: EntityRole
    system: str
    part: str
    label: str


def uses_of(hass: HomeAssistant, entry: ConfigEntry) -> Iterator[EntityUse]:
    """Yield every use of an entity that still exists, in one system."""
    parts = entry.subentries.values()
    for part, label, data in (
        (COLLECTOR_PART, entry.title, entry.data),
        *((part.subentry_id, part.title, part.data) for part in parts),
    ):
        for field, role in ROLES.items():
            stored = data.get(field) or []
            for reference in [stored] if isinstance(stored, str) else stored:
                if entity_id := to_entity_id(hass, reference):
                    yield EntityUse(entity_id, role, entry.entry_id, part, label)


class EntityUsage:
    """The present uses while one part of a system is added or changed."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry | None = None,
        part: str = COLLECTOR_PART,
    ) -> None:
        """Collect the uses of all systems, except those of the part being edited.

        Without `entry` the system is new.
        """
        self._hass = hass
        self._system = entry.entry_id if entry else ""
        self._part = part
        self._label = ""
        self._titles = {
            other.entry_id: other.title
            for other in hass.config_entries.async_entries(const.DOMAIN)
        }
        self._uses: dict[str, list[EntityUse]] = {}
        self.collector: str | None = None
        if entry:
            self.collector = to_entity_id(hass, entry.data[const.CONF_SWITCH])
        for other in hass.config_entries.async_entries(const.DOMAIN):
            for use in uses_of(hass, other):
                if (use.system, use.part) != (self._system, part):
                    self._uses.setdefault(use.entity_id, []).append(use)

    def copy(self) -> Self:
        """Return a copy of the present uses."""
        other = copy(self)
        other._uses = {  # noqa: SLF001
            entity_id: list(uses) for entity_id, uses in self._uses.items()
        }
        return other

    def begin(self, part: str, label: str) -> None:
        """Move on to another part of the same system, and forget its earlier uses."""
        self._part = part
        self._label = label
        for entity_id, uses in self._uses.items():
            self._uses[entity_id] = [
                use for use in uses if (use.system, use.part) != (self._system, part)
            ]

    def add(self, entity_id: str, role: EntityRole) -> None:
        """Add a use by the part being edited."""
        use = EntityUse(entity_id, role, self._system, self._part, self._label)
        self._uses.setdefault(entity_id, []).append(use)

    def reads(self, entity_id: str) -> bool:
        """Return whether any system reads a machine or a hose from this entity."""
        return any(
            use.role is EntityRole.READING for use in self._uses.get(entity_id, ())
        )

    def conflict(self, entity_id: str, role: EntityRole) -> UnusableSensor | None:
        """Return the conflict of an entity in a role, if any."""
        for use in self._uses.get(entity_id, ()):
            own = use.system == self._system
            if own and use.role is role and role in _SHARED:
                continue
            # A fan may be switched and driven by the same entity.
            both = {use.role, role} == {EntityRole.ACTUATOR, EntityRole.DRIVE}
            if own and both and use.part == COLLECTOR_PART == self._part:
                continue
            # Reading an entity that another system moves or reads does no harm.
            if not own and not (use.role in _MOVED and role in _MOVED):
                continue
            name = name_of(self._hass, entity_id)
            if not own:
                where = f"{use.label}, {self._titles[use.system]}"
                return UnusableSensor("used_elsewhere", f"{name} ({where})")
            if use.part != self._part:
                return UnusableSensor("already_used", f"{name} ({use.label})")
            if {use.role, role} == {EntityRole.READING, EntityRole.LINKED_DEVICE}:
                return UnusableSensor("switches_itself", name)
            return UnusableSensor("picked_twice", name)
        return None
