"""Density and viscosity of the air that is moved.

The constants of the US Standard Atmosphere, 1976, and of Sutherland's formula in it are
confirmed by the package `fluids` (`ATMOSPHERE_1976`), an independent implementation:
see the tests.

Conventions: altitude in m above sea level, temperature in degrees Celsius,
pressures in Pa. A gauge pressure is relative to the room and negative on the
suction side of the fan.
"""

from dataclasses import dataclass
from typing import Final, Self

from .errors import require

GAS_CONSTANT: Final = 287.05287
"""J/(kg K), dry air; US Standard Atmosphere, 1976."""

SEA_LEVEL_PRESSURE: Final = 101_325.0
"""Pa; US Standard Atmosphere, 1976."""

SEA_LEVEL_TEMPERATURE: Final = 288.15
"""K; US Standard Atmosphere, 1976."""

LAPSE_RATE: Final = 0.0065
"""K per m of geopotential altitude below 11 km; US Standard Atmosphere, 1976."""

STANDARD_DENSITY: Final = 1.2
"""kg/m3 of the standard air that fan catalogs and duct charts are drawn for."""

_GRAVITY: Final = 9.80665
_EARTH_RADIUS: Final = 6_356_766.0
_ZERO_CELSIUS: Final = 273.15


def _geopotential(altitude: float) -> float:
    require(
        -1000.0 <= altitude <= 11_000.0,
        "altitude_range",
        f"Altitude must be between -1000 and 11000 m, not {altitude:g}",
    )
    return _EARTH_RADIUS * altitude / (_EARTH_RADIUS + altitude)


def standard_temperature(altitude: float) -> float:
    """Return the temperature (K) of the standard atmosphere at an altitude (m).

    US Standard Atmosphere, 1976. Raises `AirflowError` outside -1 to 11 km.
    """
    return SEA_LEVEL_TEMPERATURE - LAPSE_RATE * _geopotential(altitude)


def standard_pressure(altitude: float) -> float:
    """Return the pressure (Pa) of the standard atmosphere at an altitude (m).

    US Standard Atmosphere, 1976. Raises `AirflowError` outside -1 to 11 km.
    """
    ratio = standard_temperature(altitude) / SEA_LEVEL_TEMPERATURE
    exponent = _GRAVITY / (GAS_CONSTANT * LAPSE_RATE)
    return float(SEA_LEVEL_PRESSURE * ratio**exponent)


def density(pressure: float, temperature: float) -> float:
    """Return the density (kg/m3) of dry air, an ideal gas.

    `pressure` is absolute (Pa), `temperature` in degrees Celsius.
    """
    require(pressure > 0, "pressure_range", "The absolute pressure must be positive")
    require(
        -60.0 <= temperature <= 100.0,
        "temperature_range",
        f"Air temperature must be between -60 and 100 C, not {temperature:g}",
    )
    return pressure / (GAS_CONSTANT * (temperature + _ZERO_CELSIUS))


def dynamic_viscosity(temperature: float) -> float:
    """Return the dynamic viscosity (Pa s) of air at a temperature (Celsius).

    Sutherland's formula with the constants of the US Standard Atmosphere, 1976.
    """
    kelvin = temperature + _ZERO_CELSIUS
    return float(1.458e-6 * kelvin**1.5 / (kelvin + 110.4))


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """The air in the ducts: density (kg/m3) and dynamic viscosity (Pa s).

    One density is used for the whole system, that of the room. At 3 kPa of
    suction the air in the duct is 3 % thinner; `Air.at` takes that gauge
    pressure for whoever wants to see what it changes.
    """

    density: float = STANDARD_DENSITY
    viscosity: float = 1.81e-5

    def __post_init__(self) -> None:
        """Refuse air that is none."""
        require(
            0.1 <= self.density <= 3.0 and 1e-6 <= self.viscosity <= 1e-4,
            "air_range",
            f"Density {self.density:g} kg/m3 or viscosity {self.viscosity:g} Pa s "
            "is not that of air",
        )

    @property
    def kinematic_viscosity(self) -> float:
        """Kinematic viscosity in m2/s."""
        return self.viscosity / self.density

    @classmethod
    def at(
        cls, altitude: float = 0.0, temperature: float = 20.0, gauge: float = 0.0
    ) -> Self:
        """Return the air of a shop.

        The pressure is that of the standard atmosphere at `altitude` (m) plus
        `gauge` (Pa); the temperature (Celsius) is the shop's own. The density of
        the standard atmosphere itself would be wrong here, since it includes the
        fall of temperature with height, which a heated shop does not share.
        """
        return cls(
            density=density(standard_pressure(altitude) + gauge, temperature),
            viscosity=dynamic_viscosity(temperature),
        )


def velocity_pressure(velocity: float, air_density: float = STANDARD_DENSITY) -> float:
    """Return the velocity pressure (Pa) of air at a velocity (m/s)."""
    return 0.5 * air_density * velocity * velocity


def velocity(pressure: float, air_density: float = STANDARD_DENSITY) -> float:
    """Return the velocity (m/s) that belongs to a velocity pressure (Pa)."""
    require(pressure >= 0, "pressure_range", "A velocity pressure is never negative")
    return float((2.0 * pressure / air_density) ** 0.5)
