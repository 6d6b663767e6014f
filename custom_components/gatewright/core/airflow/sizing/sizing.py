"""Sizing a whole shop: pipes, what each operating set gets, the duty, what would help.

The order of what counts: the worst ratio of flow and velocity to what is needed, up to
the margin; then the fan's power; then length times diameter.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final

from ..fan import Fan
from ..model import DuctSystem
from ..network import Network
from ..verdict import Verdict, verdict
from .duty import DutyPoint, FanVerdict, duty_points, try_fans
from .live import Choice
from .outcome import SetOutcome, outcome
from .problem import OperatingSet, Plan, Rules
from .remedies import Remedy, remedies
from .search import MOST_SOLVES, Search
from .trial import Score, Trials

ANY_FAN: Final = Fan.from_free_air(1.0, 2500.0)
"""Stands where a system has no fan; nothing of it is used then."""


@dataclass(frozen=True, kw_only=True)
class Sizing:
    """A sized shop.

    `diameters` (m) by duct or pickup. `sets` are in the order they were given.
    `remedies` are what was tried where the worst set falls short, up to the first
    that does. `solves` counts the solves of the search.
    """

    system: DuctSystem
    rules: Rules
    diameters: Mapping[str, float]
    sets: tuple[SetOutcome, ...]
    remedies: tuple[Remedy, ...]
    fans: tuple[FanVerdict, ...]
    solves: int
    weight: float
    network: Network = field(repr=False)

    @cached_property
    def ratio(self) -> float:
        """Lowest flow or velocity over what is needed, of all sets."""
        return min(one.ratio for one in self.sets)

    @property
    def verdict(self) -> Verdict:
        """Whether everything gets what it needs."""
        return verdict(self.ratio, self.rules.margin)

    @property
    def short(self) -> tuple[SetOutcome, ...]:
        """Sets without their margin, the worst first."""
        return tuple(
            sorted(
                (one for one in self.sets if one.verdict is not Verdict.ENOUGH),
                key=lambda one: one.ratio,
            )
        )

    @property
    def remedy(self) -> Remedy | None:
        """The smallest change that does, or else the one that helps most."""
        for remedy in self.remedies:
            if remedy.verdict is Verdict.ENOUGH:
                return remedy
        return max(self.remedies, key=lambda one: one.ratio, default=None)

    @cached_property
    def duty(self) -> tuple[DutyPoint, ...]:
        """What a fan must do at each set."""
        return duty_points(self.sets)

    @property
    def power(self) -> float:
        """Mean power (W) of the sets."""
        return sum(one.power for one in self.sets) / len(self.sets)


def size_ducts(
    system: DuctSystem,
    sets: Iterable[OperatingSet],
    rules: Rules | None = None,
    *,
    fans: Mapping[str, Fan] | None = None,
    most: int = MOST_SOLVES,
) -> Sizing:
    """Choose the width of every pipe of a system.

    The diameters that ducts, hoses and drops have now count only where the rules keep
    them; ports stay. Closed gates are tight to the search; where what they leak costs
    a set its margin, it is looked for again with as much more margin. `fans` are tried
    on the outcome. Raises `AirflowError`.
    """
    rules = Rules() if rules is None else rules
    opened = tuple(sets)
    plan = Plan(system, opened, rules)
    trials = Trials(plan)
    choice, score = Search(trials, most=most).best()
    solves = trials.solves
    network = Network(plan.sized(choice))
    outcomes = _outcomes(network, plan, score)
    ratio = min(one.ratio for one in outcomes)
    tight = min(score.worst, rules.margin)
    if rules.fan and ratio < tight * (1.0 - 1e-3):
        more = replace(rules, margin=min(2.0, rules.margin * tight / ratio))
        again = Trials(Plan(system, opened, more))
        other, other_score = Search(again, most=most).improved(choice)
        solves += again.solves
        other_network = Network(plan.sized(other))
        found = _outcomes(other_network, plan, other_score)
        if min(one.ratio for one in found) > ratio:
            choice, score = other, other_score
            network, outcomes = other_network, found
            ratio = min(one.ratio for one in outcomes)
    tried: tuple[Remedy, ...] = ()
    if verdict(ratio, rules.margin) is not Verdict.ENOUGH:
        tried = remedies(plan, choice, score)
    bleeds = [(one, found.bleed) for one, found in zip(opened, outcomes, strict=True)]
    return Sizing(
        system=network.system,
        rules=rules,
        diameters={
            name: rules.sizes[k] for name, k in zip(plan.segments, choice, strict=True)
        },
        sets=outcomes,
        remedies=tried,
        fans=try_fans(network, bleeds, rules, fans or {}),
        solves=solves,
        weight=plan.weight(choice),
        network=network,
    )


def unsized(
    system: DuctSystem, sets: Iterable[OperatingSet], rules: Rules | None = None
) -> Sizing:
    """Return a system at the widths that it has, judged as a sized one is.

    No bleed gate is opened. Raises `AirflowError`.
    """
    rules = Rules() if rules is None else rules
    network = Network(system)
    return Sizing(
        system=system,
        rules=rules,
        diameters={},
        sets=tuple(outcome(network, opened, "", rules) for opened in sets),
        remedies=(),
        fans=(),
        solves=0,
        weight=0.0,
        network=network,
    )


def _outcomes(network: Network, plan: Plan, score: Score) -> tuple[SetOutcome, ...]:
    return tuple(
        outcome(network, opened, found.bleed, plan.rules)
        for opened, found in zip(plan.sets, score.sets, strict=True)
    )


__all__ = ["ANY_FAN", "Choice", "Sizing", "size_ducts", "unsized"]
