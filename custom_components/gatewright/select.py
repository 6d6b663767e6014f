"""Which gate is opened for a collector that a person switches on."""

from collections.abc import Iterator
from typing import override

from homeassistant.components.select import SelectEntity
from homeassistant.const import EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .entity import CollectorEntity, GatewrightEntity, add_entities
from .shop.inputs import HandGatesChosen
from .shop.plan import GateKind
from .system_context import GatewrightConfigEntry, SystemContext, system_of

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the choice of the hand gate where there are gates to choose from."""
    add_entities(system_of(entry), async_add_entities, collector=_collector)


def _collector(system: SystemContext) -> Iterator[GatewrightEntity]:
    if any(system.sequence.gates.powered()):
        yield HandGateSelect(system, "hand_gate")


class HandGateSelect(CollectorEntity, SelectEntity):
    """The gate opened for a collector that a person switches on."""

    _attr_entity_category = EntityCategory.CONFIG
    _attr_translation_key = "hand_gate"

    @property
    @override
    def options(self) -> list[str]:
        return list(self._gates)

    @property
    @override
    def current_option(self) -> str | None:
        chosen = self.system.sequence.work_gates()[:1]
        return next(
            (name for name, gate in self._gates.items() if gate in chosen), None
        )

    @override
    async def async_select_option(self, option: str) -> None:
        """Choose the gate."""
        self.system.handle(HandGatesChosen((self._gates[option],)))

    @property
    def _gates(self) -> dict[str, str]:
        """The gates that can be driven, by name; a name that is taken gets a number."""
        named: dict[str, str] = {}
        for gate in self.system.sequence.system.gates:
            if gate.kind is GateKind.POWERED:
                name, number = gate.name, 1
                while name in named:
                    number += 1
                    name = f"{gate.name} {number}"
                named[name] = gate.gate_id
        return named
