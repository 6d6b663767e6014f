"""The fan curve and the machines' system curves, as drawing coordinates.

A machine's curve meets the fan's at its operating point. Left of the fan's peak it may
surge: shaded. A tick on each system curve marks the flow below which material settles
somewhere on that machine's path.
"""

from collections.abc import Iterator
from itertools import count, takewhile
from math import ceil, log10
from typing import Any, Final

from .data import Data
from .units import AirUnits, Unit

_WIDTH, _HEIGHT = 700, 330
_LEFT, _RIGHT, _TOP, _BOTTOM = 58, 550, 14, 290
_STEPS: Final = 24
_DASHES: Final = ("", "7 4", "2 3", "10 3 2 3", "4 2 1 2")
_GAP: Final = 13.0


def plot(data: Data, units: AirUnits) -> Data:
    """Return the elements of an assessment's plot, in its own coordinates."""
    fan = data["fan"]
    frame = _Frame(
        flow=max(q for q, _ in fan["curve"]) * 1.02,
        pressure=max(p for key in ("curve", "entered") for _, p in fan[key]) * 1.12,
    )
    surge = fan["surge_below"]
    calibrated = data["calibration"] is not None
    systems = list(_systems(data, frame))
    return {
        "width": _WIDTH,
        "height": _HEIGHT,
        "left": _LEFT,
        "right": _RIGHT,
        "top": _TOP,
        "bottom": _BOTTOM,
        "surge": round(frame.x(surge) - _LEFT, 1) if surge > 0 else 0,
        "flows": [(frame.x(q), text) for q, text in _ticks(frame.flow, units.flow)],
        "pressures": [
            (frame.y(p), text) for p, text in _ticks(frame.pressure, units.pressure)
        ],
        "fan": frame.path(fan["curve"]),
        "entered": frame.path(fan["entered"]) if calibrated else "",
        "systems": systems,
        "names": list(_names(systems)),
    }


class _Frame:
    """Maps flows (m3/s) and pressures (Pa) to drawing coordinates."""

    def __init__(self, flow: float, pressure: float) -> None:
        self.flow, self.pressure = flow, pressure

    def x(self, flow: float) -> float:
        return round(_LEFT + (_RIGHT - _LEFT) * flow / self.flow, 1)

    def y(self, pressure: float) -> float:
        share = max(0.0, min(1.0, pressure / self.pressure))
        return round(_BOTTOM - (_BOTTOM - _TOP) * share, 1)

    def path(self, points: Any) -> str:
        return "M" + " L".join(f"{self.x(q)} {self.y(p)}" for q, p in points)


def _ticks(most: float, unit: Unit) -> Iterator[tuple[float, str]]:
    """Yield SI values up to the maximum at round steps of a unit, with their texts."""
    step = _round_step(most / unit.size)
    steps = takewhile(lambda at: at * unit.size <= most, (n * step for n in count()))
    return ((at * unit.size, f"{at:g}") for at in steps)


def _round_step(most: float) -> float:
    """Return a step of 1, 2 or 5 times a power of ten, for about five divisions."""
    raw = most / 5.0
    power = 10.0 ** ceil(log10(raw) - 1.0)
    return next((m * power for m in (1, 2, 5) if m * power >= raw), 10 * power)


def _systems(data: Data, frame: _Frame) -> Iterator[Data]:
    """Yield each machine's curve, and its operating point."""
    for number, machine in enumerate(data["machines"]):
        flow, pressure = machine["flow_at_fan"], machine["fan_pressure"]
        if flow <= 0:
            continue
        # The filter's part is proportional to the flow, the rest to its square.
        linear = machine["filter_pressure"]
        square = pressure - linear

        def at(
            q: float, *, s: float = square, n: float = linear, f: float = flow
        ) -> Any:
            return q, s * (q / f) ** 2 + n * q / f

        limit = machine["transport_flow"]
        reach = min(frame.flow, max(1.08 * flow, 1.03 * limit))
        yield {
            "machine": machine["name"],
            "verdict": str(machine["set_verdict"]),
            "dash": _DASHES[number % len(_DASHES)],
            "curve": frame.path(at(reach * n / _STEPS) for n in range(_STEPS + 1)),
            "limit": (frame.x(limit), frame.y(at(limit)[1]))
            if 0 < limit <= reach
            else None,
            "x": frame.x(flow),
            "y": frame.y(pressure),
        }


def _names(systems: list[Data]) -> Iterator[Data]:
    """Yield the machines in a column at the right, in the order of their points."""
    free = _TOP + 8.0
    for system in sorted(systems, key=lambda one: (one["y"], one["x"], one["machine"])):
        at = round(max(system["y"] + 4, free), 1)
        free = at + _GAP
        yield {**system, "at": at}
