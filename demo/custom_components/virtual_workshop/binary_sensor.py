"""Binary sensors: contacts, limit switches, the impeller, the bin and the smoke detector."""

from collections.abc import Callable, Iterator
from typing import override

from homeassistant.components.binary_sensor import (
    BinarySensorDeviceClass,
    BinarySensorEntity,
)
from homeassistant.core import HomeAssistant
from homeassistant.helpers.device_registry import DeviceInfo
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from . import VirtualWorkshopConfigEntry, devices
from .driver import Workshop
from .entity import WorkshopEntity
from .model.faults import Fault
from .model.layout import COLLECTOR, SITE, GateKind
from .model.world import World


async def async_setup_entry(
    hass: HomeAssistant,
    entry: VirtualWorkshopConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Set up the binary sensors."""
    async_add_entities(_sensors(entry.runtime_data))


def _sensors(workshop: Workshop) -> Iterator[WorkshopBinarySensor]:
    layout = workshop.layout
    yield WorkshopBinarySensor(
        workshop,
        COLLECTOR,
        "impeller_turning",
        devices.tachometer(layout),
        lambda world, _: world.collector.turning(world.now),
        name="Impeller turning",
        own_line=True,
        device_class=BinarySensorDeviceClass.MOVING,
    )
    yield WorkshopBinarySensor(
        workshop,
        COLLECTOR,
        "bin_full",
        devices.bin_sensor(layout),
        lambda world, _: world.collector.bin_is_full,
        name="Full",
        own_line=True,
        device_class=BinarySensorDeviceClass.PROBLEM,
    )
    yield WorkshopContact(
        workshop,
        SITE,
        "smoke",
        devices.smoke_detector(layout),
        lambda world, _: world.has(SITE, Fault.SMOKE),
        device_class=BinarySensorDeviceClass.SMOKE,
    )
    for key, gate in layout.gates.items():
        if gate.kind is GateKind.HAND:
            yield WorkshopContact(
                workshop,
                key,
                "contact",
                devices.gate(gate),
                lambda world, key: world.gates[key].is_open(world.now),
                device_class=BinarySensorDeviceClass.OPENING,
            )
        if gate.limits:
            yield WorkshopBinarySensor(
                workshop,
                key,
                "open_limit",
                devices.gate(gate),
                lambda world, key: world.gates[key].is_open(world.now),
                name="Open limit",
            )
            yield WorkshopBinarySensor(
                workshop,
                key,
                "shut_limit",
                devices.gate(gate),
                lambda world, key: world.gates[key].is_shut(world.now),
                name="Shut limit",
            )
    for key, machine in layout.machines.items():
        if machine.movable:
            yield WorkshopContact(
                workshop,
                key,
                "attached",
                devices.contact(machine),
                lambda world, key: world.machines[key].attached,
                device_class=BinarySensorDeviceClass.PLUG,
            )


class WorkshopBinarySensor(WorkshopEntity, BinarySensorEntity):
    """A binary sensor of the workshop."""

    def __init__(
        self,
        workshop: Workshop,
        part: str,
        suffix: str,
        device_info: DeviceInfo,
        says: Callable[[World, str], bool],
        *,
        name: str | None = None,
        own_line: bool = False,
        device_class: BinarySensorDeviceClass | None = None,
    ) -> None:
        super().__init__(workshop, part, suffix, device_info, own_line=own_line)
        self._says = says
        self._attr_name = name
        self._attr_device_class = device_class

    @property
    @override
    def is_on(self) -> bool:
        """Whether the sensor is on."""
        return self._says(self.workshop.world, self.part)

    @override
    def view(self) -> object:
        """Return all that this entity shows."""
        return self.available, self.is_on


class WorkshopContact(WorkshopBinarySensor):
    """A sensor with its own battery: it depends on neither the plug nor the line voltage."""

    @property
    @override
    def available(self) -> bool:
        """Whether it's online."""
        return not self.workshop.world.has(self.part, Fault.CONTACT_LOST)
