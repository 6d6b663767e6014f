"""Ports that cannot: too small for the flow a machine needs, whatever the ducts do.

700 cfm through one 4 in port is 8,000 ft/min: the port alone then takes some 8 in. w.g.
of suction. That is said before anything is blamed on ducts.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, pi, sqrt
from typing import Final

from .errors import AirflowError
from .model import Pickup
from .network import Network
from .units import FPM, INCH

TOO_FAST: Final = 6000 * FPM
"""Velocity (m/s) in a port from which it is too small: hood and port then take more
than half of what a shop collector can give. Common practice, no source."""

GOOD: Final = 4500 * FPM
"""Velocity (m/s) that a port should have at most (branches on the ACGIH VS-95 plates;
memory)."""

SIZES: Final = tuple(inches * INCH for inches in (2, 2.5, 3, 4, 5, 6, 7, 8, 9, 10, 12))
"""Diameters (m) of usual ports."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PortLimit:
    """A port that is too small for what its machine needs.

    `narrowest` (m) is the narrowest pipe of the pickup, `velocity` (m/s) what the
    `required` flow (m3/s) would be in it and `suction` (Pa) what hood and speed would
    take. `possible` (m3/s) is what the fan would draw through it if nothing else were
    in the way. `larger` (m) is the port that would do, None where none of the usual
    sizes does, `count` how many of the present one would. `most` (m3/s) is what the fan
    would draw through that: where it is less than `required`, no port and no pipe helps.
    """

    pickup: str
    narrowest: float
    required: float
    velocity: float
    suction: float
    possible: float
    larger: float | None
    count: int
    most: float

    @property
    def hopeless(self) -> bool:
        """Whether the fan could not do it with nothing else in the way."""
        return self.possible < self.required

    @property
    def weak_fan(self) -> bool:
        """Whether the fan could not do it through any port."""
        return self.most < self.required


def port_limit(
    network: Network, pickup: str, sizes: Sequence[float] = SIZES
) -> PortLimit | None:
    """Return why a pickup's port cannot give it its flow; None where it can.

    Raises `AirflowError` for an unknown pickup.
    """
    element = network.element(pickup)
    part = element.part
    if not isinstance(part, Pickup):
        raise AirflowError(
            "unknown_element", f"{pickup!r} is no pickup", element=pickup
        )
    if part.required <= 0:
        return None
    diameters = [run.pipe.diameter for run in element.runs]
    narrowest = min(diameters)
    area = pi / 4.0 * narrowest**2
    velocity = part.required / area
    possible = _drawn(network, part, area)
    if velocity <= TOO_FAST and possible >= part.required:
        return None
    needed = sqrt(4.0 * part.required / (pi * GOOD))
    fitting = [size for size in sorted(sizes) if size >= needed * (1.0 - 1e-6)]
    count = ceil(part.required / (area * GOOD) - 1e-6)
    wide = pi / 4.0 * fitting[0] ** 2 if fitting else count * area
    return PortLimit(
        pickup=pickup,
        narrowest=narrowest,
        required=part.required,
        velocity=velocity,
        suction=_resistance(network, part, area) * part.required**2,
        possible=possible,
        larger=fitting[0] if fitting else None,
        count=count,
        most=_drawn(network, part, max(wide, area)),
    )


def _resistance(network: Network, part: Pickup, area: float) -> float:
    """Return what hood and speed take in an area (m2), Pa per (m3/s)^2."""
    return (1.0 + part.entry_k) * 0.5 * network.system.air.density / area**2


def _drawn(network: Network, part: Pickup, area: float) -> float:
    """Return what the fan draws (m3/s) with nothing but a port of an area (m2) in the way."""
    fan = network.system.fan
    ratio = network.fan_scale * network.system.air.density / fan.density
    return fan.operating_flow(_resistance(network, part, area) / ratio)
