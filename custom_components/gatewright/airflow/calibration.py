"""Fitting the computed shop to the real one.

With a clean filter each machine's gates are opened in turn and the suction gauge is
read, or the flow at a port is measured. Fitted are one scale of the fan's curve (its
pressure) and one of each branch's loss, by bounded, robust least squares. What was
entered stays; the scales are kept beside it.

A gauge at the collector alone says less than there are unknowns: a fan that gives more
and branches that resist less look alike. So the entered figures count as readings of
their own, as good as such figures are, and how sure each scale is comes out with it. One
flow measured at a port settles most of that.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt
from types import MappingProxyType
from typing import Final

from .errors import require
from .fittings import HOODS
from .model import Pickup
from .network import Network, OpenGates
from .robust import fit
from .solver import solve
from .worksheet import entry_coefficient, hood_flow, hood_suction

FAN_RANGE: Final = (0.5, 1.5)
BRANCH_RANGE: Final = (0.25, 6.0)
"""Bounds of the scales. Beyond them something else is wrong: common practice."""

_FAN_FIGURE, _BRANCH_FIGURE = 0.15, 0.5
"""Standard deviations of the logarithms of what was entered (no source)."""

GAUGE_ERROR: Final = 0.02
PORT_ERROR: Final = 0.05
"""Standard deviation of a suction reading and of a flow measured at a port, as shares.
Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One reading with some gates open: the suction gauge (Pa), or a port's flow (m3/s).

    `pickup` is where a flow was measured.
    """

    gates: OpenGates
    speed: float = 1.0
    suction: float | None = None
    pickup: str = ""
    flow: float | None = None


@dataclass(frozen=True, slots=True)
class Scale:
    """A factor on what was entered, and its uncertainty (standard deviation, a share)."""

    value: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """A sample beside what is computed for it: measured, before and after the fit.

    `doubtful`: it stands out from the others and was counted less.
    """

    sample: Sample
    measured: float
    before: float
    after: float
    doubtful: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """The scales found. `branches` are by pickup; errors are shares (root mean square)."""

    fan: Scale
    branches: Mapping[str, Scale]
    samples: tuple[Compared, ...]

    @property
    def error_before(self) -> float:
        """Root mean square of measured over computed, less 1, as entered."""
        return _rms([s.measured / s.before - 1.0 for s in self.samples])

    @property
    def error_after(self) -> float:
        """The same with the scales."""
        return _rms([s.measured / s.after - 1.0 for s in self.samples])


def _rms(values: Sequence[float]) -> float:
    return sqrt(sum(v * v for v in values) / len(values)) if values else 0.0


def calibrated(network: Network, fan: float, branches: Mapping[str, float]) -> Network:
    """Return a network with the scales of a calibration; unknown parts are left out."""
    known = {name: scale for name, scale in branches.items() if name in network.index}
    return network.adjusted(fan=fan, scales=known or None)


def calibrate(network: Network, samples: Sequence[Sample]) -> Calibration:
    """Fit the fan and the branches that were open to the samples.

    The network is to have its filter clean, as it was when the samples were taken.
    Raises `AirflowError` without any sample, or for one that has no figure.
    """
    require(bool(samples), "no_reading", "There is no reading to calibrate by")
    for sample in samples:
        require(
            (sample.suction or 0.0) > 0 or (sample.flow or 0.0) > 0,
            "no_reading",
            "A reading must be above 0",
        )
    names = _branches(network, samples)

    def fitted(x: Sequence[float]) -> Network:
        scales = {name: exp(value) for name, value in zip(names, x[1:], strict=True)}
        return calibrated(network, exp(x[0]), scales)

    def residuals(x: Sequence[float]) -> list[float]:
        there = fitted(x)
        found = [
            log(_measured(sample) / _computed(there, sample)) / _error(sample)
            for sample in samples
        ]
        found.append(x[0] / _FAN_FIGURE)
        found.extend(value / _BRANCH_FIGURE for value in x[1:])
        return found

    low = [log(FAN_RANGE[0]), *[log(BRANCH_RANGE[0])] * len(names)]
    high = [log(FAN_RANGE[1]), *[log(BRANCH_RANGE[1])] * len(names)]
    answer = fit(residuals, [0.0] * (1 + len(names)), low, high)
    scales = [
        Scale(exp(value), error)
        for value, error in zip(answer.values, answer.deviations, strict=True)
    ]
    there = fitted(answer.values)
    return Calibration(
        fan=scales[0],
        branches=MappingProxyType(dict(zip(names, scales[1:], strict=True))),
        samples=tuple(
            Compared(
                sample=sample,
                measured=_measured(sample),
                before=_computed(network, sample),
                after=_computed(there, sample),
                doubtful=weight < 1.0,
            )
            for sample, weight in zip(samples, answer.weights, strict=False)
        ),
    )


def _branches(network: Network, samples: Sequence[Sample]) -> list[str]:
    """Return the pickups that draw through an open gate in any sample."""
    names: dict[str, None] = {}
    for sample in samples:
        wanted = set(sample.gates)
        for name in solve(network, sample.gates, speed=sample.speed).pickups:
            if network.gates_for(name) <= wanted:
                names.setdefault(name)
    return list(names)


def _measured(sample: Sample) -> float:
    return sample.flow if sample.flow is not None else sample.suction or 0.0


def _error(sample: Sample) -> float:
    return GAUGE_ERROR if sample.flow is None else PORT_ERROR


def _computed(network: Network, sample: Sample) -> float:
    solution = solve(network, sample.gates, speed=sample.speed)
    if sample.flow is None:
        return solution.suction
    return max(solution.flow_of(sample.pickup), 1e-9)


def flow_by_velocity(network: Network, pickup: str, velocity: float) -> float:
    """Return the flow (m3/s) of a mean velocity (m/s) measured in a pickup's port."""
    return velocity * network.element(pickup).runs[0].area


def flow_by_hood_suction(network: Network, pickup: str, suction: float) -> float:
    """Return the flow (m3/s) that a static suction (Pa) just behind a hood means.

    `Q = Ce A sqrt(2 SPh / rho)` with `Ce = 1 / sqrt(1 + Fh)` (ACGIH, Industrial
    Ventilation; the equation sheet of the American Board of Industrial Hygiene).
    """
    element = network.element(pickup)
    part = element.part
    entry_k = (
        part.entry_k if isinstance(part, Pickup) else HOODS["plain_end"].coefficient
    )
    coefficient = entry_coefficient(1.0, hood_suction(entry_k, 1.0))
    density = network.system.air.density
    return hood_flow(coefficient, element.runs[0].area, suction, density)
