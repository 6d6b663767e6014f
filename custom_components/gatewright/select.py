"""Selects the gate that opens for a collector that a person turns on."""

from typing import Any, override

from homeassistant.components.select import SelectEntity
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .core.config import GateKind
from .core.inputs import HandGatesChosen
from .entity import GatewrightEntity, add_entities
from .features.entities.descriptions import CONFIG, SelectDescription
from .features.entities.subjects import CollectorSubject
from .runtime.system_context import GatewrightConfigEntry, system_of

PARALLEL_UPDATES = 0


def _gates(collector: CollectorSubject) -> dict[str, str]:
    """Return the powered gates by name; a duplicate name gets a number."""
    named: dict[str, str] = {}
    for gate in collector.sequence.system.gates:
        if gate.kind is GateKind.POWERED:
            name, number = gate.name, 1
            while name in named:
                number += 1
                name = f"{gate.name} {number}"
            named[name] = gate.gate_id
    return named


def _hand_gate(collector: CollectorSubject) -> str | None:
    chosen = collector.sequence.work_gates()[:1]
    named = _gates(collector).items()
    return next((name for name, gate in named if gate in chosen), None)


def _choose_hand_gate(collector: CollectorSubject, name: str) -> None:
    collector.handle(HandGatesChosen((_gates(collector)[name],)))


SELECTS: tuple[SelectDescription[Any], ...] = (
    SelectDescription(
        key="hand_gate",
        part=CollectorSubject,
        **CONFIG,
        # The settings have it as well.
        enabled_fn=lambda c: len(_gates(c)) > 1,
        exists_fn=lambda c: any(c.sequence.gates.powered()),
        options_fn=lambda c: list(_gates(c)),
        value_fn=_hand_gate,
        set_fn=_choose_hand_gate,
    ),
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the hand gate's select if there are gates to choose from."""
    await add_entities(system_of(entry), async_add_entities, SELECTS, GatewrightSelect)


class GatewrightSelect(GatewrightEntity, SelectEntity):
    """A value that a person chooses."""

    entity_description: SelectDescription[Any]

    @property
    @override
    def options(self) -> list[str]:
        return self.entity_description.options_fn(self.subject)

    @property
    @override
    def current_option(self) -> str | None:
        return self.entity_description.value_fn(self.subject)

    @override
    async def async_select_option(self, option: str) -> None:
        """Select it."""
        with self.subject.acting():
            self.entity_description.set_fn(self.subject, option)
