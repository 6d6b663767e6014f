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
    sizes does, `count` how many of the present one would.
    """

    pickup: str
    narrowest: float
    required: float
    velocity: float
    suction: float
    possible: float
    larger: float | None
    count: int

    @property
    def hopeless(self) -> bool:
        """Whether the fan could not do it with nothing else in the way."""
        return self.possible < self.required


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
    density = network.system.air.density
    resistance = (1.0 + part.entry_k) * 0.5 * density / area**2
    fan = network.system.fan
    ratio = network.fan_scale * density / fan.density
    possible = fan.operating_flow(resistance / ratio)
    if velocity <= TOO_FAST and possible >= part.required:
        return None
    needed = sqrt(4.0 * part.required / (pi * GOOD))
    fitting = [size for size in sorted(sizes) if size >= needed * (1.0 - 1e-6)]
    return PortLimit(
        pickup=pickup,
        narrowest=narrowest,
        required=part.required,
        velocity=velocity,
        suction=resistance * part.required**2,
        possible=possible,
        larger=fitting[0] if fitting else None,
        count=ceil(part.required / (area * GOOD) - 1e-6),
    )
