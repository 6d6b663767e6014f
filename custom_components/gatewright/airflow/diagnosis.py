"""A measured suction or pressure difference against the computed one.

One suction sensor in the main tells a blocked duct from a healthy one, since the
fan works further up its curve when less air gets through. It cannot tell a leak
from a weak fan: both lower the suction. A second reading decides: the flow, or the
pressure difference across the filter, which falls with the flow.

Readings are positive: suction in Pa below the room, differences in Pa.
"""

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from .errors import AirflowError, require
from .network import Network, OpenGates
from .solution import Solution

TOLERANCE: Final = 0.15
"""Share by which a reading may be off before it means something. No published
source: a small pressure sensor and figures read off a maker's curve are worth that
much together."""


class Finding(StrEnum):
    """What a difference looks like."""

    AS_EXPECTED = "as_expected"
    BLOCKED = "blocked"
    LEAK = "leak"
    WEAK_FAN = "weak_fan"
    FILTER_LOADED = "filter_loaded"
    FILTER_PASSES = "filter_passes"
    IMPLAUSIBLE = "implausible"


CAUSES: Final = MappingProxyType(
    {
        Finding.AS_EXPECTED: (),
        Finding.BLOCKED: ("blocked_duct", "blocked_hood", "closed_hand_gate"),
        Finding.LEAK: ("leaking_duct", "open_access", "open_gate", "bin_seal"),
        Finding.WEAK_FAN: ("slipping_belt", "low_speed", "blocked_outlet"),
        Finding.FILTER_LOADED: ("dirty_filter",),
        Finding.FILTER_PASSES: ("torn_filter", "filter_seal"),
        Finding.IMPLAUSIBLE: ("sensor", "fan_data"),
    }
)
"""What usually is behind each finding, as words for a caller to translate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """Readings against what was to be expected for the gates open now.

    Ratios are measured over computed, None without that reading. `implied_flow`
    (m3/s) is the flow at which the fan would give the measured suction, None
    without one or where no flow would. `loading` is the filter's, at the measured
    or implied or expected flow. `findings` has more than one entry where the
    readings do not decide between them.
    """

    solution: Solution
    suction_ratio: float | None = None
    filter_ratio: float | None = None
    flow_ratio: float | None = None
    implied_flow: float | None = None
    loading: float | None = None
    findings: tuple[Finding, ...]

    @property
    def causes(self) -> tuple[str, ...]:
        """What may be behind the findings, likeliest group first."""
        return tuple(cause for found in self.findings for cause in CAUSES[found])


def implied_flow(
    solution: Solution, suction: float, filter_difference: float | None = None
) -> float | None:
    """Return the flow (m3/s) at which the collector gives a suction (Pa) at its inlet.

    The fan on its curve, the separator and what is behind the fan as known, the
    filter as measured where `filter_difference` (Pa) is given. None for a suction
    that the fan gives at no flow right of its highest point.
    """
    network = solution.network
    system = network.system
    speed = solution.speed
    # What the gauge sees more of than the fan, and a disturbed inlet's loss before it.
    at_inlet = solution.inlet_velocity_pressure / solution.flow**2
    at_inlet *= 1.0 - system.inlet_k

    def given(q: float) -> float:
        pressure = system.fan.pressure(q, speed=speed, density=system.air.density)
        behind = network.separator + network.behind(q) - at_inlet
        through = network.filter * q if filter_difference is None else filter_difference
        return pressure - behind * q * q - through

    low = max(system.fan.crest * speed, 1e-9)
    high = system.fan.free_flow * speed * 2.0
    if not given(low) >= suction >= given(high):
        return None
    for _ in range(60):
        middle = 0.5 * (low + high)
        if given(middle) > suction:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def diagnose(
    network: Network,
    open_gates: OpenGates,
    *,
    suction: float | None = None,
    filter_difference: float | None = None,
    flow: float | None = None,
    speed: float = 1.0,
    tolerance: float = TOLERANCE,
) -> Diagnosis:
    """Return what readings mean for the gates open now.

    `suction` (Pa, positive) at the collector's inlet, `filter_difference` (Pa)
    across the filter, `flow` (m3/s) through the collector; at least one. `tolerance`
    is the share by which a reading may be off. Raises `AirflowError` without any
    reading, with a filter reading but no filter in the system, or with no way open
    for the air.
    """
    require(
        not (suction is None and filter_difference is None and flow is None),
        "no_reading",
        "There is no reading to compare",
    )
    require(
        filter_difference is None or network.filter > 0,
        "no_filter",
        "A difference across the filter needs a filter",
    )
    solution = network.solve(open_gates, speed=speed)
    if solution.flow <= 0:
        raise AirflowError("no_flow", "No gate is open, so there is no flow to expect")
    by_suction = None if suction is None else suction / solution.suction
    by_filter = (
        None
        if filter_difference is None
        else filter_difference / solution.filter_pressure
    )
    by_flow = None if flow is None else flow / solution.flow
    implied = (
        None if suction is None else implied_flow(solution, suction, filter_difference)
    )
    loading: float | None = None
    if filter_difference is not None and system_filter(network) > 0:
        at = flow or implied or solution.flow
        loading = filter_difference / (system_filter(network) * at)
    return Diagnosis(
        solution=solution,
        suction_ratio=by_suction,
        filter_ratio=by_filter,
        flow_ratio=by_flow,
        implied_flow=implied,
        loading=loading,
        findings=_findings(
            by_suction,
            by_filter,
            by_flow,
            None if implied is None else implied / solution.flow,
            tolerance,
        ),
    )


def system_filter(network: Network) -> float:
    """Return the clean filter's resistance (Pa per m3/s), 0 without a filter."""
    part = network.system.filter
    return 0.0 if part is None else part.resistance


def _side(ratio: float | None, tolerance: float) -> int | None:
    """Return -1 for low, 0 for as expected, 1 for high, None without a reading."""
    if ratio is None:
        return None
    return (ratio > 1.0 + tolerance) - (ratio < 1.0 - tolerance)


def _findings(
    by_suction: float | None,
    by_filter: float | None,
    by_flow: float | None,
    by_curve: float | None,
    tolerance: float,
) -> tuple[Finding, ...]:
    """Read the ratios together; `by_curve` is the implied flow over the expected."""
    if any(ratio is not None and ratio < 0 for ratio in (by_suction, by_filter)):
        return (Finding.IMPLAUSIBLE,)
    suction = _side(by_suction, tolerance)
    moved = _side(by_flow, tolerance)
    # A filter's difference only speaks of the filter against the flow it has.
    per_flow: int | None = None
    if by_filter is not None:
        per_flow = _side(by_filter / (by_flow or by_curve or 1.0), tolerance)
    found: list[Finding] = []
    if per_flow == 1:
        found.append(Finding.FILTER_LOADED)
    if suction == 1:
        # Suction and flow cannot both be above what the fan gives.
        found.append(Finding.IMPLAUSIBLE if moved == 1 else Finding.BLOCKED)
    elif suction == -1 and not found:
        if moved is not None:
            found.append(Finding.WEAK_FAN if moved == -1 else Finding.LEAK)
        elif per_flow is not None:
            # A sound fan at that suction would move more, and the filter show it.
            found.append(Finding.WEAK_FAN if per_flow == -1 else Finding.LEAK)
        else:
            found.extend((Finding.LEAK, Finding.WEAK_FAN))
    elif suction == 0 and per_flow == -1:
        found.append(Finding.FILTER_PASSES)
    elif suction is None and not found:
        found.extend(_without_suction(moved, per_flow, by_flow is not None))
    return tuple(found) or (Finding.AS_EXPECTED,)


def _without_suction(
    moved: int | None, per_flow: int | None, flow_known: bool
) -> list[Finding]:
    """Read the flow or the filter alone."""
    if moved == 1:
        return [Finding.LEAK]
    if moved == -1:
        return [Finding.BLOCKED, Finding.WEAK_FAN]
    if per_flow == -1:
        if flow_known:
            return [Finding.FILTER_PASSES]
        return [Finding.BLOCKED, Finding.WEAK_FAN, Finding.FILTER_PASSES]
    return []
