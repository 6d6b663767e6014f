"""What all entities of Gatewright have in common."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any, override

from homeassistant.core import callback
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.entity import Entity
from homeassistant.helpers.entity_platform import (
    AddConfigEntryEntitiesCallback,
    async_get_current_platform,
)

from .const import DOMAIN
from .features.entities.descriptions import PartDescription, always
from .features.entities.subjects import Subject, subjects_of
from .runtime.assist_names import introduce
from .runtime.old_names.shown import shown_data
from .runtime.system_context import SystemContext
from .runtime.totals_clock import TotalsClock

type Build[D] = Callable[[Any, D], GatewrightEntity]


class GatewrightEntity(Entity):
    """An entity of one part of a system; written when what it follows changes."""

    _attr_has_entity_name = True
    _attr_should_poll = False
    entity_description: PartDescription[Any]

    created = False
    """Whether it was not known to the hub before."""

    def __init__(self, subject: Subject, description: PartDescription[Any]) -> None:
        self.subject = subject
        self.entity_description = description
        self._attr_unique_id = subject.unique_id(description.key)
        self._attr_translation_key = description.translation_key or description.key
        self._attr_translation_placeholders = subject.placeholders
        self._attr_device_info = subject.device_info
        self._attr_entity_registry_enabled_default = (
            description.entity_registry_enabled_default
            and description.enabled_fn(subject)
        )
        self._was_available = True
        self._fit()

    @override
    async def async_added_to_hass(self) -> None:
        """Follow the part."""
        await super().async_added_to_hass()
        for follow in self.entity_description.follows:
            self.async_on_remove(follow(self.subject, self._part_changed))
        if self.entity_description.due_fn is not always:
            clock = self.subject.system.of(TotalsClock)
            self.async_on_remove(clock.listen(self._write))
        self._was_available = self.available
        if self.created and self.device_entry is not None:
            introduce(self.hass, self.entity_id, self.device_entry.name or "")

    @property
    @override
    def available(self) -> bool:
        return self.entity_description.available_fn(self.subject)

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any] | None:
        told = self.entity_description.attributes_fn
        found = None if told is None else told(self.subject)
        return found and shown_data(self.subject.entry, found)

    @callback
    def _part_changed(self) -> None:
        if self._fit() or self._is_due():
            self._write()

    def _is_due(self) -> bool:
        """Whether what has changed is written at once."""
        return (
            self.entity_description.due_fn(self.subject)
            or self.available is not self._was_available
        )

    @callback
    def _write(self) -> None:
        self._was_available = self.available
        self.async_write_ha_state()

    def _fit(self) -> bool:
        """Take up how the owner has set the part up; return whether that has changed."""
        changed = False
        if (fit := self.entity_description.fit_fn) is not None:
            for name, value in fit(self.subject).items():
                attribute = f"_attr_{name}"
                changed = changed or getattr(self, attribute, None) != value
                setattr(self, attribute, value)
        return changed


def unrecorded(descriptions: Iterable[PartDescription[Any]]) -> frozenset[str]:
    """Return all attributes that the recorder leaves out, of a platform's entities."""
    return frozenset[str]().union(*(each.unrecorded for each in descriptions))


@callback
def add_entities[D: PartDescription[Any]](
    system: SystemContext,
    async_add_entities: AddConfigEntryEntitiesCallback,
    descriptions: Sequence[D],
    build: Build[D],
) -> None:
    """Keep one platform's entities with what the owner has set up.

    Called again and again while the system runs: what is new is added, and what has
    lost its reason (an attached signal, say) is taken out of the registry.
    """
    domain = async_get_current_platform().domain
    known: set[str] = set()

    @callback
    def keep() -> None:
        registry = er.async_get(system.hass)
        wanted: set[str] = set()
        new: dict[str | None, list[GatewrightEntity]] = {}
        for subject in subjects_of(system):
            for description in descriptions:
                if not isinstance(subject, description.part):
                    continue
                if not description.exists_fn(subject):
                    continue
                unique_id = subject.unique_id(description.key)
                wanted.add(unique_id)
                if unique_id not in known:
                    entity = build(subject, description)
                    entity.created = not registry.async_get_entity_id(
                        domain, DOMAIN, unique_id
                    )
                    new.setdefault(subject.subentry_id, []).append(entity)
        entry_id = system.entry.entry_id
        unread = {loss.part for loss in system.described.unread if loss.part}
        for entry in er.async_entries_for_config_entry(registry, entry_id):
            if entry.config_subentry_id in unread:
                # It cannot be read now; what its owner made of it is not lost.
                continue
            if entry.domain == domain and entry.unique_id not in wanted:
                registry.async_remove(entry.entity_id)
        known.clear()
        known.update(wanted)
        for part, entities in new.items():
            async_add_entities(entities, config_subentry_id=part)

    keep()
    system.on_replan(keep)
