"""Switches of the virtual workshop: relays of plugs, of bare gates and of the collector."""

from collections.abc import Callable
from typing import Any, override

from homeassistant.components.switch import SwitchDeviceClass, SwitchEntity
from homeassistant.core import HomeAssistant
from homeassistant.helpers.device_registry import DeviceInfo
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from custom_components.gatewright.core.simulation.plant.relay import Relay

from . import VirtualWorkshopConfigEntry, devices
from .driver import Workshop
from .entity import WorkshopEntity
from .model.layout import COLLECTOR, GateKind, MeterKind
from .model.world import World


async def async_setup_entry(
    hass: HomeAssistant,
    entry: VirtualWorkshopConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Set up the relays."""
    workshop = entry.runtime_data
    layout = workshop.layout
    entities = [
        WorkshopRelay(
            workshop,
            COLLECTOR,
            devices.collector_relay(layout),
            lambda world, _: world.collector.relay,
            lambda world, _, on: world.command_collector(on=on),
        )
    ]
    for key, gate in layout.gates.items():
        if gate.kind is GateKind.SWITCH:
            entities.append(
                WorkshopRelay(
                    workshop,
                    key,
                    devices.gate(gate),
                    lambda world, key: world.gates[key].relay,
                    lambda world, key, on: world.command_gate(key, float(on)),
                )
            )
    for key, machine in layout.machines.items():
        if machine.meter_kind is MeterKind.PLUG:
            entities.append(
                WorkshopRelay(
                    workshop,
                    key,
                    devices.meter(machine),
                    lambda world, key: world.machines[key].relay,
                    lambda world, key, on: world.command_plug(key, on=on),
                    SwitchDeviceClass.OUTLET,
                )
            )
    async_add_entities(entities)


class WorkshopRelay(WorkshopEntity, SwitchEntity):
    """A relay that Home Assistant can switch."""

    _attr_name = None

    def __init__(
        self,
        workshop: Workshop,
        part: str,
        device_info: DeviceInfo,
        relay: Callable[[World, str], Relay],
        command: Callable[[World, str, bool], None],
        device_class: SwitchDeviceClass = SwitchDeviceClass.SWITCH,
    ) -> None:
        super().__init__(workshop, part, "relay", device_info)
        self._relay = relay
        self._command = command
        self._attr_device_class = device_class

    @property
    @override
    def is_on(self) -> bool:
        """Whether the relay reports closed."""
        world = self.workshop.world
        return self._relay(world, self.part).reported(world.now)

    @override
    def view(self) -> object:
        """Return all that this entity shows."""
        return self.available, self.is_on

    @override
    async def async_turn_on(self, **kwargs: Any) -> None:
        """Close the relay."""
        await self.workshop.async_command(
            self.part, "on", lambda world: self._command(world, self.part, True)
        )

    @override
    async def async_turn_off(self, **kwargs: Any) -> None:
        """Open the relay."""
        await self.workshop.async_command(
            self.part, "off", lambda world: self._command(world, self.part, False)
        )
