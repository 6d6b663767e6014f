"""The fan's curve with the system curves of the machines, as SVG.

Where a machine's curve meets the fan's is what it gets. Left of the fan's highest point
it may surge: shaded. A tick on each system curve is the flow below which material
settles somewhere on that machine's way.
"""

from collections.abc import Mapping
from html import escape
from math import ceil, log10
from typing import Any, Final

from .report_words import Line, Words
from .units import AirUnits

type Data = Mapping[str, Any]

_WIDTH, _HEIGHT = 700.0, 330.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 58.0, 150.0, 14.0, 40.0
_STEPS: Final = 24
_DASHES: Final = ("", "7 4", "2 3", "10 3 2 3", "4 2 1 2")
_GAP: Final = 13.0


def plot(data: Data, units: AirUnits, words: Words) -> str:
    """Return the plot of an assessment."""
    fan = data["fan"]
    most_flow = max(q for q, _ in fan["curve"]) * 1.02
    most = max(p for key in ("curve", "entered") for _, p in fan[key]) * 1.12
    frame = _Frame(most_flow, most)
    parts = [
        f'<svg class="plot" viewBox="0 0 {_WIDTH:.0f} {_HEIGHT:.0f}" role="img" '
        f'aria-label="{words.html(Line.FAN_PLOT)}">'
    ]
    if fan["surge_below"] > 0:
        width = frame.x(fan["surge_below"]) - _LEFT
        parts.append(
            f'<rect class="surge" x="{_LEFT:.1f}" y="{_TOP:.1f}" width="{width:.1f}" '
            f'height="{_HEIGHT - _TOP - _BOTTOM:.1f}"/>'
            f'<text x="{_LEFT + 4:.0f}" y="{_HEIGHT - _BOTTOM - 6:.0f}">'
            f"{words.html(Line.MAY_SURGE_HERE)}</text>"
        )
    parts += _axes(frame, units, words)
    if data["calibration"] is not None:
        parts.append(frame.line(fan["entered"], "fan entered"))
    parts.append(frame.line(fan["curve"], "fan"))
    parts += _systems(data, frame, words)
    return "".join((*parts, "</svg>"))


class _Frame:
    """From flows (m3/s) and pressures (Pa) to places on the page."""

    def __init__(self, flow: float, pressure: float) -> None:
        self.flow, self.pressure = flow, pressure

    def x(self, flow: float) -> float:
        return _LEFT + (_WIDTH - _LEFT - _RIGHT) * flow / self.flow

    def y(self, pressure: float) -> float:
        share = max(0.0, min(1.0, pressure / self.pressure))
        return _HEIGHT - _BOTTOM - (_HEIGHT - _TOP - _BOTTOM) * share

    def line(self, points: Any, name: str, dash: str = "") -> str:
        path = " ".join(
            f"{'L' if number else 'M'}{self.x(q):.1f} {self.y(p):.1f}"
            for number, (q, p) in enumerate(points)
        )
        style = f' stroke-dasharray="{dash}"' if dash else ""
        return f'<path class="{name}"{style} d="{path}"/>'


def _round_step(most: float) -> float:
    """Return a step of 1, 2 or 5 times a power of ten that divides a range in about five."""
    raw = most / 5.0
    power = 10.0 ** ceil(log10(raw) - 1.0)
    return next((m * power for m in (1, 2, 5) if m * power >= raw), 10 * power)


def _axes(frame: _Frame, units: AirUnits, words: Words) -> list[str]:
    parts = []
    bottom = _HEIGHT - _BOTTOM
    step = _round_step(frame.flow / units.flow.size)
    at = 0.0
    while at * units.flow.size <= frame.flow:
        x = frame.x(at * units.flow.size)
        parts.append(
            f'<path class="grid" d="M{x:.1f} {_TOP:.0f} V{bottom:.0f}"/>'
            f'<text x="{x:.1f}" y="{bottom + 14:.0f}" text-anchor="middle">{at:g}</text>'
        )
        at += step
    step = _round_step(frame.pressure / units.pressure.size)
    at = 0.0
    while at * units.pressure.size <= frame.pressure:
        y = frame.y(at * units.pressure.size)
        parts.append(
            f'<path class="grid" d="M{_LEFT:.0f} {y:.1f} H{_WIDTH - _RIGHT:.0f}"/>'
            f'<text x="{_LEFT - 5:.0f}" y="{y + 4:.1f}" text-anchor="end">{at:g}</text>'
        )
        at += step
    parts.append(
        f'<text x="{_WIDTH - _RIGHT:.0f}" y="{bottom + 30:.0f}" text-anchor="end">'
        f"{words.html(Line.FLOW_AXIS, unit=units.flow.sign)}</text>"
        f'<text transform="translate(11 {bottom:.0f}) rotate(-90)">'
        f"{words.html(Line.PRESSURE_AXIS, unit=units.pressure.sign)}</text>"
    )
    return parts


def _systems(data: Data, frame: _Frame, words: Words) -> list[str]:
    """Return each machine's curve, the point where it meets the fan, and its name."""
    parts: list[str] = []
    labels: list[tuple[float, float, str, str]] = []
    for number, machine in enumerate(data["machines"]):
        flow, pressure = machine["flow_at_fan"], machine["fan_pressure"]
        if flow <= 0:
            continue
        dash = _DASHES[number % len(_DASHES)]
        # The filter's part goes with the flow, the rest with its square.
        linear = machine["filter_pressure"]
        square = pressure - linear
        limit = machine["transport_flow"]
        reach = min(frame.flow, max(1.08 * flow, 1.03 * limit))
        points = [
            (q, square * (q / flow) ** 2 + linear * q / flow)
            for q in (reach * step / _STEPS for step in range(_STEPS + 1))
        ]
        parts.append(frame.line(points, "system", dash))
        if 0 < limit <= reach:
            there = square * (limit / flow) ** 2 + linear * limit / flow
            x, y = frame.x(limit), frame.y(there)
            parts.append(f'<path class="limit" d="M{x:.1f} {y - 7:.1f} V{y + 7:.1f}"/>')
        name = str(machine["set_verdict"])
        x, y = frame.x(flow), frame.y(pressure)
        parts.append(
            f'<circle class="point {name}" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>'
        )
        labels.append((y, x, machine["name"], name))
    # The names stand in a column at the right, in the order of their points.
    free = _TOP + 8
    for y, x, name, verdict in sorted(labels):
        at = max(y + 4, free)
        free = at + _GAP
        parts.append(
            f'<path class="leader" d="M{x + 5:.1f} {y:.1f} L{_WIDTH - _RIGHT + 4:.0f} '
            f'{at - 4:.1f}"/><text class="{verdict}" x="{_WIDTH - _RIGHT + 7:.0f}" '
            f'y="{at:.1f}">{escape(name)}</text>'
        )
    return parts
