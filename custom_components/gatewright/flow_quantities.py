"""Quantities that are typed and shown in the hub's units, and stored in SI units."""

from collections.abc import Mapping
import math
from typing import Any

from homeassistant.const import UnitOfPower, UnitOfPressure
from homeassistant.core import HomeAssistant
from homeassistant.util.unit_conversion import PowerConverter, PressureConverter
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM

from .const import CONF_AIR_SUPPLY_LOW, CONF_FILTER_LIMIT, CONF_MOTOR_RATING
from .flow_fields import Limit, OfferedNumber, number_field, number_of
from .flow_mistakes import Mistakes
from .shop.motor_rating import KILOWATTS_PER_HORSEPOWER, LARGEST_KILOWATTS

HORSEPOWER = "hp"

# Wide enough for any shop that was thought of, narrow enough to catch a value typed in
# another unit; no source. The table of motor ratings ends where the limit does.
QUANTITIES = {
    CONF_AIR_SUPPLY_LOW: (
        Limit(0.5, 16, UnitOfPressure.BAR),
        Limit(5, 250, UnitOfPressure.PSI),
    ),
    CONF_FILTER_LIMIT: (
        Limit(10, 10_000, UnitOfPressure.PA),
        Limit(0.05, 40, UnitOfPressure.INH2O),
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
    """Return what a form shows for a quantity that is stored in Pa or W."""
    if stored is None:
        return None
    return _rounded(stored / _size(limit_of(hass, field).unit), 4)


def usual_text(hass: HomeAssistant, field: str, usual: float) -> str:
    """Return how a text names the usual value, which is given in Pa or W."""
    unit = limit_of(hass, field).unit
    return f"{_rounded(usual / _size(unit), 3):g} {unit}"


def quantity_of(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    field: str,
    mistakes: Mistakes,
    before: Mapping[str, Any],
    stored: Mapping[str, Any],
    usual: float,
) -> float:
    """Return a typed quantity in Pa or W, or the usual one where none was typed.

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
    return _rounded(value * _size(limit.unit), 9)


def _size(unit: str | None) -> float:
    """Return how many Pa or W a unit is."""
    if unit == HORSEPOWER:
        return KILOWATTS_PER_HORSEPOWER * 1000
    if unit in PowerConverter.VALID_UNITS:
        return PowerConverter.convert(1, unit, UnitOfPower.WATT)
    return PressureConverter.convert(1, unit, UnitOfPressure.PA)


def _rounded(value: float, digits: int) -> float:
    """Return a number with so many significant digits."""
    return float(f"{value:.{digits}g}")
