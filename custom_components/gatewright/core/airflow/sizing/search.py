"""The search for the best sizes: better neighbors, from several beginnings.

A choice is one size for each segment, none narrower than what flows into it. Its
neighbors are the choices with one segment at any other size (what it flows into made
as wide, what flows into it made as narrow, where that is needed), with a whole way to
the collector or all that is upstream a size up or down, and with a segment and one
beside it changed together. The best neighbor is taken until none is better. Nothing is
drawn by lot: the same shop gets the same pipes.
"""

from collections.abc import Iterable, Iterator
from typing import Final

from .live import Choice
from .problem import Plan
from .trial import Score, Trials

MOST_SOLVES: Final = 12_000
"""After so many solves the search ends with what it has: a few seconds."""


_ROUNDS: Final = 3
"""How often every duct is held at every size, at most, while that helps."""

_FEW: Final = 6
"""Up to so many pickups every one is tried as a bleed gate each time."""

_STARTS: Final = 4
"""How many of the beginnings are followed up, the best ones."""


class Search:
    """Looks for the best choice of sizes for a plan."""

    def __init__(self, trials: Trials, *, most: int = MOST_SOLVES) -> None:
        """Search with at most `most` solves."""
        self.trials = trials
        self.plan: Plan = trials.plan
        self.most = most

    def best(self, *starts: Choice) -> tuple[Choice, Score]:
        """Return the best choice found, beginning at those given and at its own.

        In a large shop not every pickup is tried as a bleed gate at every choice: the
        shop is sized without first, then with those that helped most there and where
        everything is wider, then with those that help most in the outcome.
        """
        rules = self.plan.rules
        own = [*starts, *self.starts()]
        if not rules.bleed or len(self.plan.system.pickups) <= _FEW:
            choice = self._from(own)
            return choice, self.trials.score(choice)
        self.trials.no_bleeds()
        choice = self._from(own)
        steps = range(len(rules.sizes))
        wider = dict.fromkeys(self.fit([k + step for k in choice]) for step in steps)
        if self.trials.shortlist(*wider):
            choice = self._from([choice, *wider, *starts], reach=1)
            if not self._spent() and self.trials.shortlist(choice):
                choice = self._climb(choice)
        return choice, self.trials.score(choice)

    def improved(self, start: Choice) -> tuple[Choice, Score]:
        """Return the best choice found from one that is good already."""
        choice = self._climb(self.fit(list(start)), near=True)
        choice = self._climb(self._kick(choice, 1), near=True)
        return choice, self.trials.score(choice)

    def _from(self, starts: Iterable[Choice], *, reach: int | None = None) -> Choice:
        """Return the best choice found from a few to begin at; `reach` as in `_kick`."""
        begin = dict.fromkeys(self.fit(list(start)) for start in starts)
        ranked = sorted(begin, key=lambda choice: self.trials.score(choice).key)
        best = self._climb(ranked[0], near=True)
        for start in ranked[1:_STARTS]:
            if self._spent():
                break
            found = self._climb(start, near=True)
            if self._better(found, best):
                best = found
        best = self._climb(best)
        return self._climb(self._kick(best, reach))

    def starts(self) -> Iterator[Choice]:
        """Yield choices to begin at: by velocity, and everything as wide as each size."""
        for share in (1.0, 0.75, 0.5):
            yield self.by_velocity(share)
        for k in range(len(self.plan.rules.sizes)):
            yield self.fit([k] * len(self.plan.segments))

    def by_velocity(self, share: float) -> Choice:
        """Return each segment as wide as its transport velocity lets it be.

        At the flow of the set that draws most through it, or of a share of that.
        """
        plan = self.plan
        rules = plan.rules
        flows = [0.0] * len(plan.segments)
        speed = [0.0] * len(plan.segments)
        pickups = {p.id: p for p in plan.system.pickups}
        for opened in plan.sets:
            through = [0.0] * len(plan.segments)
            for name in opened.pickups:
                pickup = pickups[name]
                for element in plan.network.path(name):
                    if (i := plan.at.get(element.id)) is not None:
                        through[i] += pickup.required
                        speed[i] = max(speed[i], pickup.transport)
            flows = [max(a, b) for a, b in zip(flows, through, strict=True)]
        choice = []
        for flow, velocity in zip(flows, speed, strict=True):
            widest = 0
            for k, size in enumerate(rules.sizes):
                if velocity * 0.7854 * size * size <= share * flow:
                    widest = k
            choice.append(widest)
        return self.fit(choice)

    def fit(self, choice: list[int]) -> Choice:
        """Return the nearest choice that never narrows, made wider where it must be."""
        plan = self.plan
        for i in range(len(choice)):
            choice[i] = min(max(choice[i], plan.low[i]), plan.high[i])
            j = plan.parent[i]
            if j >= 0:
                choice[j] = max(choice[j], choice[i])
        # A kept duct may leave no room; then what is upstream is as narrow as it.
        for i in reversed(range(len(choice))):
            j = plan.parent[i]
            if j >= 0 and choice[i] > choice[j]:
                choice[i] = choice[j]
        return tuple(choice)

    def _spent(self) -> bool:
        return self.trials.solves >= self.most

    def _better(self, one: Choice, other: Choice) -> bool:
        return self.trials.score(one).key < self.trials.score(other).key

    def _set(self, choice: list[int], i: int, k: int) -> bool:
        """Give a segment a size, and those before and behind it what that asks for."""
        plan = self.plan
        if not plan.low[i] <= k <= plan.high[i]:
            return False
        choice[i] = k
        j = plan.parent[i]
        while j >= 0 and choice[j] < k:
            if plan.high[j] < k:
                return False
            choice[j] = k
            j = plan.parent[j]
        below = list(plan.children[i])
        while below:
            child = below.pop()
            if choice[child] > k:
                if plan.low[child] > k:
                    return False
                choice[child] = k
                below += plan.children[child]
        return True

    def neighbors(self, choice: Choice, *, near: bool = False) -> Iterator[Choice]:
        """Yield the neighbors of a choice, the likely ones first.

        `near`: only those one size away, and no two segments at different sizes.
        """
        plan = self.plan
        count = len(choice)

        def moved(*changes: tuple[int, int]) -> Iterator[Choice]:
            new = list(choice)
            if all(self._set(new, i, k) for i, k in changes):
                yield tuple(new)

        for i in reversed(range(count)):
            reach = 1 if near else len(plan.rules.sizes)
            for k in range(choice[i] - reach, choice[i] + reach + 1):
                if k != choice[i]:
                    yield from moved((i, k))
        for i in reversed(range(count)):
            way = [i]
            while plan.parent[way[-1]] >= 0:
                way.append(plan.parent[way[-1]])
            for step in (1, -1):
                yield from moved(*((j, choice[j] + step) for j in reversed(way)))
                inside = self._inside(i)
                yield from moved(*((j, choice[j] + step) for j in inside))
        if near:
            return
        for i in range(count):
            j = plan.parent[i]
            beside_it = [*plan.children[i], *(plan.children[j] if j >= 0 else ())]
            for other in beside_it:
                if other == i:
                    continue
                for step in (1, -1):
                    for beside in (1, -1):
                        yield from moved(
                            (other, choice[other] + beside), (i, choice[i] + step)
                        )

    def _inside(self, i: int) -> list[int]:
        found = [i]
        for j in found:
            found += self.plan.children[j]
        return found

    def _climb(self, choice: Choice, *, pinned: int = -1, near: bool = False) -> Choice:
        """Go to the first better neighbor until there is none; one may be held."""
        held = choice[pinned]
        seen: set[Choice] = set()
        better = True
        while better and not self._spent():
            better = False
            key = self.trials.score(choice).key
            for neighbor in self.neighbors(choice, near=near):
                if neighbor in seen or (pinned >= 0 and neighbor[pinned] != held):
                    continue
                seen.add(neighbor)
                if self.trials.score(neighbor).key < key:
                    choice = neighbor
                    better = True
                    break
                if self._spent():
                    break
        return choice

    def _kick(self, choice: Choice, reach: int | None = None) -> Choice:
        """Hold each duct that others flow into at every size, climb, and let it go.

        Again while that helps, a few times at most. `reach`: only at sizes no further
        than so many from what it has.
        """
        plan = self.plan
        for _ in range(_ROUNDS):
            before = choice
            for i in reversed(range(len(choice))):
                if not plan.children[i]:
                    continue
                now = choice[i]
                for k in range(plan.low[i], plan.high[i] + 1):
                    new = list(choice)
                    if reach is not None and abs(k - now) > reach:
                        continue
                    if k == choice[i] or not self._set(new, i, k) or self._spent():
                        continue
                    found = self._climb(tuple(new), pinned=i, near=True)
                    found = self._climb(found, near=True)
                    if self._better(found, choice):
                        choice = found
            if choice == before or self._spent():
                break
        return choice
