"""How long the bin will do, and how well that is known."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
import math

from ..units import HOUR
from .fill_rates import Rates
from .weekly_use import WeeklyUse

_WELL = 0.12
_FAIRLY = 0.25
"""Error, as a share of the bin, up to which its filling counts as known so well."""


class SeenBy(StrEnum):
    """What the share rests on, running time since then added."""

    EMPTYING = "emptying"
    FULL_SENSOR = "full_sensor"
    LEVEL_SENSOR = "level_sensor"
    OWNER = "owner"


class Known(StrEnum):
    """How well the time left is known."""

    GUESS = "guess"
    """From the kinds of machine alone."""
    ROUGH = "rough"
    FAIR = "fair"
    GOOD = "good"


@dataclass(slots=True)
class BinReading:
    """A look into the bin, and each machine's seconds with dust collection since."""

    share: float = 0.0
    error: float = 0.02
    seconds: dict[str, float] = field(default_factory=dict)

    @property
    def hours(self) -> dict[str, float]:
        """The same in hours, which is what rates are in."""
        return {m: seconds / HOUR for m, seconds in self.seconds.items()}

    @property
    def total(self) -> float:
        """Machine hours since then."""
        return math.fsum(self.seconds.values()) / HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """How full the bin is and how long it will do.

    `share` and its standard deviation `error` are shares of the bin, which may pass
    1. `hours_left` are machine hours of the usual work, `hours_low` and `hours_high`
    what two times out of three lies between; `hours_of` is how long each machine
    alone would take. All are infinite or missing where nothing fills the bin.
    `full_on` is the day by the usual week, `earliest` and `latest` as for the hours;
    None where that is unknown or far.
    """

    share: float
    error: float
    seen_by: SeenBy
    known: Known
    full: bool
    hours_left: float
    hours_low: float
    hours_high: float
    hours_of: Mapping[str, float]
    full_on: date | None
    earliest: date | None
    latest: date | None


def foresee(
    *,
    share: float,
    full_share: float,
    full: bool,
    look: BinReading,
    seen_by: SeenBy,
    rates: Rates,
    learned: bool,
    mix: Mapping[str, float],
    machines: Collection[str],
    habits: WeeklyUse,
) -> Forecast:
    """Return how long a bin filled by `share` will do until `full_share`.

    `look` is the last look into it, `mix` an hour of the usual work as the share of
    each machine, `learned` whether the rates rest on more than the kinds.
    """
    left = max(0.0, full_share - share)
    per_hour = rates.rise(mix)
    # How far off it will be by the time that it is computed to be full.
    then = look.hours
    if per_hour > 0:
        for machine_id, part in mix.items():
            spent = left / per_hour * part
            then[machine_id] = then.get(machine_id, 0.0) + spent
    error = math.hypot(look.error, rates.error(then))
    least, most = max(0.0, left - error), left + error
    # Machines that are gone have left their habits behind, but will not come back.
    per_second = {m: rates.per_hour[m] / HOUR for m in machines}
    return Forecast(
        share=share,
        error=math.hypot(look.error, rates.error(look.hours)),
        seen_by=seen_by,
        known=_known(error) if learned else Known.GUESS,
        full=full,
        hours_left=_over(left, per_hour),
        hours_low=_over(least, per_hour),
        hours_high=_over(most, per_hour),
        hours_of={m: left / rate for m in machines if (rate := rates.per_hour[m]) > 0},
        full_on=habits.date_after(left, per_second),
        earliest=habits.date_after(least, per_second),
        latest=habits.date_after(most, per_second),
    )


def _over(amount: float, rate: float) -> float:
    return amount / rate if rate > 0 else math.inf


def _known(error: float) -> Known:
    if error <= _WELL:
        return Known.GOOD
    return Known.FAIR if error <= _FAIRLY else Known.ROUGH
