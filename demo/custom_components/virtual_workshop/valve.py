"""Valves of the virtual workshop: gates whose motor reports movement, but no position."""

from typing import override

from homeassistant.components.valve import ValveEntity, ValveEntityFeature
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from . import VirtualWorkshopConfigEntry, devices
from .driver import Workshop
from .entity import WorkshopEntity
from .model.gate import SHUT
from .model.layout import GateKind, GateSpec


async def async_setup_entry(
    hass: HomeAssistant,
    entry: VirtualWorkshopConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Set up the gates without a position."""
    workshop = entry.runtime_data
    async_add_entities(
        WorkshopValve(workshop, gate)
        for gate in workshop.layout.gates.values()
        if gate.kind is GateKind.VALVE
    )


class WorkshopValve(WorkshopEntity, ValveEntity):
    """A gate motor that reports opening, open, closing and closed."""

    _attr_name = None
    _attr_reports_position = False
    _attr_supported_features = ValveEntityFeature.OPEN | ValveEntityFeature.CLOSE

    def __init__(self, workshop: Workshop, gate: GateSpec) -> None:
        super().__init__(workshop, gate.key, "actuator", devices.gate(gate))

    @property
    @override
    def is_closed(self) -> bool:
        """Whether the motor is at its closed end."""
        world = self.workshop.world
        return world.gates[self.part].reported_position(world.now) <= SHUT

    @property
    @override
    def is_opening(self) -> bool:
        """Whether the gate opens now."""
        world = self.workshop.world
        return world.gates[self.part].reported_direction(world.now) > 0

    @property
    @override
    def is_closing(self) -> bool:
        """Whether the gate closes now."""
        world = self.workshop.world
        return world.gates[self.part].reported_direction(world.now) < 0

    @override
    def view(self) -> object:
        """Return all that this entity shows."""
        return self.available, self.is_closed, self.is_opening, self.is_closing

    @override
    async def async_open_valve(self) -> None:
        """Open the gate."""
        await self.workshop.async_command(
            self.part, "open", lambda world: world.command_gate(self.part, 1.0)
        )

    @override
    async def async_close_valve(self) -> None:
        """Close the gate."""
        await self.workshop.async_command(
            self.part, "close", lambda world: world.command_gate(self.part, 0.0)
        )
