"""What all entities of Gatewright have in common."""

from collections.abc import Callable, Iterable
from typing import override

from homeassistant.core import callback
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers.entity import Entity
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .const import DOMAIN, SUBENTRY_GATE, SUBENTRY_MACHINE
from .devices import device_info
from .engine import Engine
from .shop.actuation import Actuator
from .shop.machines import MachineRun
from .shop.plan import COLLECTOR
from .shop.words import Refused

type Builder = Callable[[Engine, str], Iterable[GatewrightEntity]]


class GatewrightEntity(Entity):
    """An entity of one part of a system; written when that part changes."""

    _attr_has_entity_name = True
    _attr_should_poll = False

    def __init__(
        self, engine: Engine, part: str, key: str, *, subentry_id: str | None
    ) -> None:
        """Belong to a part of the core and to the device of a subentry or the hub."""
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

    @callback
    def _part_changed(self) -> None:
        self.async_write_ha_state()


class CollectorEntity(GatewrightEntity):
    """An entity of the system itself."""

    def __init__(self, engine: Engine, key: str) -> None:
        """Belong to the hub device."""
        super().__init__(engine, COLLECTOR, key, subentry_id=None)

    @property
    def actuator(self) -> Actuator:
        """What the core knows of the collector's switch."""
        return self.engine.sequence.motor.actuator


class MachineEntity(GatewrightEntity):
    """An entity of one machine."""

    def __init__(self, engine: Engine, machine_id: str, key: str) -> None:
        """Belong to the machine's device."""
        super().__init__(engine, machine_id, key, subentry_id=machine_id)

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
) -> None:
    """Add what exists now, and later what the owner adds while the system runs."""
    built: dict[str, set[str]] = {}

    @callback
    def add() -> None:
        entry = engine.entry
        for gone in built.keys() - entry.subentries.keys():
            del built[gone]
        for subentry in entry.subentries.values():
            build = {SUBENTRY_MACHINE: machine, SUBENTRY_GATE: gate}.get(
                subentry.subentry_type
            )
            if build is None:
                continue
            known = built.setdefault(subentry.subentry_id, set())
            new = [
                entity
                for entity in build(engine, subentry.subentry_id)
                if entity.unique_id is not None and entity.unique_id not in known
            ]
            known.update(entity.unique_id for entity in new if entity.unique_id)
            if new:
                async_add_entities(new, config_subentry_id=subentry.subentry_id)

    if collector is not None:
        async_add_entities(collector(engine))
    add()
    engine.on_replan(add)


def refused(err: Refused, name: str) -> ServiceValidationError:
    """Return the error that tells a person why something was not done."""
    return ServiceValidationError(
        translation_domain=DOMAIN,
        translation_key=f"refused_{err.why.value}",
        translation_placeholders={"name": name},
    )
