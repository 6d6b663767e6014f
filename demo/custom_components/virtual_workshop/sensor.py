"""Sensors of the virtual workshop: all meter readings."""

from dataclasses import dataclass
from typing import override

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorStateClass,
)
from homeassistant.const import (
    PERCENTAGE,
    REVOLUTIONS_PER_MINUTE,
    UnitOfElectricCurrent,
    UnitOfElectricPotential,
    UnitOfEnergy,
    UnitOfPower,
    UnitOfPressure,
)
from homeassistant.core import HomeAssistant
from homeassistant.helpers.device_registry import DeviceInfo
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from . import VirtualWorkshopConfigEntry, devices
from .driver import Workshop
from .entity import WorkshopEntity
from .model.faults import Fault
from .model.layout import COLLECTOR, Layout
from .model.readings import Quantity, Reading


@dataclass(frozen=True, slots=True)
class _Kind:
    """How a quantity is shown."""

    unit: str
    device_class: SensorDeviceClass | None
    name: str | None = None
    """Its own name where the device class has no good one."""
    state_class: SensorStateClass = SensorStateClass.MEASUREMENT


_KINDS = {
    Quantity.POWER: _Kind(UnitOfPower.WATT, SensorDeviceClass.POWER),
    Quantity.CURRENT: _Kind(UnitOfElectricCurrent.AMPERE, SensorDeviceClass.CURRENT),
    Quantity.VOLTAGE: _Kind(UnitOfElectricPotential.VOLT, SensorDeviceClass.VOLTAGE),
    Quantity.ENERGY: _Kind(
        UnitOfEnergy.KILO_WATT_HOUR,
        SensorDeviceClass.ENERGY,
        state_class=SensorStateClass.TOTAL_INCREASING,
    ),
    Quantity.SPEED: _Kind(REVOLUTIONS_PER_MINUTE, None, "Speed"),
    Quantity.BIN: _Kind(PERCENTAGE, None, "Level"),
    Quantity.FILTER: _Kind(UnitOfPressure.PA, SensorDeviceClass.PRESSURE),
    Quantity.AIR: _Kind(UnitOfPressure.BAR, SensorDeviceClass.PRESSURE),
}

_OWN_LINE = (Quantity.SPEED, Quantity.BIN, Quantity.FILTER, Quantity.AIR)
"""Quantities from another device than the relay or the plug."""

_OTHER_UNITS = {
    Quantity.POWER: (UnitOfPower.KILO_WATT, 0.001),
    Quantity.CURRENT: (UnitOfElectricCurrent.MILLIAMPERE, 1000.0),
}
"""The other unit of a meter with a changed unit."""


async def async_setup_entry(
    hass: HomeAssistant,
    entry: VirtualWorkshopConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Set up the meters."""
    workshop = entry.runtime_data
    async_add_entities(
        WorkshopSensor(workshop, reading) for reading in workshop.readings.all.values()
    )


def _device(layout: Layout, reading: Reading) -> DeviceInfo:
    """Return the device of a reading."""
    match reading.quantity:
        case Quantity.SPEED:
            return devices.tachometer(layout)
        case Quantity.BIN:
            return devices.bin_sensor(layout)
        case Quantity.FILTER:
            return devices.filter_gauge(layout)
        case Quantity.AIR:
            return devices.air_gauge(layout)
    if reading.part == COLLECTOR:
        return devices.collector_relay(layout)
    return devices.meter(layout.machines[reading.part])


class WorkshopSensor(WorkshopEntity, SensorEntity):
    """One reading."""

    def __init__(self, workshop: Workshop, reading: Reading) -> None:
        super().__init__(
            workshop,
            reading.part,
            reading.quantity,
            _device(workshop.layout, reading),
            own_line=reading.quantity in _OWN_LINE,
        )
        self._reading = reading
        self._kind = _KINDS[reading.quantity]
        self._attr_device_class = self._kind.device_class
        self._attr_state_class = self._kind.state_class
        if self._kind.name is not None:
            self._attr_name = self._kind.name

    @override
    async def async_added_to_hass(self) -> None:
        """Subscribe to the meter."""
        await super().async_added_to_hass()
        self.async_on_remove(
            self.workshop.async_read(
                self.part, self._reading.quantity, self.async_write_ha_state
            )
        )

    @property
    @override
    def native_value(self) -> float | None:
        """Return the last reading in the present unit."""
        value = self._reading.value
        if value is None or self._suffers(Fault.PLUG_UNKNOWN):
            return None
        if self._suffers(Fault.PLUG_VOLTS):
            return self.workshop.layout.mains_voltage
        if self._suffers(Fault.PLUG_UNIT):
            return round(value * _OTHER_UNITS[self._reading.quantity][1], 4)
        return value

    @property
    @override
    def native_unit_of_measurement(self) -> str:
        """Return the present unit."""
        if self._suffers(Fault.PLUG_VOLTS):
            return UnitOfElectricPotential.VOLT
        if self._suffers(Fault.PLUG_UNIT):
            return _OTHER_UNITS[self._reading.quantity][0]
        return self._kind.unit

    @property
    @override
    def device_class(self) -> SensorDeviceClass | None:
        """Return the present device class."""
        if self._suffers(Fault.PLUG_VOLTS):
            return SensorDeviceClass.VOLTAGE
        return self._kind.device_class

    @override
    def view(self) -> object:
        """Return what is shown besides the value, which is written when the meter reports."""
        return (
            self.available,
            self.native_unit_of_measurement,
            self.native_value is None,
        )

    def _suffers(self, fault: Fault) -> bool:
        return self._reading.main and self.workshop.world.has(self.part, fault)
