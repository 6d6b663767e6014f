"""Numbers in a form: their limits, and quantities in Home Assistant's units.

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

from ..core.control.motor_rating import KILOWATTS_PER_HORSEPOWER, LARGEST_KILOWATTS
from .field import Answers, Field, FormContext, Values
from .selectors import OfferedNumber

HORSEPOWER = "hp"


@dataclass(frozen=True, slots=True)
class FieldLimits:
    """The lowest and highest sensible value of a number, and its unit."""

    low: float
    high: float
    unit: str | None = "s"

    @override
    def __str__(self) -> str:
        """Return the range as text."""
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.low:g}–{self.high:g}{unit}"


def limit_in(
    hass: HomeAssistant, limits: FieldLimits | tuple[FieldLimits, FieldLimits]
) -> FieldLimits:
    """Return the limits in this Home Assistant's units: metric or US customary."""
    if isinstance(limits, FieldLimits):
        return limits
    return limits[hass.config.units is US_CUSTOMARY_SYSTEM]


@dataclass(frozen=True)
class NumberField(Field):
    """A number between limits; `size` is its unit in the stored unit.

    The limits fit any conceivable shop, and catch typing errors or milliseconds typed
    for seconds; no source.
    """

    limit: FieldLimits | tuple[FieldLimits, FieldLimits]
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

    def limit_for(self, context: FormContext, values: Values) -> FieldLimits:
        """Return the limits that apply here and to the edited part."""
        return limit_in(context.hass, self.limit)

    def typed(self, answers: Answers, usual: float | None) -> float | None:
        """Return the typed number, or the default; note an invalid one."""
        if (value := answers.typed.get(self.key)) is None:
            return usual
        limit = self.limit_for(answers.context, answers.typed)
        # NaN is no more between two numbers than one that is too large.
        if not limit.low <= value <= limit.high:
            answers.refuse(self.key, f"bad_{self.key}", str(limit))
        # An infinite number would break every calculation.
        return float(value) if math.isfinite(value) else usual or 0.0


# Wide enough for any conceivable shop, narrow enough to catch a value typed in another
# unit; no source. Metric limits first, then US customary ones.
WIDTH = (
    FieldLimits(20, 1000, UnitOfLength.MILLIMETERS),
    FieldLimits(0.8, 40, UnitOfLength.INCHES),
)
SIZE = (
    FieldLimits(5, 3000, UnitOfLength.MILLIMETERS),
    FieldLimits(0.2, 120, UnitOfLength.INCHES),
)
RUN = (FieldLimits(0, 200, UnitOfLength.METERS), FieldLimits(0, 650, UnitOfLength.FEET))
ALTITUDE = (
    FieldLimits(-400, 6000, UnitOfLength.METERS),
    FieldLimits(-1300, 19_600, UnitOfLength.FEET),
)
FLOW = (
    FieldLimits(10, 100_000, UnitOfVolumeFlowRate.CUBIC_METERS_PER_HOUR),
    FieldLimits(5, 60_000, UnitOfVolumeFlowRate.CUBIC_FEET_PER_MINUTE),
)
LOSS = (
    FieldLimits(1, 20_000, UnitOfPressure.PA),
    FieldLimits(0.004, 80, UnitOfPressure.INH2O),
)
FILTER_LOSS = (
    FieldLimits(10, 10_000, UnitOfPressure.PA),
    FieldLimits(0.05, 40, UnitOfPressure.INH2O),
)
AIR_SUPPLY = (
    FieldLimits(0.5, 16, UnitOfPressure.BAR),
    FieldLimits(5, 250, UnitOfPressure.PSI),
)
WEIGHT = (
    FieldLimits(0.1, 500, UnitOfMass.KILOGRAMS),
    FieldLimits(0.2, 1100, UnitOfMass.POUNDS),
)
TEMPERATURE = (
    FieldLimits(-30, 60, UnitOfTemperature.CELSIUS),
    FieldLimits(-22, 140, UnitOfTemperature.FAHRENHEIT),
)
BIN = (
    FieldLimits(5, 5000, UnitOfVolume.LITERS),
    FieldLimits(1, 1300, UnitOfVolume.GALLONS),
)
ROOM = (
    FieldLimits(5, 20_000, UnitOfVolume.CUBIC_METERS),
    FieldLimits(100, 700_000, UnitOfVolume.CUBIC_FEET),
)
# The table of motor ratings ends at the limit.
MOTOR = (
    FieldLimits(0.1, math.floor(LARGEST_KILOWATTS), UnitOfPower.KILO_WATT),
    FieldLimits(0.1, LARGEST_KILOWATTS / KILOWATTS_PER_HORSEPOWER, HORSEPOWER),
)


@dataclass(frozen=True)
class QuantityField(NumberField):
    """A quantity with its limits in metric and in US customary units.

    Its `usual` value and the one in its `placeholder` are in the SI unit.
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
        # A value left as shown stays as stored: it was rounded for the form, and may
        # have been typed in other units.
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
    """Return a value in another unit than the SI unit of its kind."""
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
    """Return a number rounded to significant digits."""
    return float(f"{value:.{digits}g}")
