"""Quantities that are typed and shown in the hub's units, and stored in SI units."""

from collections.abc import Mapping
import math
from typing import Any

from homeassistant.const import (
    UnitOfLength,
    UnitOfMass,
    UnitOfPower,
    UnitOfPressure,
    UnitOfTemperature,
    UnitOfVolume,
    UnitOfVolumeFlowRate,
)
from homeassistant.core import HomeAssistant
from homeassistant.util.unit_conversion import (
    DistanceConverter,
    MassConverter,
    PowerConverter,
    PressureConverter,
    TemperatureConverter,
    VolumeConverter,
    VolumeFlowRateConverter,
)
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM

from ..const import (
    CONF_AIR_SUPPLY_LOW,
    CONF_ALTITUDE,
    CONF_BIN_VOLUME,
    CONF_CLEANING_ABOVE,
    CONF_DIAMETER,
    CONF_DROP_DIAMETER,
    CONF_DROP_LENGTH,
    CONF_FILTER_FLOW,
    CONF_FILTER_LIMIT,
    CONF_FILTER_LOSS,
    CONF_FILTER_WORN,
    CONF_FREE_FLOW,
    CONF_HOSE_DIAMETER,
    CONF_HOSE_LENGTH,
    CONF_INLET_DIAMETER,
    CONF_LENGTH,
    CONF_MAX_SUCTION,
    CONF_MOTOR_RATING,
    CONF_PORT_DIAMETER,
    CONF_REQUIRED_FLOW,
    CONF_ROOM_FLOW,
    CONF_ROOM_VOLUME,
    CONF_SEPARATOR_FLOW,
    CONF_SEPARATOR_LOSS,
    CONF_SIZE,
    CONF_STACK_DIAMETER,
    CONF_STACK_LENGTH,
    CONF_TEMPERATURE,
    CONF_WHEEL_DIAMETER,
    CONF_WHEEL_WEIGHT,
)
from ..shop.motor_rating import KILOWATTS_PER_HORSEPOWER, LARGEST_KILOWATTS
from .fields import Limit, OfferedNumber, number_field, number_of
from .mistakes import Mistakes

HORSEPOWER = "hp"

# Wide enough for any shop that was thought of, narrow enough to catch a value typed in
# another unit; no source. The table of motor ratings ends where the limit does.
_WIDTH = (
    Limit(20, 1000, UnitOfLength.MILLIMETERS),
    Limit(0.8, 40, UnitOfLength.INCHES),
)
_RUN = (Limit(0, 200, UnitOfLength.METERS), Limit(0, 650, UnitOfLength.FEET))
_FLOW = (
    Limit(10, 100_000, UnitOfVolumeFlowRate.CUBIC_METERS_PER_HOUR),
    Limit(5, 60_000, UnitOfVolumeFlowRate.CUBIC_FEET_PER_MINUTE),
)
_LOSS = (
    Limit(1, 20_000, UnitOfPressure.PA),
    Limit(0.004, 80, UnitOfPressure.INH2O),
)

QUANTITIES = {
    **dict.fromkeys(
        (
            CONF_DIAMETER,
            CONF_PORT_DIAMETER,
            CONF_HOSE_DIAMETER,
            CONF_DROP_DIAMETER,
            CONF_INLET_DIAMETER,
            CONF_STACK_DIAMETER,
            CONF_WHEEL_DIAMETER,
        ),
        _WIDTH,
    ),
    CONF_WHEEL_WEIGHT: (
        Limit(0.1, 500, UnitOfMass.KILOGRAMS),
        Limit(0.2, 1100, UnitOfMass.POUNDS),
    ),
    CONF_SIZE: (
        Limit(5, 3000, UnitOfLength.MILLIMETERS),
        Limit(0.2, 120, UnitOfLength.INCHES),
    ),
    **dict.fromkeys(
        (CONF_LENGTH, CONF_HOSE_LENGTH, CONF_DROP_LENGTH, CONF_STACK_LENGTH), _RUN
    ),
    **dict.fromkeys(
        (
            CONF_REQUIRED_FLOW,
            CONF_FREE_FLOW,
            CONF_SEPARATOR_FLOW,
            CONF_FILTER_FLOW,
            CONF_ROOM_FLOW,
        ),
        _FLOW,
    ),
    **dict.fromkeys((CONF_MAX_SUCTION, CONF_SEPARATOR_LOSS, CONF_FILTER_LOSS), _LOSS),
    CONF_ALTITUDE: (
        Limit(-400, 6000, UnitOfLength.METERS),
        Limit(-1300, 19_600, UnitOfLength.FEET),
    ),
    CONF_TEMPERATURE: (
        Limit(-30, 60, UnitOfTemperature.CELSIUS),
        Limit(-22, 140, UnitOfTemperature.FAHRENHEIT),
    ),
    CONF_AIR_SUPPLY_LOW: (
        Limit(0.5, 16, UnitOfPressure.BAR),
        Limit(5, 250, UnitOfPressure.PSI),
    ),
    **dict.fromkeys(
        (CONF_FILTER_LIMIT, CONF_FILTER_WORN, CONF_CLEANING_ABOVE),
        (
            Limit(10, 10_000, UnitOfPressure.PA),
            Limit(0.05, 40, UnitOfPressure.INH2O),
        ),
    ),
    CONF_BIN_VOLUME: (
        Limit(5, 5000, UnitOfVolume.LITERS),
        Limit(1, 1300, UnitOfVolume.GALLONS),
    ),
    CONF_ROOM_VOLUME: (
        Limit(5, 20_000, UnitOfVolume.CUBIC_METERS),
        Limit(100, 700_000, UnitOfVolume.CUBIC_FEET),
    ),
    CONF_MOTOR_RATING: (
        Limit(0.1, math.floor(LARGEST_KILOWATTS), UnitOfPower.KILO_WATT),
        Limit(0.1, LARGEST_KILOWATTS / KILOWATTS_PER_HORSEPOWER, HORSEPOWER),
    ),
}
"""The limits of each quantity in a metric hub and in a US customary one."""


def limit_of(hass: HomeAssistant, field: str) -> Limit:
    """Return the limits of a quantity, in the unit that this hub uses for it."""
    metric, customary = QUANTITIES[field]
    return customary if hass.config.units is US_CUSTOMARY_SYSTEM else metric


def quantity_field(hass: HomeAssistant, field: str) -> OfferedNumber:
    """Return a field for a quantity."""
    return number_field(field, limit_of(hass, field))


def shown(hass: HomeAssistant, field: str, stored: float | None) -> float | None:
    """Return what a form shows for a quantity that is stored in its SI unit."""
    if stored is None:
        return None
    return _rounded(from_si(stored, limit_of(hass, field).unit), 4)


def usual_text(hass: HomeAssistant, field: str, usual: float) -> str:
    """Return how a text names the usual value, which is given in its SI unit."""
    unit = limit_of(hass, field).unit
    return f"{_rounded(from_si(usual, unit), 3):g} {unit}"


def quantity_of(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    field: str,
    mistakes: Mistakes,
    before: Mapping[str, Any],
    stored: Mapping[str, Any],
    usual: float,
) -> float:
    """Return a typed quantity in its SI unit, or the usual one where none was typed.

    What was left as the form showed it stays as it is stored: it was rounded for
    the form, and may have been typed in other units.
    """
    if typed.get(field) is None:
        return usual
    if field in stored and typed[field] == before.get(field):
        kept: float = stored[field]
        return kept
    limit = limit_of(hass, field)
    value = number_of(typed, field, mistakes, usual, limit)
    return to_si(value, limit.unit)


def to_si(value: float, unit: str | None) -> float:
    """Return a value in the SI unit of its kind (degrees Celsius for a temperature)."""
    if unit == UnitOfTemperature.FAHRENHEIT:
        return _rounded(
            TemperatureConverter.convert(value, unit, UnitOfTemperature.CELSIUS), 9
        )
    return _rounded(value * _size(unit), 9)


def from_si(value: float, unit: str | None) -> float:
    """Return a value that is in the SI unit of its kind in another unit."""
    if unit == UnitOfTemperature.FAHRENHEIT:
        return TemperatureConverter.convert(value, UnitOfTemperature.CELSIUS, unit)
    return value / _size(unit)


def _size(unit: str | None) -> float:
    """Return how many Pa, W, m, m3, m3/s, kg or degrees Celsius a unit is."""
    if unit == HORSEPOWER:
        return KILOWATTS_PER_HORSEPOWER * 1000
    if unit == UnitOfTemperature.CELSIUS:
        return 1.0
    if unit in DistanceConverter.VALID_UNITS:
        return DistanceConverter.convert(1, unit, UnitOfLength.METERS)
    if unit in VolumeFlowRateConverter.VALID_UNITS:
        return VolumeFlowRateConverter.convert(
            1, unit, UnitOfVolumeFlowRate.CUBIC_METERS_PER_SECOND
        )
    if unit in VolumeConverter.VALID_UNITS:
        return VolumeConverter.convert(1, unit, UnitOfVolume.CUBIC_METERS)
    if unit in MassConverter.VALID_UNITS:
        return MassConverter.convert(1, unit, UnitOfMass.KILOGRAMS)
    if unit in PowerConverter.VALID_UNITS:
        return PowerConverter.convert(1, unit, UnitOfPower.WATT)
    return PressureConverter.convert(1, unit, UnitOfPressure.PA)


def _rounded(value: float, digits: int) -> float:
    """Return a number with so many significant digits."""
    return float(f"{value:.{digits}g}")
