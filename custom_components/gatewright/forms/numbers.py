"""Numbers in a form: their limits, and quantities in the units of Home Assistant.

Quantities are typed and shown in those units, and stored in SI units.
"""

from dataclasses import KW_ONLY, dataclass
import math
from typing import Any, override

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
from homeassistant.helpers.selector import (
    NumberSelectorConfig,
    NumberSelectorMode,
    Selector,
)
from homeassistant.util.unit_conversion import (
    BaseUnitConverter,
    DistanceConverter,
    MassConverter,
    PowerConverter,
    PressureConverter,
    TemperatureConverter,
    VolumeConverter,
    VolumeFlowRateConverter,
)
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM

from ..shop.motor_rating import KILOWATTS_PER_HORSEPOWER, LARGEST_KILOWATTS
from .field import Answers, Field, FormContext, Values
from .selectors import OfferedNumber

HORSEPOWER = "hp"


@dataclass(frozen=True, slots=True)
class Limit:
    """The least and the greatest sensible value of a number, and its unit."""

    low: float
    high: float
    unit: str | None = "s"

    @override
    def __str__(self) -> str:
        """Return the range as a person writes it."""
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.low:g}–{self.high:g}{unit}"


def limit_in(hass: HomeAssistant, limits: Limit | tuple[Limit, Limit]) -> Limit:
    """Return the limits in the units of this Home Assistant: metric or US customary."""
    if isinstance(limits, Limit):
        return limits
    return limits[hass.config.units is US_CUSTOMARY_SYSTEM]


@dataclass(frozen=True)
class NumberField(Field):
    """A number between limits; `size` is how much one of it is where it is stored.

    The limits are wide enough for any shop that was thought of, and narrow enough to
    catch a slip of the finger or milliseconds typed for seconds; no source.
    """

    limit: Limit | tuple[Limit, Limit]
    _: KW_ONLY
    size: float = 1

    @property
    @override
    def errors(self) -> set[str]:
        return {*super().errors, f"bad_{self.key}"}

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        limit = self.limit_for(context, values)
        config = NumberSelectorConfig(
            min=limit.low, max=limit.high, step="any", mode=NumberSelectorMode.BOX
        )
        if limit.unit:
            config["unit_of_measurement"] = limit.unit
        return OfferedNumber(config)

    @override
    def load(self, context: FormContext) -> float | None:
        stored: float | None = super().load(context)
        return stored if stored is None or self.size == 1 else stored / self.size

    @override
    def dump(self, answers: Answers) -> float | None:
        value = self.typed(answers, self.usual)
        return value if value is None or self.size == 1 else value * self.size

    def limit_for(self, context: FormContext, values: Values) -> Limit:
        """Return the limits that hold here and for the part in hand."""
        return limit_in(context.hass, self.limit)

    def typed(self, answers: Answers, usual: float | None) -> float | None:
        """Return the number as it was typed, or the usual one; note a bad one."""
        if (value := answers.typed.get(self.key)) is None:
            return usual
        limit = self.limit_for(answers.context, answers.typed)
        # Not a number (NaN) is no more between two others than a too great one.
        if not limit.low <= value <= limit.high:
            answers.refuse(self.key, f"bad_{self.key}", str(limit))
        # With one that is infinite nothing more can be computed.
        return float(value) if math.isfinite(value) else usual or 0.0


# Wide enough for any shop that was thought of, narrow enough to catch a value typed in
# another unit; no source. Metric limits first, then US customary ones.
WIDTH = (
    Limit(20, 1000, UnitOfLength.MILLIMETERS),
    Limit(0.8, 40, UnitOfLength.INCHES),
)
SIZE = (
    Limit(5, 3000, UnitOfLength.MILLIMETERS),
    Limit(0.2, 120, UnitOfLength.INCHES),
)
RUN = (Limit(0, 200, UnitOfLength.METERS), Limit(0, 650, UnitOfLength.FEET))
ALTITUDE = (
    Limit(-400, 6000, UnitOfLength.METERS),
    Limit(-1300, 19_600, UnitOfLength.FEET),
)
FLOW = (
    Limit(10, 100_000, UnitOfVolumeFlowRate.CUBIC_METERS_PER_HOUR),
    Limit(5, 60_000, UnitOfVolumeFlowRate.CUBIC_FEET_PER_MINUTE),
)
LOSS = (
    Limit(1, 20_000, UnitOfPressure.PA),
    Limit(0.004, 80, UnitOfPressure.INH2O),
)
FILTER_LOSS = (
    Limit(10, 10_000, UnitOfPressure.PA),
    Limit(0.05, 40, UnitOfPressure.INH2O),
)
AIR_SUPPLY = (Limit(0.5, 16, UnitOfPressure.BAR), Limit(5, 250, UnitOfPressure.PSI))
WEIGHT = (
    Limit(0.1, 500, UnitOfMass.KILOGRAMS),
    Limit(0.2, 1100, UnitOfMass.POUNDS),
)
TEMPERATURE = (
    Limit(-30, 60, UnitOfTemperature.CELSIUS),
    Limit(-22, 140, UnitOfTemperature.FAHRENHEIT),
)
BIN = (Limit(5, 5000, UnitOfVolume.LITERS), Limit(1, 1300, UnitOfVolume.GALLONS))
ROOM = (
    Limit(5, 20_000, UnitOfVolume.CUBIC_METERS),
    Limit(100, 700_000, UnitOfVolume.CUBIC_FEET),
)
# The table of motor ratings ends where the limit does.
MOTOR = (
    Limit(0.1, math.floor(LARGEST_KILOWATTS), UnitOfPower.KILO_WATT),
    Limit(0.1, LARGEST_KILOWATTS / KILOWATTS_PER_HORSEPOWER, HORSEPOWER),
)


@dataclass(frozen=True)
class QuantityField(NumberField):
    """A quantity with its limits in metric and in US customary units.

    Its `usual` value and the one that its `placeholder` names are in the SI unit.
    """

    @override
    def load(self, context: FormContext) -> float | None:
        if (stored := context.stored.get(self.key)) is None:
            return None
        return _rounded(from_si(stored, self.limit_for(context, {}).unit), 4)

    @override
    def dump(self, answers: Answers) -> float | None:
        typed, context = answers.typed.get(self.key), answers.context
        if typed is None:
            usual: float | None = self.usual
            return usual
        # What was left as the form showed it stays as it is stored: it was rounded for
        # the form, and may have been typed in other units.
        if self.key in context.stored and typed == context.shown.get(self.key):
            kept: float = context.stored[self.key]
            return kept
        unit = self.limit_for(context, {}).unit
        return to_si(self.typed(answers, self.usual) or 0.0, unit)

    @override
    def placeholders(self, context: FormContext) -> dict[str, str]:
        if (usual := self.placeholder) is None:
            return {}
        usual = usual(context) if callable(usual) else usual
        unit = self.limit_for(context, {}).unit
        text = "–"
        if usual is not None:
            text = f"{_rounded(from_si(usual, unit), 3):g} {unit}"
        return {f"usual_{self.key}": text}


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
    for converter, si in _SI_UNITS:
        if unit in converter.VALID_UNITS:
            return converter.convert(1, unit, si)
    return PressureConverter.convert(1, unit, UnitOfPressure.PA)


_SI_UNITS: tuple[tuple[type[BaseUnitConverter], str], ...] = (
    (DistanceConverter, UnitOfLength.METERS),
    (VolumeFlowRateConverter, UnitOfVolumeFlowRate.CUBIC_METERS_PER_SECOND),
    (VolumeConverter, UnitOfVolume.CUBIC_METERS),
    (MassConverter, UnitOfMass.KILOGRAMS),
    (PowerConverter, UnitOfPower.WATT),
)


def _rounded(value: float, digits: int) -> float:
    """Return a number with so many significant digits."""
    return float(f"{value:.{digits}g}")
