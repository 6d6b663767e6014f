"""How long to wait through a pause: running on against starting again.

A collector that waits through a pause burns energy for nothing; one that stops has to
start again, which wears its motor, and the first seconds of the next cut have no dust
collection. Both are put into one measure, seconds of running: a start is worth so many. Then a wait of
`w` through a pause of `p` costs `min(p, w)`, and a start more where `p` exceeds `w`.

Whoever does not know how long the next pause will be never pays more than twice what
foresight would by waiting exactly as long as a start is worth. Source of this bound (the
"ski rental" problem): Karlin, Manasse, Rudolph and Sleator, "Competitive snoopy
caching", Algorithmica 3 (1988) 79-119. The recorded pauses usually allow better: the
wait that would have cost least is found among them.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import accumulate, pairwise
import math

from ..units import DAY, HOUR, JOULES_PER_KWH
from .history import Interval, bridged

WEEK = 7 * DAY

LONGEST_WAIT = 300.0
"""Nobody wants to hear a collector wait for longer than this (s)."""

_FEWEST_PAUSES = 10
_SESSION = 2 * HOUR
"""A longer pause (s) lies between two sessions: no wait bridges it."""

_DEFAULT_ALLOWANCE = 12.0


class HoldLimit(StrEnum):
    """What kept a wait from being the cheapest one."""

    ALLOWANCE = "allowance"
    """A shorter one would start the motor more often than it is allowed."""
    LEAST = "least"
    """It has a floor: the duct has to empty."""


class NoProposal(StrEnum):
    """Why no wait is proposed."""

    TOO_FEW_PAUSES = "too_few_pauses"


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What waiting and starting cost.

    `power` is what the running collector draws in W, `price` the price of a kWh in any
    currency, `wear` what a start costs in the same one, where the owner knows. Without
    these a start is worth `HOUR / starts_per_hour` seconds of running: as long as the
    motor needs to give off the heat of one start at the pace it is allowed (common
    practice, no published source; without an allowance, 12 an hour).
    """

    power: float | None = None
    price: float | None = None
    wear: float | None = None
    starts_per_hour: float | None = None

    @property
    def start_worth(self) -> float:
        """How many seconds of running a start is worth: the break-even wait.

        At least one: what the run-up itself takes.
        """
        if self.power and self.price and self.wear is not None:
            return max(1.0, self.wear * JOULES_PER_KWH / (self.price * self.power))
        return HOUR / (self.starts_per_hour or _DEFAULT_ALLOWANCE)

    def energy(self, seconds: float) -> float | None:
        """Return what the collector takes in while it runs for so long, in J."""
        return None if self.power is None else self.power * seconds

    def money(self, seconds: float, starts: float) -> float | None:
        """Return what running and starting cost, where the owner's prices are known."""
        if self.power is None or self.price is None:
            return None
        return seconds * self.power * self.price / JOULES_PER_KWH + starts * (
            self.wear or 0.0
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldOutcome:
    """What a wait would have meant, per week.

    `waited` are the seconds of running without a cut, `starts` those of the collector,
    `energy` (J) and `money` what both take where that is known.
    """

    wait: float
    waited: float
    starts: float
    energy: float | None
    money: float | None
    worst_hour: int
    """The most starts in any one hour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitProposal:
    """The wait that would have cost least, beside the present one.

    `break_even` is what a start is worth in s: to wait so long never costs more than
    twice what foresight would, whatever comes; `times_best` is how many times the cost
    of foresight the proposed wait came to over the recorded pauses.
    """

    best: HoldOutcome
    present: HoldOutcome
    break_even: float
    times_best: float
    pauses: int
    limited: HoldLimit | None = None

    @property
    def starts_saved(self) -> float:
        """Starts a week less than with the present wait; negative for more."""
        return self.present.starts - self.best.starts


class PauseHistory:
    """The cuts of one machine, or the demand of a whole shop, and what lies between.

    `cuts` are when it ran, within `observed` seconds of watching.
    """

    def __init__(self, cuts: Iterable[Interval], observed: float) -> None:
        """Sort the pauses. Raises `ValueError` for no time of watching."""
        if not observed > 0:
            raise ValueError("observed for no time")
        self._cuts = list(bridged(sorted(cuts)))
        self._weeks = observed / WEEK
        lengths = [following[0] - cut[1] for cut, following in pairwise(self._cuts)]
        self.lengths = sorted(length for length in lengths if length <= _SESSION)
        self._sums = [0.0, *accumulate(self.lengths)]

    def outcome(self, wait: float, costs: Costs) -> HoldOutcome:
        """Return what a wait would have meant, per week."""
        bridged_count = bisect_right(self.lengths, wait)
        # After the last cut of a session the wait is served as well, and ends in a stop.
        stops = len(self._cuts) - bridged_count
        waited = self._sums[bridged_count] + stops * wait
        weekly = waited / self._weeks
        starts = stops / self._weeks
        return HoldOutcome(
            wait=wait,
            waited=weekly,
            starts=starts,
            energy=costs.energy(weekly),
            money=costs.money(weekly, starts),
            worst_hour=self._worst_hour(wait),
        )

    def cost(self, wait: float, worth: float) -> float:
        """Return the cost of a wait over all pauses, in seconds of running."""
        bridged_count = bisect_right(self.lengths, wait)
        stops = len(self._cuts) - bridged_count
        return self._sums[bridged_count] + stops * (wait + worth)

    def foresight(self, worth: float) -> float:
        """Return the least cost of all, for who knows every pause beforehand."""
        short = bisect_right(self.lengths, worth)
        return self._sums[short] + (len(self._cuts) - short) * worth

    def best(self, worth: float, *, least: float, most: float) -> float:
        """Return the cheapest wait from `least` to `most` s.

        Between two recorded pauses a longer wait only costs more, so the cheapest one is
        the least wait or just covers a pause. What a start is worth is tried as well:
        it keeps the promise of never paying more than twice.
        """
        first, last = bisect_left(self.lengths, least), bisect_right(self.lengths, most)
        waits = {least, min(max(worth, least), most)}
        waits.update(whole_seconds(length) for length in self.lengths[first:last])
        return min(
            (wait for wait in waits if wait <= most),
            key=lambda wait: (self.cost(wait, worth), wait),
        )

    def allowed_from(self, starts_per_hour: float, *, least: float) -> float:
        """Return the least wait from `least` on that keeps to so many starts an hour.

        Where no wait up to the longest does, the longest.
        """
        waits = sorted({least, *(whole_seconds(x) for x in self.lengths if x > least)})
        waits = [wait for wait in waits if wait <= LONGEST_WAIT]
        allowed = max(1, int(starts_per_hour))
        place = bisect_left(waits, True, key=lambda w: self._worst_hour(w) <= allowed)
        return waits[place] if place < len(waits) else LONGEST_WAIT

    def _worst_hour(self, wait: float) -> int:
        starts = [first for first, _ in bridged(self._cuts, longest=wait)]
        return max(
            (
                bisect_left(starts, start + HOUR) - number
                for number, start in enumerate(starts)
            ),
            default=0,
        )


def propose_wait(
    cuts: Sequence[Interval],
    observed: float,
    costs: Costs,
    *,
    present: float,
    before: float = 0.0,
    least: float = 0.0,
    longest: float = LONGEST_WAIT,
) -> WaitProposal | NoProposal:
    """Return the wait that would have served these cuts best.

    For a machine's hold, `cuts` are that machine's, `before` is the shut-off delay that follows
    every hold anyway, and the waits returned are holds. For the shut-off delay, `cuts` is the
    demand of the whole shop and `least` the time that the farthest duct needs to empty.
    `present` is the wait in force. All times are s; `observed` is how long was watched.

    The other machines are taken to rest: what a hold does for the whole shop is for a
    simulation to tell.
    """
    pauses = PauseHistory(cuts, observed)
    if len(pauses.lengths) < _FEWEST_PAUSES:
        return NoProposal.TOO_FEW_PAUSES
    worth = costs.start_worth
    floor = before + least
    free = pauses.best(worth, least=before, most=before + longest)
    best = pauses.best(worth, least=floor, most=before + longest)
    limited = HoldLimit.LEAST if best > free else None
    if costs.starts_per_hour is not None:
        allowed = pauses.allowed_from(costs.starts_per_hour, least=floor)
        if allowed > best:
            best, limited = min(allowed, before + longest), HoldLimit.ALLOWANCE
    return WaitProposal(
        best=_less(pauses.outcome(best, costs), before),
        present=_less(pauses.outcome(before + present, costs), before),
        break_even=worth,
        times_best=pauses.cost(best, worth) / pauses.foresight(worth),
        pauses=len(pauses.lengths),
        limited=limited,
    )


def whole_seconds(length: float) -> float:
    """Return the least whole number of seconds that covers a pause."""
    return float(math.ceil(length))


def _less(outcome: HoldOutcome, before: float) -> HoldOutcome:
    return HoldOutcome(
        wait=outcome.wait - before,
        waited=outcome.waited,
        starts=outcome.starts,
        energy=outcome.energy,
        money=outcome.money,
        worst_hour=outcome.worst_hour,
    )
