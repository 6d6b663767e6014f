"""The units for airflow figures: those of Home Assistant's unit system."""

from dataclasses import dataclass, replace

from homeassistant.const import (
    UnitOfLength,
    UnitOfPressure,
    UnitOfSpeed,
    UnitOfVolumeFlowRate,
)
from homeassistant.core import HomeAssistant
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM

from ...core.airflow.units import CFM, FOOT, FPM, INCH, INCH_WATER
from ...texts.texts import Texts

FEET_PER_MINUTE = "ft/min"
"""Home Assistant lacks this unit; the trade uses it."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: its symbol, its size in SI units, and its decimals.

    Negative decimals round to tens. `even` leaves out a decimal of 0, `mark` is the
    decimal mark.
    """

    sign: str
    size: float
    digits: int
    even: bool = False
    mark: str = "."

    def number(self, value: float) -> float:
        """Return an SI value in this unit, rounded."""
        return round(value / self.size, self.digits)

    def text(self, value: float) -> str:
        """Return an SI value as text."""
        return f"{self.bare(value)} {self.sign}"

    def bare(self, value: float) -> str:
        """Return an SI value as text, without the unit."""
        figure = f"{self.number(value):.{max(0, self.digits)}f}"
        if self.even:
            figure = figure.removesuffix(".0")
        return figure.replace(".", self.mark)


@dataclass(frozen=True, slots=True, kw_only=True)
class AirUnits:
    """One unit for each kind of figure."""

    flow: Unit
    velocity: Unit
    pressure: Unit
    width: Unit
    length: Unit

    def marked(self, texts: Texts) -> AirUnits:
        """Return the units with figures as they are written in the language of texts."""
        mark = texts("writing", "decimal", whole="", part="")
        return AirUnits(
            flow=replace(self.flow, mark=mark),
            velocity=replace(self.velocity, mark=mark),
            pressure=replace(self.pressure, mark=mark),
            width=replace(self.width, mark=mark),
            length=replace(self.length, mark=mark),
        )


METRIC = AirUnits(
    flow=Unit(UnitOfVolumeFlowRate.CUBIC_METERS_PER_HOUR, 1 / 3600, 0),
    velocity=Unit(UnitOfSpeed.METERS_PER_SECOND, 1.0, 1),
    pressure=Unit(UnitOfPressure.PA, 1.0, 0),
    width=Unit(UnitOfLength.MILLIMETERS, 0.001, 0),
    length=Unit(UnitOfLength.METERS, 1.0, 1),
)
CUSTOMARY = AirUnits(
    flow=Unit("cfm", CFM, 0),
    # 10 ft/min is about the tenth of a m/s of the others, and finer than the figures are.
    velocity=Unit(FEET_PER_MINUTE, FPM, -1),
    pressure=Unit("in. w.g.", INCH_WATER, 2),
    width=Unit(UnitOfLength.INCHES, INCH, 1, even=True),
    length=Unit(UnitOfLength.FEET, FOOT, 1),
)


def units_of(hass: HomeAssistant) -> AirUnits:
    """Return the units of this Home Assistant."""
    return CUSTOMARY if hass.config.units is US_CUSTOMARY_SYSTEM else METRIC
