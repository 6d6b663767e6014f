"""Covers of the virtual workshop: gates whose motor reports its position."""

from typing import Any, override

from homeassistant.components.cover import (
    ATTR_POSITION,
    CoverDeviceClass,
    CoverEntity,
    CoverEntityFeature,
)
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from . import VirtualWorkshopConfigEntry, devices
from .driver import Workshop
from .entity import WorkshopEntity
from .model.layout import GateKind, GateSpec


async def async_setup_entry(
    hass: HomeAssistant,
    entry: VirtualWorkshopConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Set up the gates with a position."""
    workshop = entry.runtime_data
    async_add_entities(
        WorkshopCover(workshop, gate)
        for gate in workshop.layout.gates.values()
        if gate.kind is GateKind.COVER
    )


class WorkshopCover(WorkshopEntity, CoverEntity):
    """A gate motor that reports its position while it moves."""

    _attr_device_class = CoverDeviceClass.DAMPER
    _attr_name = None
    _attr_supported_features = (
        CoverEntityFeature.OPEN
        | CoverEntityFeature.CLOSE
        | CoverEntityFeature.STOP
        | CoverEntityFeature.SET_POSITION
    )

    def __init__(self, workshop: Workshop, gate: GateSpec) -> None:
        super().__init__(workshop, gate.key, "actuator", devices.gate(gate))

    @property
    @override
    def current_cover_position(self) -> int:
        """Return the position in percent open."""
        world = self.workshop.world
        return round(100 * world.gates[self.part].reported_position(world.now))

    @property
    @override
    def is_closed(self) -> bool:
        """Whether the gate reports closed."""
        return self.current_cover_position == 0

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
        return (
            self.available,
            self.current_cover_position,
            self.is_opening,
            self.is_closing,
        )

    @override
    async def async_open_cover(self, **kwargs: Any) -> None:
        """Open the gate."""
        await self._async_drive("open", 1.0)

    @override
    async def async_close_cover(self, **kwargs: Any) -> None:
        """Close the gate."""
        await self._async_drive("close", 0.0)

    @override
    async def async_set_cover_position(self, **kwargs: Any) -> None:
        """Drive the gate to a position."""
        percent = kwargs[ATTR_POSITION]
        await self._async_drive(f"set {percent}%", percent / 100)

    @override
    async def async_stop_cover(self, **kwargs: Any) -> None:
        """Stop the gate where it is."""
        await self.workshop.async_command(
            self.part, "stop", lambda world: world.stop_gate(self.part)
        )

    async def _async_drive(self, name: str, position: float) -> None:
        await self.workshop.async_command(
            self.part, name, lambda world: world.command_gate(self.part, position)
        )
