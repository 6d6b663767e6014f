"""What a fan must do for a sized shop, and which of several curves would.

A maker's curve is the fan static pressure by flow: the rise of total pressure less the
velocity pressure at the outlet (see `fan`). In a collector that blows into its own
filter that velocity pressure is lost in the housing; then the rise that the ducts,
separator and filter need is what the curve has to show, and so it is given here. What
the ducts alone need at the collector's inlet is the suction.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from ..fan import Fan
from ..network import Network
from ..verdict import Verdict, verdict
from .outcome import SetOutcome, outcome
from .problem import OperatingSet, Rules


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyPoint:
    """At `flow` (m3/s) the curve must show at least `pressure` (Pa).

    `suction` (Pa): what of it is static at the collector's inlet. `governs`: whether
    no other point asks for more pressure at more flow.
    """

    name: str
    flow: float
    pressure: float
    suction: float
    governs: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FanVerdict:
    """What a fan does for the sized shop: the worst set and how it fares there.

    `stalled` are the sets in which it works left of its peak.
    """

    name: str
    ratio: float
    verdict: Verdict
    worst: str
    stalled: tuple[str, ...]


def duty_points(outcomes: Iterable[SetOutcome]) -> tuple[DutyPoint, ...]:
    """Return the duty at each set, by flow."""
    found = sorted(outcomes, key=lambda one: one.flow)
    return tuple(
        DutyPoint(
            name=one.name,
            flow=one.flow,
            pressure=one.pressure,
            suction=one.suction,
            governs=not any(
                other.flow >= one.flow and other.pressure >= one.pressure
                for other in found
                if other is not one
            ),
        )
        for one in found
    )


def try_fans(
    network: Network,
    sets: Iterable[tuple[OperatingSet, str]],
    rules: Rules,
    fans: Mapping[str, Fan],
) -> tuple[FanVerdict, ...]:
    """Return how each fan does; `sets` are named with the bleed gate of each.

    Raises `AirflowError`.
    """
    opened = tuple(sets)
    found: list[FanVerdict] = []
    for name, fan in fans.items():
        with_fan = Network(replace(network.system, fan=fan))
        outcomes = [
            outcome(with_fan, one, bleed, replace(rules, fan=True, balanced=False))
            for one, bleed in opened
        ]
        worst = min(outcomes, key=lambda one: one.ratio)
        found.append(
            FanVerdict(
                name=name,
                ratio=worst.ratio,
                verdict=verdict(worst.ratio, rules.margin),
                worst=worst.name,
                stalled=tuple(one.name for one in outcomes if one.stalled),
            )
        )
    return tuple(found)
