"""Measured suction or pressure difference against the computed one.

One suction sensor in the main tells a blocked duct from a healthy one, since the fan
works further up its curve when less air gets through. Alone, and with one set of gates
open, it cannot tell a dirty filter from a weak fan or a leak: all three lower the
suction. Readings with other gates open can, and so can the filter's own gauge.

Readings are positive: suction in Pa below the room, differences in Pa.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from .causes import AirflowFinding, PressureReading
from .errors import AirflowError, require
from .network import Network, OpenGates
from .solution import Solution
from .solver import solve
from .suspects import Check, Suspect, checks, is_decided, suspects

TOLERANCE: Final = 0.15
"""Share by which a reading may be off before it means something. No published
source: a small pressure sensor and figures read off a maker's curve are worth that
much together."""

CALIBRATED: Final = 0.05
"""The same where the figures were fitted to the shop: what is left is the gauge and
the weather. Common practice, no source."""

CAUSES: Final = MappingProxyType(
    {
        AirflowFinding.AS_EXPECTED: (),
        AirflowFinding.BLOCKED: ("blocked_duct", "blocked_hood", "closed_hand_gate"),
        AirflowFinding.LEAK: ("leaking_duct", "open_access", "open_gate", "bin_seal"),
        AirflowFinding.WEAK_FAN: (
            "fan_figure",
            "slipping_belt",
            "low_speed",
            "blocked_outlet",
        ),
        AirflowFinding.STRONG_FAN: ("fan_figure",),
        AirflowFinding.FILTER_LOADED: ("dirty_filter",),
        AirflowFinding.FILTER_PASSES: ("torn_filter", "filter_seal"),
        AirflowFinding.IMPLAUSIBLE: ("sensor", "fan_data"),
        AirflowFinding.UNDECIDED: (),
    }
)
"""What usually is behind each finding, as words for a caller to translate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """Readings against what was to be expected for the gates open now.

    Ratios are measured over computed, None without that reading. `implied_flow`
    (m3/s) is the flow at which the fan would give the measured suction, None
    without one or where no flow would. `loading` is the filter's over the clean one:
    measured where there is its gauge, else that of the suspect that stands out where
    that is the filter or that all is as expected, else None. `suspects` are all causes that fit, likeliest first, and
    `checks` what would tell them apart.
    """

    solution: Solution
    suction_ratio: float | None = None
    filter_ratio: float | None = None
    flow_ratio: float | None = None
    implied_flow: float | None = None
    loading: float | None = None
    suspects: tuple[Suspect, ...]
    checks: tuple[Check, ...] = ()

    @property
    def findings(self) -> tuple[AirflowFinding, ...]:
        """What fits, likeliest first; that all is as expected stands alone."""
        found = tuple(dict.fromkeys(suspect.finding for suspect in self.suspects))
        if not found or found[0] is AirflowFinding.AS_EXPECTED:
            return (AirflowFinding.AS_EXPECTED,)
        return tuple(f for f in found if f is not AirflowFinding.AS_EXPECTED)

    @property
    def finding(self) -> AirflowFinding:
        """The one that stands out, or that the readings do not decide."""
        first = self.findings[0]
        if first is AirflowFinding.AS_EXPECTED or is_decided(self.suspects):
            return first
        return AirflowFinding.UNDECIDED

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
        pressure *= network.fan_scale
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
    before: Sequence[PressureReading] = (),
) -> Diagnosis:
    """Return what readings mean for the gates open now.

    `suction` (Pa, positive) at the collector's inlet, `filter_difference` (Pa)
    across the filter, `flow` (m3/s) through the collector; at least one. `tolerance`
    is the share by which a reading may be off. `before` are readings with other gates
    open since the shop was last changed: they tell causes apart. Raises `AirflowError`
    without any reading, with a filter reading but no filter in the system, or with no
    way open for the air.
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
    solution = solve(network, open_gates, speed=speed)
    if solution.flow <= 0:
        raise AirflowError("no_flow", "No gate is open, so there is no flow to expect")
    now = PressureReading(
        gates=open_gates,
        speed=speed,
        suction=suction,
        filter_difference=filter_difference,
        flow=flow,
    )
    readings = (*before, now)
    impossible = any(
        value is not None and value < 0 for value in (suction, filter_difference)
    )
    if impossible:
        found: tuple[Suspect, ...] = (
            Suspect(
                finding=AirflowFinding.IMPLAUSIBLE,
                size=1.0,
                likelihood=1.0,
                flow=solution.flow,
                lost=0.0,
                network=network,
            ),
        )
    else:
        found = suspects(network, readings, tolerance)
    implied = (
        None if suction is None else implied_flow(solution, suction, filter_difference)
    )
    causes = [s for s in found if s.finding is not AirflowFinding.AS_EXPECTED]
    return Diagnosis(
        solution=solution,
        suction_ratio=None if suction is None else suction / solution.suction,
        filter_ratio=(
            None
            if filter_difference is None
            else filter_difference / solution.filter_pressure
        ),
        flow_ratio=None if flow is None else flow / solution.flow,
        implied_flow=implied,
        loading=_loading(network, now, found, implied, solution),
        suspects=found,
        checks=(
            ()
            if found[0].finding is AirflowFinding.AS_EXPECTED
            else checks(network, causes, readings, tolerance)
        ),
    )


def _loading(
    network: Network,
    now: PressureReading,
    found: tuple[Suspect, ...],
    implied: float | None,
    solution: Solution,
) -> float | None:
    """Return the filter's loading over the clean one, None where nothing tells."""
    clean = system_filter(network)
    if clean <= 0:
        return None
    if now.filter_difference is not None:
        likely = (
            found[0].flow
            if found[0].finding is not AirflowFinding.IMPLAUSIBLE
            else None
        )
        at = now.flow or likely or implied or solution.flow
        return now.filter_difference / (clean * at)
    if not is_decided(found):
        return None
    if found[0].finding is AirflowFinding.FILTER_LOADED:
        return found[0].size * network.loading
    # As computed: what the filter was found loaded with before is out of it.
    expected = found[0].finding is AirflowFinding.AS_EXPECTED
    return network.loading if expected else None


def system_filter(network: Network) -> float:
    """Return the clean filter's resistance (Pa per m3/s), 0 without a filter."""
    part = network.system.filter
    return 0.0 if part is None else part.resistance
