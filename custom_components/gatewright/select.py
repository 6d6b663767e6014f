"""Which gate is opened for a collector that a person switches on."""

from collections.abc import Iterator
from typing import override

from homeassistant.components.select import SelectEntity
from homeassistant.const import EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .engine import Engine, GatewrightConfigEntry
from .entity import CollectorEntity, GatewrightEntity, add_entities
from .shop.plan import GateKind

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the choice of the hand gate where there are gates to choose from."""
    add_entities(entry.runtime_data, async_add_entities, collector=_collector)


def _collector(engine: Engine) -> Iterator[GatewrightEntity]:
    if any(engine.sequence.gates.powered()):
        yield HandGateSelect(engine, "hand_gate")


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
        chosen = self.engine.sequence.work_gates()[:1]
        return next(
            (name for name, gate in self._gates.items() if gate in chosen), None
        )

    @override
    async def async_select_option(self, option: str) -> None:
        """Choose the gate."""
        self.engine.sequence.hand_gates = (self._gates[option],)
        self.engine.advance()

    @property
    def _gates(self) -> dict[str, str]:
        """The gates that can be driven, by name; a name that is taken gets a number."""
        named: dict[str, str] = {}
        for gate in self.engine.sequence.system.gates:
            if gate.kind is GateKind.POWERED:
                name, number = gate.name, 1
                while name in named:
                    number += 1
                    name = f"{gate.name} {number}"
                named[name] = gate.gate_id
        return named
