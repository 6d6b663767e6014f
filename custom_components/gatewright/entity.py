"""What all entities of Gatewright have in common."""

from collections.abc import Callable, Iterable, Iterator
from typing import override

from homeassistant.core import callback
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.entity import Entity, EntityDescription
from homeassistant.helpers.entity_platform import (
    AddConfigEntryEntitiesCallback,
    async_get_current_platform,
)

from .const import DOMAIN, SUBENTRY_DUCT, SUBENTRY_GATE, SUBENTRY_MACHINE
from .devices import device_info
from .engine import Engine
from .shop.actuation import Actuator
from .shop.machines import MachineRun
from .shop.plan import COLLECTOR
from .voice.names import introduce

type Named = str | EntityDescription
"""The key of an entity among those of its device, or the description that has it."""

type Builder = Callable[[Engine, str], Iterable[GatewrightEntity]]


class GatewrightEntity(Entity):
    """An entity of one part of a system; written when that part changes."""

    _attr_has_entity_name = True
    _attr_should_poll = False

    created = False
    """Whether it was not known to the hub before."""

    def __init__(
        self, engine: Engine, part: str, named: Named, *, subentry_id: str | None
    ) -> None:
        """Belong to a part of the core and to the device of a subentry or the hub."""
        if isinstance(named, str):
            key = named
        else:
            self.entity_description = named
            key = named.key
        self.engine = engine
        self.part = part
        owner = engine.entry.entry_id if subentry_id is None else subentry_id
        self._attr_unique_id = f"{owner}_{key}"
        self._attr_device_info = device_info(engine.hass, engine.entry, subentry_id)

    @override
    async def async_added_to_hass(self) -> None:
        """Follow the part."""
        await super().async_added_to_hass()
        self.async_on_remove(self.engine.listen(self.part, self._part_changed))
        if self.created and self.device_entry is not None:
            introduce(self.hass, self.entity_id, self.device_entry.name or "")

    @callback
    def _part_changed(self) -> None:
        self.async_write_ha_state()


class CollectorEntity(GatewrightEntity):
    """An entity of the system itself."""

    def __init__(self, engine: Engine, named: Named) -> None:
        """Belong to the hub device."""
        super().__init__(engine, COLLECTOR, named, subentry_id=None)

    @property
    def actuator(self) -> Actuator:
        """What the core knows of the collector's switch."""
        return self.engine.sequence.motor.actuator


class MachineEntity(GatewrightEntity):
    """An entity of one machine."""

    def __init__(self, engine: Engine, machine_id: str, named: Named) -> None:
        """Belong to the machine's device."""
        super().__init__(engine, machine_id, named, subentry_id=machine_id)

    @property
    def run(self) -> MachineRun | None:
        """The machine in the core; None while it lacks what it needs to be served."""
        return self.engine.sequence.machines.get(self.part)

    @property
    @override
    def available(self) -> bool:
        return self.run is not None


class GateEntity(GatewrightEntity):
    """An entity of one gate."""

    def __init__(self, engine: Engine, gate_id: str, key: str) -> None:
        """Belong to the gate's device."""
        super().__init__(engine, gate_id, key, subentry_id=gate_id)

    @property
    def actuator(self) -> Actuator | None:
        """What the core knows of the gate; None for an opening that never moves."""
        return self.engine.sequence.gates.actuator(self.part)

    @property
    @override
    def available(self) -> bool:
        actuator = self.actuator
        return actuator is not None and actuator.reachable


@callback
def add_entities(
    engine: Engine,
    async_add_entities: AddConfigEntryEntitiesCallback,
    *,
    collector: Callable[[Engine], Iterable[GatewrightEntity]] | None = None,
    machine: Builder | None = None,
    gate: Builder | None = None,
    duct: Builder | None = None,
) -> None:
    """Keep one platform's entities with what the owner has set up.

    Called again and again while the system runs: what is new is added, and what has
    lost its reason (an attached signal, say) is taken out of the registry.
    """
    domain = async_get_current_platform().domain
    known: set[str | None] = set()

    def build() -> Iterator[tuple[str | None, GatewrightEntity]]:
        if collector is not None:
            yield from ((None, entity) for entity in collector(engine))
        builders = {
            SUBENTRY_MACHINE: machine,
            SUBENTRY_GATE: gate,
            SUBENTRY_DUCT: duct,
        }
        for part, stored in engine.described.parts.items():
            if (builder := builders.get(stored.SUBENTRY_TYPE)) is not None:
                yield from ((part, entity) for entity in builder(engine, part))

    @callback
    def keep() -> None:
        registry = er.async_get(engine.hass)
        wanted: set[str | None] = set()
        new: dict[str | None, list[GatewrightEntity]] = {}
        for part, entity in build():
            wanted.add(entity.unique_id)
            if entity.unique_id not in known:
                entity.created = not registry.async_get_entity_id(
                    domain, DOMAIN, str(entity.unique_id)
                )
                new.setdefault(part, []).append(entity)
        entry_id = engine.entry.entry_id
        unread = {loss.part for loss in engine.described.unread if loss.part}
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
    engine.on_replan(keep)
