"""How good a choice of sizes is, remembered set by set.

What closed gates leak is taken up when all is done; see `outcome`.
"""

from dataclasses import dataclass
from typing import Final

from .live import Choice, LiveSet, SetScore
from .problem import Plan

_SHORT: Final = 2
"""How many bleed gates of a set are followed up at each look at all of them."""

_PLACES: Final = 4
"""Decimals of a ratio that are told apart: a ten-thousandth is worth no pipe."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """What a choice of sizes makes of all sets; the smaller `key`, the better.

    In this order: the ratios of the sets, each capped at the margin, the worst first
    (a worse set never pays for a better one; among those that are equal the next
    counts); then the mean power; then length times diameter.
    """

    key: tuple[float, ...]
    sets: tuple[SetScore, ...]
    weight: float

    @property
    def worst(self) -> float:
        """Lowest ratio of all sets."""
        return min(found.ratio for found in self.sets)

    @property
    def power(self) -> float:
        """Mean power (W) over the sets."""
        return sum(found.power for found in self.sets) / len(self.sets)


class Trials:
    """Scores choices of sizes. `solves` counts what was really computed."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.solves = 0
        self._sets = [LiveSet(plan, opened) for opened in plan.sets]
        self._bled: list[dict[str, LiveSet]] = [{} for _ in plan.sets]
        self._known: list[dict[tuple[int, ...], SetScore]] = [{} for _ in plan.sets]
        self._bled_known: dict[tuple[int, str, tuple[int, ...]], SetScore] = {}
        self._scores: dict[tuple[int, ...], Score] = {}
        self._shortlists: list[frozenset[str] | None] = [None for _ in plan.sets]
        self._allowed: dict[tuple[int, str], tuple[str, ...]] = {}
        self._upstream = self._open_upstream() if plan.rules.bleed else {}

    def _open_upstream(self) -> dict[str, tuple[str, ...]]:
        """Return the pickups whose air flows through each duct."""
        network = self.plan.network
        found: dict[str, list[str]] = {}
        for element in network.elements[: network.pickup_count]:
            for outer in network.path(element.id)[1:]:
                found.setdefault(outer.id, []).append(element.id)
        return {duct: tuple(pickups) for duct, pickups in found.items()}

    def score(self, choice: tuple[int, ...]) -> Score:
        """Return what a choice of size numbers, one for each segment, is worth."""
        known = self._scores.get(choice)
        if known is not None:
            return known
        margin = self.plan.rules.margin
        found = tuple(self._set(n, choice) for n in range(len(self._sets)))
        weight = self.plan.weight(choice)
        ratios = sorted(round(min(one.ratio, margin), _PLACES) for one in found)
        power = sum(one.power for one in found) / len(found)
        score = Score(
            key=(*(-ratio for ratio in ratios), round(power, 2), weight),
            sets=found,
            weight=weight,
        )
        self._scores[choice] = score
        return score

    def _plain(self, number: int, choice: Choice) -> SetScore:
        """Return the score of a set without a bleed gate."""
        live = self._sets[number]
        sizes = live.pick(choice)
        known = self._known[number].get(sizes)
        if known is None:
            live.resize(sizes)
            known, solves = live.rate()
            self.solves += solves
            self._known[number][sizes] = known
        return known

    def _set(self, number: int, choice: Choice) -> SetScore:
        known = self._plain(number, choice)
        if not self._upstream or not self._bleed_helps(known):
            return known
        best = known
        for bleed in self._candidates(number, known.element):
            best = min(best, self._with_bleed(number, bleed, choice), key=self._rank)
        return best

    def _candidates(self, number: int, duct: str) -> tuple[str, ...]:
        """Return the pickups that may be opened to speed a duct up in a set."""
        known = self._allowed.get((number, duct))
        if known is None:
            shortlist = self._shortlists[number]
            known = self._allowed[number, duct] = tuple(
                bleed
                for bleed in self._upstream[duct]
                if bleed not in self.plan.sets[number].pickups
                and (shortlist is None or bleed in shortlist)
            )
        return known

    def _limit(self, shortlists: list[frozenset[str] | None]) -> None:
        self._shortlists = shortlists
        self._allowed.clear()
        self._scores.clear()

    def no_bleeds(self) -> None:
        """Try no bleed gates for now."""
        self._limit([frozenset() for _ in self._sets])

    def shortlist(self, *choices: Choice) -> bool:
        """Try from now on, in each set, only the bleed gates that help most there.

        Found at a few choices, and added to those found before. Returns whether any
        were added.
        """
        before = self._shortlists
        found = [set(known or ()) for known in before]
        self._limit([None for _ in self._sets])
        for choice in choices:
            for number in range(len(self._sets)):
                alone = self._plain(number, choice)
                if not self._upstream or not self._bleed_helps(alone):
                    continue
                options = [
                    self._with_bleed(number, bleed, choice)
                    for bleed in self._candidates(number, alone.element)
                ]
                options.sort(key=self._rank)
                found[number] |= {
                    one.bleed
                    for one in options[:_SHORT]
                    if self._rank(one) < self._rank(alone)
                }
        self._limit([frozenset(names) for names in found])
        return self._shortlists != before

    def _bleed_helps(self, found: SetScore) -> bool:
        """Return whether another opening can help: only a main that is too slow."""
        if found.rule != "velocity" or found.element not in self._upstream:
            return False
        # Without a fan every set has its margin, at a price that a bleed may lower.
        return not self.plan.rules.fan or found.ratio < self.plan.rules.margin

    def _rank(self, found: SetScore) -> tuple[float, float]:
        return -round(min(found.ratio, self.plan.rules.margin), _PLACES), found.power

    def _with_bleed(self, number: int, bleed: str, choice: tuple[int, ...]) -> SetScore:
        live = self._bled[number].get(bleed)
        if live is None:
            live = LiveSet(self.plan, self.plan.sets[number], bleed)
            self._bled[number][bleed] = live
        sizes = live.pick(choice)
        key = (number, bleed, sizes)
        known = self._bled_known.get(key)
        if known is None:
            live.resize(sizes)
            known, solves = live.rate()
            self.solves += solves
            self._bled_known[key] = known
        return known
