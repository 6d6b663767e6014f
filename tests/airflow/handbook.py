"""Equations and tables of handbooks that the integration doesn't use.

The airflow is compared with them: the handbook's friction lines with Colebrook-White,
its density factor with the gas law, its fan static pressure and capture flows in worked
examples, and the legal minimum flows of abrasive machines with those of woodworking
ones.
"""

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from custom_components.gatewright.core.airflow.errors import require
from custom_components.gatewright.core.airflow.machines import AirflowNeed, DustSource
from custom_components.gatewright.core.airflow.units import (
    CFM,
    FOOT,
    FPM,
    INCH,
    INCH_WATER,
)


def _by_inches(*rows: tuple[float, tuple[float, ...]]) -> tuple[AirflowNeed, ...]:
    return tuple(
        AirflowNeed(up_to=size * INCH, ports=tuple(cfm * CFM for cfm in ports))
        for size, ports in rows
    )


@dataclass(frozen=True, slots=True)
class HandbookFriction:
    """One line of the handbook friction equation, `Hf = a V^b / Q^c`.

    Velocity pressures per foot with V in ft/min and Q in cfm. Attributed to
    Loeffler; ACGIH, Industrial Ventilation. The coefficients are from memory;
    those of galvanized duct are confirmed by a printed table value (0.0709 at
    4 in and 4000 ft/min), the others by their agreement with Colebrook-White. The
    solver does not use them: they are there to hold it against the handbook.
    """

    a: float
    b: float
    c: float

    def per_metre(self, velocity: float, flow: float) -> float:
        """Return velocity pressures per m at a velocity (m/s) and flow (m3/s)."""
        require(
            velocity > 0 and flow > 0,
            "flow_range",
            "Velocity and flow must be positive",
        )
        per_foot = self.a * (velocity / FPM) ** self.b / (flow / CFM) ** self.c
        return float(per_foot / FOOT)


HANDBOOK_FRICTION: Final = MappingProxyType(
    {
        "galvanized": HandbookFriction(0.0307, 0.533, 0.612),
        "smooth": HandbookFriction(0.0425, 0.465, 0.602),
        "flexible": HandbookFriction(0.0311, 0.604, 0.639),
    }
)
"""Handbook friction lines: galvanized; black iron, aluminum, stainless and smooth
plastic; flexible hose (fabric over a wire spiral)."""


def fan_static_pressure(
    outlet_static: float, inlet_static: float, inlet_pressure: float
) -> float:
    """Return `FSP = SP outlet - SP inlet - VP inlet` (gauge Pa; ACGIH, memory)."""
    return outlet_static - inlet_static - inlet_pressure


def density_factor(
    altitude: float = 0.0, temperature: float = 21.1, gauge: float = 0.0
) -> float:
    """Return the handbook's density factor on 1.2 kg/m3 (0.075 lb/ft3).

    `altitude` in m, `temperature` in degrees Celsius, `gauge` static pressure in
    the duct in Pa. ACGIH, Industrial Ventilation (memory, confident); it treats
    temperature and altitude apart, as it should for a heated shop.
    """
    by_altitude = (1.0 - 6.73e-6 * altitude / FOOT) ** 5.258
    by_temperature = 530.0 / (temperature * 1.8 + 32.0 + 460.0)
    by_pressure = (407.0 + gauge / INCH_WATER) / 407.0
    return float(by_altitude * by_temperature * by_pressure)


_TITLE_8: Final = "California Code of Regulations, Title 8, section 5152"

ANALOGUES: Final = MappingProxyType(
    {
        "abrasive_belt": DustSource(
            size="belt_width",
            material="fine_dust",
            source=f"{_TITLE_8}, Table V-5",
            status="read",
            confidence="high",
            needs=_by_inches((3, (220,)), (5, (300,)), (7, (390,)), (9, (500,))),
        ),
        "disc_grinder": DustSource(
            size="disc_diameter",
            material="fine_dust",
            source=f"{_TITLE_8}, Table V-3",
            status="read",
            confidence="high",
            needs=_by_inches((12, (220,)), (19, (390,)), (30, (610,)), (72, (880,))),
        ),
    }
)
"""Legal minimum flows of abrasive machines, not woodworking tables."""


BENCH_FACE_VELOCITY: Final = 100.0 * FPM
"""Least face velocity of a down-draft bench, m/s (same paper as `hand_sander`)."""


def face_flow(width: float, length: float, velocity: float) -> float:
    """Return the flow (m3/s) through an open face, `Q = V A` (m, m/s)."""
    return width * length * velocity


def capture_flow(
    velocity: float, distance: float, area: float = 0.0, *, flanged: bool = False
) -> float:
    """Return the flow (m3/s) at which an opening captures at a distance (m).

    `Q = V (10 x^2 + A)` with the opening's `area` (m2), three quarters of it with a
    flange (Dalla Valle; ACGIH, Industrial Ventilation; memory, confident). A point
    sink, `4 pi x^2`, would ask for a quarter more far away and for nothing near by.
    """
    whole = velocity * (10.0 * distance * distance + area)
    return 0.75 * whole if flanged else whole
