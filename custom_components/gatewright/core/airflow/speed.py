"""The lowest speed at which a speed-controlled collector still does its work."""

from dataclasses import dataclass
from enum import StrEnum
from math import log
from typing import Final

from .advice import Assessment, assess
from .errors import require
from .network import Network, OpenGates
from .verdict import MARGIN, Verdict

MAX_STEPS: Final = 30


class Reason(StrEnum):
    """What keeps the speed from being lower."""

    FLOW = "flow"
    VELOCITY = "velocity"
    FLOOR = "floor"
    CEILING = "ceiling"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedAdvice:
    """A speed (ratio to the fan's rated one) and why.

    `element` is the pickup or duct that sets it, empty for the floor. `enough` is
    False where even the ceiling does not do without any margin; `verdict` says what
    the speed is worth. `power_ratio` is the shaft power over
    that at the ceiling for the same gates: from the fan's power curve if it has one,
    else from the power that the air gets (the operating points are nearly similar,
    so the efficiency is nearly the same). Losses of drive and motor are not in it.
    """

    speed: float
    reason: Reason
    element: str
    enough: bool
    verdict: Verdict
    power_ratio: float
    assessment: Assessment


def _need(assessment: Assessment, margin: float) -> tuple[float, Reason, str]:
    """Return the largest ratio of needed to present, of what and where."""
    worst = (0.0, Reason.FLOOR, "")
    for pickup in assessment.pickups:
        worst = max(
            worst, (margin * pickup.required / pickup.flow, Reason.FLOW, pickup.pickup)
        )
        if pickup.transport > 0:
            worst = max(
                worst,
                (
                    margin * pickup.transport / pickup.velocity,
                    Reason.VELOCITY,
                    pickup.pickup,
                ),
            )
    for duct in assessment.ducts:
        worst = max(
            worst,
            (margin * duct.transport / duct.velocity, Reason.VELOCITY, duct.duct),
        )
    return worst


def _power(network: Network, assessment: Assessment) -> float:
    solution = assessment.solution
    shaft = network.system.fan.shaft_power(
        solution.flow, speed=solution.speed, density=network.system.air.density
    )
    return solution.air_power if shaft is None else shaft


def lowest_speed(
    network: Network,
    open_gates: OpenGates,
    *,
    floor: float = 0.4,
    ceiling: float = 1.0,
    margin: float = MARGIN,
) -> SpeedAdvice:
    """Return the lowest speed that gives every open pickup its flow.

    And at which every duct keeps its material moving. `floor` and `ceiling` are
    speed ratios; `margin` asks for that much more of both, since the figures are not
    exact. With nothing open, or nothing asked for, it is the floor. Raises
    `AirflowError`.
    """
    require(
        0 < floor <= ceiling and margin > 0,
        "fan_speed",
        "Floor and ceiling must be positive and in that order, the margin positive",
    )
    # A trifle more than just enough, so that the answer passes its own test.
    margin *= 1.0 + 1e-5
    full = assess(network, open_gates, speed=ceiling)
    need, reason, element = _need(full, margin)
    if need > 1.0:
        # Not even full speed does, or only just.
        return SpeedAdvice(
            speed=ceiling,
            reason=Reason.CEILING,
            element=element,
            enough=need <= margin * (1.0 + 2e-5),
            verdict=full.verdict(margin),
            power_ratio=1.0,
            assessment=full,
        )
    speed, found = ceiling, full
    # Flow goes with speed to a power near 1 (up to 2 where a filter is most of the
    # loss); each step learns the power from the last one.
    power = 1.0
    for _ in range(MAX_STEPS):
        following = max(floor, speed * need ** (1.0 / power))
        if abs(following - speed) <= 1e-6 * speed:
            break
        last_speed, last_need, speed = speed, need, following
        found = assess(network, open_gates, speed=speed)
        need, reason, element = _need(found, margin)
        if need > 0:
            power = log(last_need / need) / log(speed / last_speed)
            power = min(2.5, max(0.8, power))
    if floor > speed * need:
        reason, element = Reason.FLOOR, ""
    full_power = _power(network, full)
    return SpeedAdvice(
        speed=speed,
        reason=reason,
        element=element,
        enough=True,
        verdict=found.verdict(margin) if found.pickups else Verdict.ENOUGH,
        power_ratio=_power(network, found) / full_power if full_power > 0 else 1.0,
        assessment=found,
    )
