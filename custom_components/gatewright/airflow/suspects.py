"""What may be behind readings that are not as computed: each cause fitted, and ranked.

Every suspect is the shop with one thing wrong, by one figure: how dirty the filter is,
how much less the fan gives, how large the hole, how much a branch is blocked. The
figure is fitted to all readings at once, those of other gates included, and the
suspects are ranked by how well they then explain what was read and how usual they
are. Where two explain it alike, what would tell them apart is found by computing both.

How usual each cause is, and how far off a gauge and the entered figures are, is common
practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import exp, log
from typing import Final

from .advice import open_pickups
from .causes import (
    USUAL,
    Cause,
    Finding,
    Reading,
    causes_of,
    fitted,
    with_hole_open,
)
from .network import Network
from .solution import Solution
from .solver import solve

_CLEAR: Final = 3.0
"""How many times likelier than the next the first suspect is where it is decided."""

_FITS: Final = 0.1
"""Share of the first suspect's likelihood from which another is still named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A cause that explains the readings.

    `element` is the pickup or duct that is blocked, else empty. `size` is the filter's
    loading, the fan's pressure or the gauge's reading over the expected, the hole's
    area (m2), or the blockage as resistance (Pa per (m3/s)^2). `likelihood` is among
    all that were looked at. `flow` (m3/s) is what the collector then moves with the
    gates of the last reading, `lost` the share of its flow that the open pickups lack.
    """

    finding: Finding
    element: str = ""
    size: float
    likelihood: float
    flow: float
    lost: float
    network: Network


class CheckKind(StrEnum):
    """What tells suspects apart."""

    CLEAN_FILTER = "clean_filter"
    OPEN_GATES = "open_gates"
    READ_PORT = "read_port"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """Something to do, and what the gauge or the port then reads for each suspect.

    `gates` are to be open, alone; `pickup` is where a flow is to be read. `expected`
    is suction (Pa), or flow (m3/s) at a port, in the order of the suspects.
    """

    kind: CheckKind
    gates: frozenset[str] = frozenset()
    pickup: str = ""
    expected: tuple[float, ...] = ()


def suspects(
    network: Network, readings: Sequence[Reading], tolerance: float
) -> tuple[Suspect, ...]:
    """Return what explains the readings, likeliest first.

    The last reading is that of the gates open now. Those that explain the readings
    hardly at all are left out.
    """
    now = readings[-1]
    served = open_pickups(network, now.gates)
    expected = _drawn(solve(network, now.gates, speed=now.speed), served)
    plain = Cause(
        Finding.AS_EXPECTED,
        "",
        0.0,
        0.0,
        lambda _: network,
        USUAL[Finding.AS_EXPECTED],
        1.0,
    )
    causes = (plain, *causes_of(network, readings))
    fits = [(cause, *fitted(cause, readings, tolerance)) for cause in causes]
    least = min(cost for _, _, cost in fits)
    found = [
        (cause.usual * exp(0.5 * (least - cost)), cause, size, cause.apply(size))
        for cause, size, cost in fits
    ]
    found = _one_of_each(found)
    whole = sum(weight for weight, *_ in found) or 1.0
    best = max(weight for weight, *_ in found)
    answer = []
    for weight, cause, size, wrong in sorted(found, key=lambda f: -f[0]):
        if weight < _FITS * best:
            break
        there = solve(wrong, with_hole_open(wrong, now.gates), speed=now.speed)
        answer.append(
            Suspect(
                finding=cause.finding,
                element=cause.element,
                size=exp(size),
                likelihood=weight / whole,
                flow=there.flow,
                lost=1.0 - _drawn(there, served) / expected,
                network=wrong,
            )
        )
    return tuple(answer)


def _one_of_each(
    found: list[tuple[float, Cause, float, Network]],
) -> list[tuple[float, Cause, float, Network]]:
    """Join what is the same cause by another figure: the likelier one stands for both."""
    joined: dict[tuple[Finding, str], tuple[float, Cause, float, Network]] = {}
    for one in sorted(found, key=lambda f: -f[0]):
        key = (one[1].finding, one[1].element)
        if (other := joined.get(key)) is None:
            joined[key] = one
        else:
            joined[key] = (other[0] + one[0], *other[1:])
    return list(joined.values())


def _drawn(solution: Solution, pickups: Sequence[str]) -> float:
    """Return what open pickups draw together (m3/s)."""
    return sum(solution.flow_of(name) for name in pickups) or 1e-9


def is_decided(found: Sequence[Suspect]) -> bool:
    """Whether the first suspect stands out from the others."""
    others = [s.likelihood for s in found if s.finding is not found[0].finding]
    return not others or found[0].likelihood >= _CLEAR * others[0]


def checks(
    network: Network,
    found: Sequence[Suspect],
    readings: Sequence[Reading],
    tolerance: float,
) -> tuple[Check, ...]:
    """Return what would tell the first suspects apart, most telling first."""
    rivals = list(found[:3])
    if len(rivals) < 2:
        return ()
    answer: list[Check] = []
    gauged = any(reading.filter_difference is not None for reading in readings)
    if not gauged and any(s.finding is Finding.FILTER_LOADED for s in rivals):
        answer.append(Check(kind=CheckKind.CLEAN_FILTER))
    known = {frozenset(reading.gates) for reading in readings}
    best: tuple[float, Check] | None = None
    for element in network.elements[: network.pickup_count]:
        gates = network.gates_for(element.id)
        if not gates or gates in known:
            continue
        expected = tuple(
            solve(s.network, with_hole_open(s.network, gates)).suction * _gauge(s)
            for s in rivals
        )
        apart = abs(log(expected[0] / expected[1]))
        if apart > 0.3 * tolerance and (best is None or apart > best[0]):
            check = Check(kind=CheckKind.OPEN_GATES, gates=gates, expected=expected)
            best = apart, check
    if best is not None:
        answer.append(best[1])
    now = readings[-1]
    flows: list[tuple[float, str, tuple[float, ...]]] = []
    for name in solve(network, now.gates, speed=now.speed).pickups:
        expected = tuple(
            solve(
                s.network, with_hole_open(s.network, now.gates), speed=now.speed
            ).flow_of(name)
            for s in rivals
        )
        if min(expected) > 0:
            flows.append((abs(log(expected[0] / expected[1])), name, expected))
    if flows:
        apart, name, expected = max(flows)
        if apart > 0.3 * tolerance:
            answer.append(
                Check(kind=CheckKind.READ_PORT, pickup=name, expected=expected)
            )
    return tuple(answer)


def _gauge(suspect: Suspect) -> float:
    return suspect.size if suspect.finding is Finding.IMPLAUSIBLE else 1.0
