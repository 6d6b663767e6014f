"""Bleed gates: which to open beside those wanted, so that the main keeps its velocity."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from .advice import Assessment, assess, open_pickups
from .network import Network, OpenGates
from .verdict import MARGIN, ROUNDING

_GIVES: Final = 0.05
"""Share of its flow that a pickup which is short of it anyway may give for the main:
what it lacks is at the machine, and no second opening brings that. Common practice, no
source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BleedGates:
    """Gates to open beside those wanted, and what that makes of the wanted ones.

    `restored`: no duct in their way is slow any more, and none of them is starved or
    slow in its own pipes that was not before, by the margin that was asked for, or by
    none where that cannot be had; one that had less than the margin keeps its bare need,
    and one that had less than that nearly all it had. `margin` is the lowest of all their
    velocities and flows over what it should be.
    """

    gates: frozenset[str]
    assessment: Assessment
    restored: bool
    margin: float

    @property
    def useful(self) -> bool:
        """Whether it is worth opening: all is met at least without a margin.

        It is an improvement in any case.
        """
        return self.restored or self.margin >= 1.0 - ROUNDING


def bleed_gates(
    network: Network,
    open_gates: Collection[str],
    *,
    candidates: Iterable[str] | None = None,
    speed: float = 1.0,
    most: int = 3,
    margin: float = MARGIN,
) -> tuple[BleedGates, ...]:
    """Return which pickups to open so that the main keeps its velocity, best first.

    Empty where every duct in the way of the open pickups has its velocity by the
    `margin`. `candidates` are pickups that may be opened for it (default: all that are
    closed), at most `most` of them together. If single ones suffice all of those are
    returned, the one that leaves the wanted pickups most air first; otherwise the best
    found by adding one after the other, restored or not; empty where none is an
    improvement. Where nothing restores the margin, what restores the bare limits
    counts. Raises `AirflowError` for unknown ids.
    """
    named = None if candidates is None else tuple(candidates)
    search = _Search(network, open_gates, named, speed)
    found = search.by(margin, most)
    if margin > 1.0 and not (found and found[0].restored):
        bare = search.by(1.0, most)
        if bare and (bare[0].restored or not found):
            return bare
    return found


class _Search:
    """One search: what is wanted, and the gates that may be opened beside it."""

    def __init__(
        self,
        network: Network,
        open_gates: OpenGates,
        candidates: Iterable[str] | None,
        speed: float,
    ) -> None:
        self.network = network
        self.speed = speed
        self.wanted = open_pickups(network, open_gates)
        self.base = assess(network, open_gates, speed=speed)
        names = (
            [element.id for element in network.elements[: network.pickup_count]]
            if candidates is None
            else list(candidates)
        )
        self.already = frozenset(open_gates)
        self.groups = {
            extra
            for extra in (network.gates_for(name) - self.already for name in names)
            if extra
        }
        self.seen: dict[frozenset[str], Assessment] = {}

    def by(self, margin: float, most: int) -> tuple[BleedGates, ...]:
        """Return what restores all velocities by a margin, best first."""
        met = margin * (1.0 - ROUNDING)
        if all(result.ratio >= met for result in self.base.ducts):
            return ()
        least = {r.pickup: _least(r.ratio, met) for r in self.base.pickups}
        options = [
            self.tried(extra, met, least) for extra in sorted(self.groups, key=sorted)
        ]
        enough = [option for option in options if option.restored]
        if enough:
            return tuple(
                sorted(
                    enough,
                    key=lambda o: (
                        len(o.gates),
                        -sum(r.flow for r in o.assessment.pickups),
                    ),
                )
            )
        best: BleedGates | None = None
        reached = self.base.ratio
        for _ in range(most):
            step = max(options, key=lambda o: (o.restored, o.margin), default=None)
            if step is None or not (step.restored or step.margin > reached):
                break
            best, reached = step, step.margin
            if best.restored:
                break
            options = [
                self.tried(best.gates | extra, met, least)
                for extra in sorted(self.groups, key=sorted)
                if not extra <= best.gates
            ]
        return () if best is None else (best,)

    def tried(
        self, extra: frozenset[str], met: float, least: Mapping[str, float]
    ) -> BleedGates:
        """Open gates beside those wanted and see what that makes of them.

        `least` is the ratio that each wanted pickup has to keep.
        """
        found = self.seen.get(extra)
        if found is None:
            found = self.seen[extra] = assess(
                self.network,
                self.already | extra,
                speed=self.speed,
                pickups=self.wanted,
            )
        return BleedGates(
            gates=extra,
            assessment=found,
            restored=all(r.ratio >= met for r in found.ducts)
            and all(r.ratio >= least[r.pickup] for r in found.pickups),
            margin=found.ratio,
        )


def _least(ratio: float, met: float) -> float:
    """Return the ratio that a pickup has to keep beside a bleed gate, by what it had."""
    bare = 1.0 - ROUNDING
    for limit in (met, bare):
        if ratio >= limit:
            return limit
    return ratio * (1.0 - _GIVES)
