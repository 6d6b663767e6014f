"""The base class of all Gatewright entities, and what adds and removes them."""

import asyncio
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby
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
    """An entity of one part of a system; written when its part changes."""

    _attr_has_entity_name = True
    _attr_should_poll = False
    entity_description: PartDescription[Any]

    created = False
    """Whether the entity is new to Home Assistant."""

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
        """Subscribe to the part."""
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
        attributes_fn = self.entity_description.attributes_fn
        found = None if attributes_fn is None else attributes_fn(self.subject)
        return found and shown_data(self.subject.entry, found)

    @callback
    def _part_changed(self) -> None:
        if self._fit() or self._is_due():
            self._write()

    def _is_due(self) -> bool:
        """Return whether a change is written at once."""
        return (
            self.entity_description.due_fn(self.subject)
            or self.available is not self._was_available
        )

    @callback
    def _write(self) -> None:
        self._was_available = self.available
        self.async_write_ha_state()

    def _fit(self) -> bool:
        """Apply how the owner set the part up; return whether anything changed."""
        changed = False
        if (fit := self.entity_description.fit_fn) is not None:
            for name, value in fit(self.subject).items():
                attribute = f"_attr_{name}"
                changed = changed or getattr(self, attribute, None) != value
                setattr(self, attribute, value)
        return changed


def unrecorded(descriptions: Iterable[PartDescription[Any]]) -> frozenset[str]:
    """Return the attributes of a platform's entities that aren't recorded."""
    return frozenset[str]().union(*(each.unrecorded for each in descriptions))


async def add_entities[D: PartDescription[Any]](
    system: SystemContext,
    async_add_entities: AddConfigEntryEntitiesCallback,
    descriptions: Sequence[D],
    build: Build[D],
) -> None:
    """Keep one platform's entities in step with what the owner has set up.

    New entities are added later, and those without a reason (a removed hose contact,
    say) leave the registry. At first, control returns to the event loop between two
    parts, so that a large system doesn't block it.
    """
    keeper = _Keeper(system, async_add_entities, descriptions, build)
    planned = system.described
    for step in (keeper.plan, keeper.drop, keeper.add):
        for _ in step():
            await asyncio.sleep(0)
    if system.described is not planned:
        keeper.keep()
    system.on_replan(keeper.keep)


class _Keeper[D: PartDescription[Any]]:
    """The entities of one platform and one system."""

    def __init__(
        self,
        system: SystemContext,
        async_add_entities: AddConfigEntryEntitiesCallback,
        descriptions: Sequence[D],
        build: Build[D],
    ) -> None:
        self._system = system
        self._async_add_entities = async_add_entities
        self._descriptions = descriptions
        self._build = build
        self._domain = async_get_current_platform().domain
        self._registry = er.async_get(system.hass)
        self._known: set[str] = set()
        self._wanted: dict[str, tuple[Subject, D]] = {}

    @callback
    def keep(self) -> None:
        """Apply what the owner changed."""
        for step in (self.plan, self.drop, self.add):
            for _ in step():
                pass

    def plan(self) -> Iterator[None]:
        """Find the entities that should exist, one part at a time."""
        self._wanted = {}
        for subject in subjects_of(self._system):
            for description in self._descriptions:
                if isinstance(subject, description.part) and description.exists_fn(
                    subject
                ):
                    unique_id = subject.unique_id(description.key)
                    self._wanted[unique_id] = (subject, description)
            yield

    def drop(self) -> Iterator[None]:
        """Remove the entities that lost their reason."""
        system = self._system
        unread = {loss.part for loss in system.described.unread if loss.part}
        for entry in er.async_entries_for_config_entry(
            self._registry, system.entry.entry_id
        ):
            if entry.config_subentry_id in unread:
                # The part can't be read now; keep what its owner customized.
                continue
            if entry.domain == self._domain and entry.unique_id not in self._wanted:
                self._registry.async_remove(entry.entity_id)
                yield

    def add(self) -> Iterator[None]:
        """Add the new entities, one part at a time."""
        known, self._known = self._known, {*self._wanted}
        wanted, self._wanted = self._wanted, {}
        for part, found in groupby(wanted.items(), lambda item: item[1][0].subentry_id):
            new: list[GatewrightEntity] = []
            for unique_id, (subject, description) in found:
                if unique_id not in known:
                    entity = self._build(subject, description)
                    entity.created = not self._registry.async_get_entity_id(
                        self._domain, DOMAIN, unique_id
                    )
                    new.append(entity)
            if new:
                self._async_add_entities(new, config_subentry_id=part)
            yield
