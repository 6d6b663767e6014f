"""Published limits for wood dust, and what a particle sensor says beside them.

The figures are shown side by side and nothing is concluded: a low-cost optical
sensor counts what scatters light, of fine particles mostly, at one place in the
room. The limits are for mass collected by a sampler of a defined cut, inhalable or
total, in the breathing zone. No figure here is a compliance measurement.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
import math
from typing import Any

from ..statistics.calendar import days_of
from ..units import HOUR

SHIFT = 8 * HOUR
"""The time that limits are averaged over, in s."""

DAYS_KEPT = 371

CLOSE_DELAY = 1800.0
"""Seconds after the last machine for which somebody counts as still at work, among the
dust that was made. Common practice, no source."""


class Fraction(StrEnum):
    """Which part of the airborne dust a limit is for."""

    TOTAL = "total"
    INHALABLE = "inhalable"
    RESPIRABLE = "respirable"


class Force(StrEnum):
    """What a limit is."""

    ENFORCED = "enforced"
    RECOMMENDED = "recommended"


class Checked(StrEnum):
    """How the figure was checked."""

    READ = "read"
    """In the publication itself."""
    QUOTED = "quoted"
    """In another authority's page that quotes it."""
    SECONDARY = "secondary"
    """In secondary sources only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DustLimit:
    """A published limit in mg/m3, as a time-weighted average over 8 h.

    NIOSH averages over a day of up to 10 h (from memory). `limit_id` names it for texts; `source` is the publication.
    """

    limit_id: str
    concentration: float
    fraction: Fraction
    force: Force
    source: str
    checked: Checked


LIMITS = (
    DustLimit(
        limit_id="osha_total",
        concentration=15.0,
        fraction=Fraction.TOTAL,
        force=Force.ENFORCED,
        source="OSHA, 29 CFR 1910.1000 Table Z-1, particulates not otherwise regulated",
        checked=Checked.READ,
    ),
    DustLimit(
        limit_id="osha_respirable",
        concentration=5.0,
        fraction=Fraction.RESPIRABLE,
        force=Force.ENFORCED,
        source="OSHA, 29 CFR 1910.1000 Table Z-1, particulates not otherwise regulated",
        checked=Checked.READ,
    ),
    DustLimit(
        limit_id="niosh",
        concentration=1.0,
        fraction=Fraction.TOTAL,
        force=Force.RECOMMENDED,
        source="NIOSH, Pocket Guide to Chemical Hazards, wood dust (npgd0667)",
        checked=Checked.READ,
    ),
    DustLimit(
        limit_id="acgih",
        concentration=1.0,
        fraction=Fraction.INHALABLE,
        force=Force.RECOMMENDED,
        source="ACGIH, TLVs and BEIs 2007, all species except western red cedar",
        checked=Checked.QUOTED,
    ),
    DustLimit(
        limit_id="acgih_red_cedar",
        concentration=0.5,
        fraction=Fraction.INHALABLE,
        force=Force.RECOMMENDED,
        source="ACGIH, TLVs and BEIs 2007, western red cedar",
        checked=Checked.QUOTED,
    ),
    DustLimit(
        limit_id="eu_hardwood",
        concentration=2.0,
        fraction=Fraction.INHALABLE,
        force=Force.ENFORCED,
        source="Directive 2004/37/EC Annex III as amended by (EU) 2017/2398 and 2019/130",
        checked=Checked.READ,
    ),
    # Sources disagree on whether it was to fall to 2 as in the EU.
    DustLimit(
        limit_id="gb_hardwood",
        concentration=3.0,
        fraction=Fraction.INHALABLE,
        force=Force.ENFORCED,
        source="HSE, EH40/2005 Workplace exposure limits, 4th edition 2020, Table 1",
        checked=Checked.SECONDARY,
    ),
    DustLimit(
        limit_id="gb_softwood",
        concentration=5.0,
        fraction=Fraction.INHALABLE,
        force=Force.ENFORCED,
        source="HSE, EH40/2005 Workplace exposure limits, 4th edition 2020, Table 1",
        checked=Checked.SECONDARY,
    ),
)


@dataclass(slots=True)
class DayDust:
    """What the particle sensor read while somebody worked, in one day.

    `dose` is concentration times time in mg s/m3, `measured` the seconds of it,
    `worked` all seconds of work; `peak` is mg/m3.
    """

    dose: float = 0.0
    measured: float = 0.0
    worked: float = 0.0
    peak: float = 0.0

    @property
    def mean(self) -> float | None:
        """Mean over the measured time of work, in mg/m3; None without any."""
        return self.dose / self.measured if self.measured > 0 else None

    @property
    def average(self) -> float | None:
        """Time-weighted average over 8 h in mg/m3, nothing assumed outside the work.

        The sum of concentration times time, over 8 h: 29 CFR 1910.1000(d)(1)(i)
        (from memory). More than 8 h of work raise it, as they should. Time of work
        that was not measured counts with the mean of what was.
        """
        mean = self.mean
        return None if mean is None else mean * self.worked / SHIFT

    def add(self, other: DayDust) -> None:
        """Add another day."""
        self.dose += other.dose
        self.measured += other.measured
        self.worked += other.worked
        self.peak = max(self.peak, other.peak)


@dataclass(frozen=True, slots=True, kw_only=True)
class DustComparison:
    """A limit, and the average that stands beside it as a share of it."""

    limit: DustLimit
    average: float
    share: float


def beside_limits(day: DayDust) -> list[DustComparison]:
    """Return every limit with a day's average beside it; none if nothing was read."""
    average = day.average
    if average is None:
        return []
    return [
        DustComparison(
            limit=limit, average=average, share=average / limit.concentration
        )
        for limit in LIMITS
    ]


class Exposure:
    """Averages a particle sensor over the work of each day."""

    def __init__(self) -> None:
        self.days: dict[date, DayDust] = {}
        self.reading: float | None = None
        self._seen: float | None = None
        self._until = -math.inf

    def read(self, concentration: float | None, now: float, when: datetime) -> None:
        """Take a reading in mg/m3; it holds until the next one. None: no longer."""
        self.book(now, when)
        self.reading = None if concentration is None else max(0.0, concentration)

    def advance(self, now: float, when: datetime, *, active: bool) -> None:
        """Let time pass; `active` says that somebody is at work from now on."""
        self.book(now, when)
        if active:
            self._until = math.inf
        elif self._until == math.inf:
            self._until = now + CLOSE_DELAY

    def book(self, now: float, when: datetime) -> None:
        """Book the time up to `now`, which is the aware datetime `when`."""
        since, self._seen = self._seen, now
        end = min(now, self._until)
        if since is None or end <= since:
            return
        passed = end - since
        ended = when.astimezone(UTC) - timedelta(seconds=now - end)
        for day, share in days_of(passed, ended.astimezone(when.tzinfo)):
            dust = self.days.setdefault(day, DayDust())
            dust.worked += passed * share
            if self.reading is not None:
                dust.measured += passed * share
                dust.dose += self.reading * passed * share
                dust.peak = max(dust.peak, self.reading)
        while len(self.days) > DAYS_KEPT:
            del self.days[min(self.days)]

    def day(self, day: date) -> DayDust:
        """Return a copy of one day."""
        dust = DayDust()
        dust.add(self.days.get(day, DayDust()))
        return dust

    def save(self, now: float) -> dict[str, Any]:
        """Return everything as plain data."""
        left = self._until - now
        return {
            # Somebody at work is so on the word of a machine that is heard anew.
            "lingers": CLOSE_DELAY if left == math.inf else max(0.0, left),
            "days": {
                day.isoformat(): [dust.dose, dust.measured, dust.worked, dust.peak]
                for day, dust in self.days.items()
            },
        }

    def restore(self, data: Mapping[str, Any], now: float) -> None:
        """Take over what `save` returned; the time in between is not booked."""
        self._seen = now
        self._until = now + data.get("lingers", 0.0)
        self.days = {
            date.fromisoformat(day): DayDust(*figures)
            for day, figures in data.get("days", {}).items()
        }
