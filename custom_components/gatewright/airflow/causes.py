"""Each thing that may be wrong with a shop, by one figure, and that figure fitted."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import exp, log
from typing import Final

from .errors import AirflowError
from .fittings import ORIFICE_DISCHARGE
from .gate import Gate
from .model import Pickup
from .network import Network, OpenGates
from .solution import Solution
from .solver import solve


class Finding(StrEnum):
    """What a difference looks like."""

    AS_EXPECTED = "as_expected"
    FILTER_LOADED = "filter_loaded"
    BLOCKED = "blocked"
    WEAK_FAN = "weak_fan"
    STRONG_FAN = "strong_fan"
    LEAK = "leak"
    FILTER_PASSES = "filter_passes"
    IMPLAUSIBLE = "implausible"
    UNDECIDED = "undecided"


USUAL: Final = {
    Finding.AS_EXPECTED: 3.0,
    Finding.FILTER_LOADED: 0.35,
    Finding.BLOCKED: 0.25,
    Finding.WEAK_FAN: 0.25,
    Finding.STRONG_FAN: 0.15,
    Finding.LEAK: 0.2,
    Finding.FILTER_PASSES: 0.05,
    Finding.IMPLAUSIBLE: 0.05,
}
"""How usual each is; those with a figure to fit are marked down for that."""

_COMMON, _SCATTER = 0.5, 0.2
"""Of the tolerance: what all readings of a gauge are off alike, and each by itself."""

_HOLE: Final = "\0hole"
_LARGE_HOLE: Final = 0.03
"""m2 from which a hole would have been noticed, an open 8 in pipe: common practice."""

_STEPS: Final = 14
_GRID: Final = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What was read with some gates open, at a speed of the fan.

    `suction` (Pa, positive) at the collector's inlet, `filter_difference` (Pa) across
    the filter, `flow` (m3/s) through the collector; None where it was not read.
    """

    gates: OpenGates
    speed: float = 1.0
    suction: float | None = None
    filter_difference: float | None = None
    flow: float | None = None


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that may be wrong: the shop with it, by the logarithm of its figure."""

    finding: Finding
    element: str
    low: float
    high: float
    apply: Callable[[float], Network]
    usual: float
    spread: float
    gauge: bool = False


def with_hole_open(network: Network, gates: OpenGates) -> OpenGates:
    """Return the open gates, and the hole where the network has one."""
    if _HOLE not in network.index:
        return gates
    if isinstance(gates, dict):
        return {**gates, _HOLE: 1.0}
    return frozenset(gates) | {_HOLE}


def causes_of(network: Network, readings: Sequence[Reading]) -> list[Cause]:
    """Return everything that may be wrong, as far as the readings could show it."""
    causes: list[Cause] = []
    base = network.loading

    def add(
        finding: Finding,
        low: float,
        high: float,
        apply: Callable[[float], Network],
        *,
        spread: float,
        element: str = "",
        share: float = 1.0,
        gauge: bool = False,
    ) -> None:
        usual = USUAL[finding] * share
        causes.append(
            Cause(finding, element, log(low), log(high), apply, usual, spread, gauge)
        )

    if network.filter > 0:

        def loaded(x: float) -> Network:
            return network.adjusted(loading=base * exp(x))

        add(Finding.FILTER_LOADED, 1.0, 20.0, loaded, spread=1.5)
        add(Finding.FILTER_PASSES, 0.05, 1.0, loaded, spread=1.0)

    def fan(x: float) -> Network:
        return network.adjusted(fan=network.fan_scale * exp(x))

    def slow(x: float) -> Network:
        return network.adjusted(speed=network.speed_scale * exp(x))

    # A figure that promises too much, or a belt that slips: all of its curve is lower,
    # or it is that of a lower speed.
    add(Finding.WEAK_FAN, 0.3, 1.0, fan, spread=0.35, share=0.7)
    add(Finding.WEAK_FAN, 0.5, 1.0, slow, spread=0.35, share=0.3)
    add(Finding.STRONG_FAN, 1.0, 1.6, fan, spread=0.2)
    holed = _with_hole(network)
    area = holed.element(_HOLE).runs[0].area
    pressure = holed.element(_HOLE).pressure

    def leak(x: float) -> Network:
        ratio = area / (ORIFICE_DISCHARGE * exp(x))
        return holed.adjusted(extra={_HOLE: pressure * ratio * ratio})

    add(Finding.LEAK, 2e-5, 0.06, leak, spread=3.0)
    open_now: list[str] = []
    for reading in reversed(readings):
        solution = solve(network, reading.gates, speed=reading.speed)
        open_now += [name for name in solution.pickups if name not in open_now]
    usable = [name for name in open_now if _reach(network, name, readings)]
    places = [*usable, *(network.elements[root].id for root in network.roots)]
    for name in places:
        element = network.element(name)

        def blocked(
            x: float, name: str = name, unit: float = element.pressure
        ) -> Network:
            return network.adjusted(extra={name: unit * exp(x)})

        share = 0.75 / max(1, len(usable)) if name in usable else 0.25
        add(Finding.BLOCKED, 0.05, 1e3, blocked, spread=4.0, element=name, share=share)
    add(Finding.IMPLAUSIBLE, 0.3, 3.0, lambda _: network, spread=0.3, gauge=True)
    return causes


def _reach(network: Network, name: str, readings: Sequence[Reading]) -> bool:
    """Whether a pickup's gates are open in any reading."""
    needed = network.gates_for(name)
    return any(needed <= set(reading.gates) for reading in readings)


def _with_hole(network: Network) -> Network:
    """Return the network with a hole in the first duct that reaches the collector."""
    root = network.elements[network.roots[0]].id
    hole = Pickup(id=_HOLE, duct=root, entry_k=0.0, gate=Gate(id=_HOLE, allowance=0.0))
    system = network.system
    holed = Network(replace(system, pickups=(*system.pickups, hole)))
    scales = network.scales
    return holed.adjusted(
        fan=network.fan_scale,
        speed=network.speed_scale,
        loading=network.loading if network.filter else None,
        scales=None
        if scales is None
        else {e.id: scales[e.index] for e in network.elements},
        extra=None
        if scales is None
        else {e.id: network.extra[e.index] for e in network.elements},
    )


def fitted(
    cause: Cause, readings: Sequence[Reading], tolerance: float
) -> tuple[float, float]:
    """Return the logarithm of the figure that explains the readings best, and the cost."""

    def cost(x: float) -> float:
        network = cause.apply(x)
        shift = x if cause.gauge else 0.0
        return _unusual(cause, x) + misfit(network, readings, tolerance, shift)

    if cause.low == cause.high:
        return cause.low, cost(cause.low)
    step = (cause.high - cause.low) / (_GRID - 1)
    grid = [(cost(cause.low + i * step), cause.low + i * step) for i in range(_GRID)]
    _, at = min(grid)
    low, high = max(cause.low, at - step), min(cause.high, at + step)
    # Golden section.
    ratio = 0.6180339887498949
    a, b = high - ratio * (high - low), low + ratio * (high - low)
    at_a, at_b = cost(a), cost(b)
    for _ in range(_STEPS):
        if at_a < at_b:
            high, b, at_b = b, a, at_a
            a = high - ratio * (high - low)
            at_a = cost(a)
        else:
            low, a, at_a = a, b, at_b
            b = low + ratio * (high - low)
            at_b = cost(b)
    best, at = min((at_a, a), (at_b, b), *grid)
    return at, best


def _unusual(cause: Cause, x: float) -> float:
    """Return what a figure costs for being large: ratios, and holes beyond a hand's."""
    if cause.finding is Finding.LEAK:
        return max(0.0, (x - log(_LARGE_HOLE)) / 0.5) ** 2
    return 0.0 if cause.finding is Finding.BLOCKED else (x / cause.spread) ** 2


def misfit(
    network: Network,
    readings: Sequence[Reading],
    tolerance: float,
    shift: float = 0.0,
) -> float:
    """Return how far readings are from what is computed, in squares of what is usual.

    Logarithms of ratios: each reading has an error of its own, and all of one gauge a
    common one. `shift` is the logarithm by which the suction gauge is off. A reading
    that is far off counts in proportion only, not with its square.
    """
    logs: dict[str, list[float]] = {}
    for reading in readings:
        try:
            solution = solve(
                network, with_hole_open(network, reading.gates), speed=reading.speed
            )
        except AirflowError:
            continue
        for name, ratio in _ratios(solution, reading).items():
            own = shift if name == "suction" else 0.0
            logs.setdefault(name, []).append(ratio - own)
    scatter, common = _SCATTER * tolerance, _COMMON * tolerance
    total = 0.0
    for values in logs.values():
        bias = sum(values) / (len(values) + (scatter / common) ** 2)
        total += (bias / common) ** 2
        total += sum(_huber((value - bias) / scatter) for value in values)
    return total


def _huber(error: float) -> float:
    """Return the square of an error, from three on only in proportion (P. J. Huber)."""
    size = abs(error)
    return size * size if size <= 3.0 else 6.0 * size - 9.0


def _ratios(solution: Solution, reading: Reading) -> dict[str, float]:
    """Return the logarithms of measured over computed."""
    pairs = {
        "suction": (reading.suction, solution.suction),
        "filter": (reading.filter_difference, solution.filter_pressure),
        "flow": (reading.flow, solution.flow),
    }
    return {
        name: log(max(measured, 1e-3) / max(computed, 1e-3))
        for name, (measured, computed) in pairs.items()
        if measured is not None
    }
