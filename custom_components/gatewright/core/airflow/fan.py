"""The collector's fan: its curve, the fan laws, and where a system meets it.

Which pressure a curve shows matters by one velocity pressure at the outlet:

- `total`: rise of total pressure from inlet to outlet, all that the system can
  use.
- `static`: fan static pressure as catalogs give it, total rise less the velocity
  pressure at the outlet. With `outlet_diameter` that velocity pressure is added
  back and the network decides what becomes of it. Without, it is taken as lost in
  the housing behind the fan, as in a collector that blows into its own filter; the
  two then cancel and the curve is used as it stands.

A curve holds for one density and one speed. Fan laws (AMCA and every handbook):
flow goes with speed N, pressure with density and N^2, power with density and N^3.
Density alone changes pressure and power, not flow.
"""

from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import inf, isfinite, pi
from typing import Final, Literal, Self

from .air import STANDARD_DENSITY
from .curve import Curve
from .errors import AirflowError, require

type PressureKind = Literal["total", "static"]
type Shape = Literal["parabola", "generic"]

GENERIC_SHAPE: Final = (
    (0.0, 0.90 / 0.95),
    (250.0 / 1200.0, 1.0),
    (500.0 / 1200.0, 0.90 / 0.95),
    (750.0 / 1200.0, 0.75 / 0.95),
    (1000.0 / 1200.0, 0.40 / 0.95),
    (1.0, 0.0),
)
"""A small centrifugal fan: share of free flow, share of peak pressure. Cengel and
Cimbala, Fluid Mechanics: Fundamentals and Applications, Table 14-1 (read)."""

_MAX_POINTS: Final = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """A fan by points of its curve: flow (m3/s) and pressure (Pa), flow rising.

    Between the points a monotone cubic; below the first its pressure holds (a
    radial fan at shut-off has 90 to 95 % of its peak, so this is close and never
    generous by much); beyond the last a straight line on with the steeper of the
    last slope and the last secant. `slopes` (Pa per m3/s) replaces the monotone
    ones where the curve is known as a formula. `power` has flow (m3/s) and shaft
    power (W) points, at the same density and speed, if known.
    """

    points: tuple[tuple[float, float], ...]
    density: float = STANDARD_DENSITY
    kind: PressureKind = "total"
    outlet_diameter: float | None = None
    slopes: tuple[float, ...] | None = None
    power: tuple[tuple[float, float], ...] = ()
    curve: Curve = field(init=False, repr=False, compare=False)
    outlet: float = field(init=False, repr=False, compare=False)
    crest: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Refuse a curve that cannot be one, prepare the cubics."""
        points = self.points
        figures = (n for point in (*points, *self.power) for n in point)
        require(
            all(map(isfinite, (*figures, *(self.slopes or ())))),
            "fan_points",
            "Every figure of a fan curve must be a finite number",
        )
        require(
            2 <= len(points) <= _MAX_POINTS,
            "fan_points",
            f"A fan curve needs 2 to {_MAX_POINTS} points, not {len(points)}",
        )
        flows = [flow for flow, _ in points]
        pressures = [pressure for _, pressure in points]
        require(
            flows[0] >= 0 and all(a < b for a, b in pairwise(flows)),
            "fan_flows",
            "The flows of a fan curve must rise from 0 or more",
        )
        require(
            max(pressures) > 0 and min(pressures) >= 0,
            "fan_pressures",
            "The pressures of a fan curve must not be negative, and not all 0",
        )
        require(
            pressures[-1] < pressures[-2],
            "fan_end",
            "A fan curve must fall towards its last point",
        )
        require(
            self.slopes is None or len(self.slopes) == len(points),
            "fan_slopes",
            "Give one slope for each point of the fan curve, or none",
        )
        require(
            0.1 <= self.density <= 3.0,
            "air_range",
            f"A fan curve for a density of {self.density:g} kg/m3 makes no sense",
        )
        require(
            self.outlet_diameter is None or 0.01 <= self.outlet_diameter <= 3.0,
            "diameter_range",
            "The diameter of the fan's outlet must be between 0.01 and 3 m",
        )
        secant = (pressures[-1] - pressures[-2]) / (flows[-1] - flows[-2])
        curve = Curve(flows, pressures, self.slopes)
        curve.end_slope = min(curve.end_slope, secant)
        object.__setattr__(self, "curve", curve)
        outlet = 0.0
        if self.kind == "static" and self.outlet_diameter is not None:
            area = pi / 4.0 * self.outlet_diameter**2
            outlet = 0.5 * self.density / area**2
        object.__setattr__(self, "outlet", outlet)
        object.__setattr__(self, "crest", curve.last_rise())

    @classmethod
    def from_free_air(
        cls,
        flow: float,
        suction: float,
        *,
        density: float = STANDARD_DENSITY,
        shape: Shape = "parabola",
        kind: PressureKind = "static",
    ) -> Self:
        """Return a fan known only by free-air flow (m3/s) and maximum suction (Pa).

        `parabola`: `p = suction * (1 - (q / flow)^2)`, simple and on the cautious
        side. `generic`: the measured shape of a small centrifugal fan, scaled; it
        promises a third more pressure in the working range. Neither is the
        owner's fan: points of the maker's curve are better. Raises `AirflowError`.
        """
        require(
            0 < flow < inf and 0 < suction < inf,
            "fan_free_air",
            "Free-air flow and maximum suction must be positive and finite",
        )
        if shape == "parabola":
            fan = cls.quadratic(suction, suction / (flow * flow), density=density)
            return replace(fan, kind=kind)
        points = tuple((x * flow, y * suction) for x, y in GENERIC_SHAPE)
        return cls(points=points, density=density, kind=kind)

    @classmethod
    def quadratic(
        cls, shutoff: float, fall: float, *, density: float = STANDARD_DENSITY
    ) -> Self:
        """Return the fan `p = shutoff - fall * q^2` (Pa; Pa per (m3/s)^2), exactly."""
        require(
            0 < shutoff < inf and 0 < fall < inf,
            "fan_pressures",
            "A parabolic fan needs a positive, finite pressure and fall",
        )
        free = (shutoff / fall) ** 0.5
        return cls(
            points=((0.0, shutoff), (free, 0.0)),
            slopes=(0.0, -2.0 * fall * free),
            density=density,
        )

    def scaled(
        self, *, speed: float = 1.0, density: float | None = None, size: float = 1.0
    ) -> Self:
        """Return the fan at another speed ratio, density (kg/m3) or size ratio.

        Flow goes with N D^3, pressure with density N^2 D^2, power with density
        N^3 D^5, for a similar wheel of diameter ratio `size`.
        """
        require(
            0 < speed < inf and 0 < size < inf,
            "fan_speed",
            "Speed and size ratio must be positive and finite",
        )
        new_density = self.density if density is None else density
        ratio = new_density / self.density
        by_flow = speed * size**3
        by_pressure = ratio * speed**2 * size**2
        by_power = ratio * speed**3 * size**5
        return replace(
            self,
            points=tuple((q * by_flow, p * by_pressure) for q, p in self.points),
            slopes=(
                None
                if self.slopes is None
                else tuple(s * by_pressure / by_flow for s in self.slopes)
            ),
            power=tuple((q * by_flow, w * by_power) for q, w in self.power),
            density=new_density,
            outlet_diameter=(
                None if self.outlet_diameter is None else self.outlet_diameter * size
            ),
        )

    @property
    def free_flow(self) -> float:
        """Flow (m3/s) at which the pressure of the curve is 0, or its last point."""
        last_flow, last_pressure = self.points[-1]
        return last_flow - last_pressure / self.curve.end_slope

    @property
    def peak(self) -> tuple[float, float]:
        """Flow (m3/s) and pressure (Pa) of the highest point given."""
        return max(self.points, key=lambda point: (point[1], point[0]))

    def pressure(
        self, flow: float, *, speed: float = 1.0, density: float | None = None
    ) -> float:
        """Return the total pressure rise (Pa) at a flow (m3/s).

        `speed` is the ratio to the speed of the curve, `density` (kg/m3) that of
        the air moved (default: the curve's). Negative beyond the free flow.
        """
        require(
            0 < speed < inf, "fan_speed", "The speed ratio must be positive and finite"
        )
        ratio = 1.0 if density is None else density / self.density
        at_rated = flow / speed
        value = self.curve.at(at_rated)[0] + self.outlet * at_rated * at_rated
        return ratio * speed * speed * value

    def shaft_power(
        self, flow: float, *, speed: float = 1.0, density: float | None = None
    ) -> float | None:
        """Return the shaft power (W) at a flow (m3/s), or None where not known."""
        if len(self.power) < 2:
            return None
        curve = Curve([q for q, _ in self.power], [w for _, w in self.power])
        ratio = 1.0 if density is None else density / self.density
        return ratio * speed**3 * curve.at(flow / speed)[0]

    def operating_flow(
        self, quadratic: float, linear: float = 0.0, guess: float = 0.0
    ) -> float:
        """Return the flow (m3/s) at which `quadratic q^2 + linear q` meets the curve.

        Coefficients in Pa per (m3/s)^2 and Pa per m3/s, at the speed and density of
        the curve. Where a curve that rises from shut-off is met more than once, the
        largest flow counts: the stable side. `guess` (m3/s) only saves time.
        Raises `AirflowError` where the system never meets the curve.
        """
        curve = self.curve
        square = quadratic - self.outlet
        if guess > 0.0 and square >= 0.0:
            # From a good guess plain Newton is there in a step or two. It is
            # believed only on the last falling stretch of a system that rises, where
            # no other crossing can lie further out.
            q = guess
            for _ in range(6):
                value, slope = curve.at(q)
                steepness = slope - 2.0 * square * q - linear
                if steepness >= 0.0:
                    break
                step = (value - (square * q + linear) * q) / steepness
                q -= step
                if abs(step) <= 1e-10 * q:
                    if q >= self.crest:
                        return q
                    break
        return self._search(square, linear)

    def _search(self, square: float, linear: float) -> float:
        """Look from the largest flow down for the first stretch with a crossing."""
        curve = self.curve

        def excess(q: float) -> float:
            return curve.at(q)[0] - (square * q + linear) * q

        low, high = 0.0, self.points[-1][0]
        if excess(high) > 0.0:
            for _ in range(40):
                low, high = high, 2.0 * high
                if excess(high) <= 0.0:
                    break
            else:
                raise AirflowError(
                    "no_operating_point", "The fan curve and the system never meet"
                )
        elif found := curve.largest_crossing(square, linear):
            low, high = found
        for _ in range(60):
            middle = 0.5 * (low + high)
            if excess(middle) > 0.0:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)
