"""How full the bin is, when it will be full, and what each emptying teaches."""

from collections import deque
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
import math
from typing import Any

from ..kinds import MachineKind
from ..times import earliest
from . import fill_rates
from .bin_forecast import BinReading, Forecast, SeenBy, foresee
from .bin_sensors import FullSensor, LevelSensor, Seen
from .config import BinConfig
from .fill_rates import Observation, Rates
from .weekly_use import WeeklyUse

_SENSOR_ERROR = 0.03
_WORD_ERROR = 0.1
"""How far off a sensor's and a person's word on the share are (common practice)."""

_WORTH_LEARNING = 0.1
"""Least rise that says something about the rates."""

_SHORTEST = 0.02
"""Least hours of machines for it: else it was filled by other means."""

_EMPTIED_DROP = 0.25
"""Fall of the level that only an emptying explains; chips settle by less."""

_OBSERVATIONS_KEPT = 60
_EMPTYINGS_KEPT = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Emptying:
    """The bin was emptied `at` (s since 1970) after `hours` of dust collection.

    `share` is how full it was, where that was seen or said; `expected` is what was
    forecast.
    """

    at: float
    hours: float
    share: float | None
    expected: float


class BinMonitor:
    """The bin of one collector."""

    def __init__(self, plan: BinConfig, kinds: Mapping[str, MachineKind]) -> None:
        """Start with an empty bin; `kinds` are those of the machines by their id."""
        self.observations: list[Observation] = []
        self.emptyings: deque[Emptying] = deque(maxlen=_EMPTYINGS_KEPT)
        self.seen_by = SeenBy.EMPTYING
        self.tripped = False
        self.looks = 0
        """How often something was seen or said of it, for whoever follows it."""
        self._seen = BinReading()
        self._learned = BinReading()
        self._emptied = BinReading()
        self._kinds: dict[str, MachineKind] = {}
        self._present: tuple[str, ...] = ()
        self._rates: Rates | None = None
        self._full = FullSensor(plan.settle)
        self._level: LevelSensor | None = None
        self.plan = plan
        self.replan(plan, kinds)

    def replan(self, plan: BinConfig, kinds: Mapping[str, MachineKind]) -> None:
        """Take up a changed bin or changed machines; what was learned is kept."""
        before, self.plan = self.plan, plan
        self._rescale(before.volume)
        known = self._kinds | dict(kinds)
        self._kinds = {
            m: kind for m, kind in known.items() if m in kinds or m in self._used()
        }
        self._present = tuple(kinds)
        self._full.settle = plan.settle
        if plan.empty_reading is None or plan.full_reading is None:
            self._level = None
        elif self._level is None:
            self._level = LevelSensor(
                plan.empty_reading, plan.full_reading, plan.settle
            )
        else:
            self._level.empty = plan.empty_reading
            self._level.full = plan.full_reading
            self._level.settle = plan.settle
        self._rates = None

    def adopt(self, old: str, new: str) -> None:
        """Hand what is known of one machine over to another."""
        for look in (self._seen, self._learned, self._emptied):
            _rename(look.seconds, old, new)
        for i, seen in enumerate(self.observations):
            hours = dict(seen.hours)
            _rename(hours, old, new)
            self.observations[i] = Observation(
                hours=hours, share=seen.share, error=seen.error
            )
        self._kinds.pop(old, None)
        self._rates = None

    # What happens ---------------------------------------------------------------

    def fill(self, machine_id: str, seconds: float) -> None:
        """Note that a machine ran with dust collection for some seconds."""
        if machine_id not in self._kinds:
            self._kinds[machine_id] = MachineKind.OTHER
            self._rates = None
        for look in (self._seen, self._learned, self._emptied):
            look.seconds[machine_id] = look.seconds.get(machine_id, 0.0) + seconds

    def read_full(self, on: bool | None, now: float) -> None:
        """Take a reading of the full sensor."""
        self._full.read(on, now)

    def read_level(self, value: float | None, now: float) -> None:
        """Take a reading of the level or distance sensor."""
        if self._level is not None:
            self._level.read(value, now)

    def advance(self, now: float, when: datetime, *, at_rest: bool) -> bool:
        """Let time pass; return whether the sensors have shown something new.

        `at_rest` says that the impeller has certainly stopped.
        """
        if self._level is not None:
            share = self._level.advance(now, at_rest=at_rest)
            if share is not None:
                self._read_share(share, when)
                return True
        news = (
            self._full.advance(now, at_rest=at_rest) if self.plan.full_sensor else None
        )
        if news is Seen.FULL:
            self._look(self.plan.full_share, _SENSOR_ERROR, SeenBy.FULL_SENSOR)
            self.tripped = True
        elif news is Seen.EMPTIED and self.plan.emptied_by_sensor:
            self.emptied(when)
        return news is not None

    def said(self, share: float) -> None:
        """Take the owner's word for how full the bin is now."""
        self._look(share, _WORD_ERROR, SeenBy.OWNER)

    def emptied(
        self, when: datetime, *, share: float | None = None, left: float = 0.0
    ) -> None:
        """Note that the bin was emptied, all but a share `left` in it.

        `share` is how full it was, if the owner says so. A tripped sensor or a level
        has said it already; otherwise the usual share of the plan counts.
        """
        expected = self.share
        watched = self.plan.full_sensor or self._level is not None
        if self.tripped:
            share = self.plan.full_share
        elif share is not None or not watched:
            share = self.plan.usual_share if share is None else share
            if share is not None:
                self.said(share)
        elif self.seen_by is SeenBy.LEVEL_SENSOR:
            share = expected
        self.emptyings.append(
            Emptying(
                at=when.timestamp(),
                hours=self._emptied.total,
                share=share,
                expected=expected,
            )
        )
        self._seen, self._learned = BinReading(share=left), BinReading(share=left)
        self._emptied = BinReading()
        self.looks += 1
        self.seen_by = SeenBy.EMPTYING
        self.tripped = False
        self._full.answer()

    @property
    def undecided(self) -> bool:
        """Whether a full bin looks emptied, but that isn't certain yet."""
        plan = self.plan
        return plan.full_sensor and plan.emptied_by_sensor and self._full.undecided

    @property
    def untouched(self) -> bool:
        """Whether it was emptied, and nothing has been collected or told since."""
        return bool(self.emptyings) and self._emptied.total <= 0 and not self.tripped

    # What follows from it -------------------------------------------------------

    @property
    def full(self) -> bool:
        """Whether the bin is full, as far as a sensor or a person has said."""
        said_full = self.seen_by is SeenBy.OWNER and self._seen.share >= 1
        return self.tripped or said_full or (self.plan.full_sensor and self._full.full)

    @property
    def known(self) -> bool:
        """Whether anything is known of how far it is filled.

        Of a bin of which only a contact tells that it is full, nothing is until it has
        been full once after so much work that this teaches something.
        """
        seen = self.seen_by in (SeenBy.LEVEL_SENSOR, SeenBy.OWNER)
        return self.plan.volume_known or seen or bool(self.observations)

    @property
    def share(self) -> float:
        """The share of the bin that is filled; it may pass 1."""
        share = self._seen.share + self.rates.rise(self._seen.hours)
        if self.full:
            return max(share, self.plan.full_share)
        # A full sensor that does not trip knows better.
        return min(share, self.plan.full_share) if self.plan.full_sensor else share

    @property
    def hours(self) -> float:
        """Machine hours with dust collection since the last emptying."""
        return self._emptied.total

    @property
    def rates(self) -> Rates:
        """What is known of how fast each machine fills the bin."""
        if self._rates is None:
            self._rates = fill_rates.learn(
                self.observations, fill_rates.usual(self._kinds, self.plan.volume)
            )
        return self._rates

    def due_after(self, now: float) -> float | None:
        """Return the next instant at which a reading may have become certain."""
        looks = [self._full.due_after(now)] if self.plan.full_sensor else []
        if self._level is not None:
            looks.append(self._level.due_after(now))
        return earliest(looks)

    def forecast(self, habits: WeeklyUse) -> Forecast:
        """Return how long the bin will do in a shop of these habits."""
        return foresee(
            share=self.share,
            full_share=self.plan.full_share,
            full=self.full,
            look=self._seen,
            seen_by=self.seen_by,
            rates=self.rates,
            learned=bool(self.observations),
            mix=self._mix(habits),
            machines=self._present,
            habits=habits,
        )

    def _mix(self, habits: WeeklyUse) -> dict[str, float]:
        """Return the share of each machine in an hour of the usual work."""
        for seconds in (
            {m: s for m, s in habits.week.items() if m in self._present and s > 0},
            self._emptied.seconds,
            dict.fromkeys(self._present, 1.0),
        ):
            if total := math.fsum(seconds.values()):
                return {m: spent / total for m, spent in seconds.items()}
        return {}

    def _read_share(self, share: float, when: datetime) -> None:
        drop = self._seen.share - share
        if (
            drop >= _EMPTIED_DROP
            and self.plan.emptied_by_sensor
            and self.seen_by is not SeenBy.EMPTYING
        ):
            self.emptied(when, left=share)
        self._look(share, _SENSOR_ERROR, SeenBy.LEVEL_SENSOR)

    def _used(self) -> set[str]:
        """Return the machines whose chips are still counted in."""
        looks = (self._seen, self._learned, self._emptied)
        seconds = (look.seconds for look in looks)
        return set().union(*seconds, *(seen.hours for seen in self.observations))

    def _rescale(self, volume: float) -> None:
        """Turn shares of a bin of an earlier volume into shares of this one."""
        self._rates = None
        if (scale := volume / self.plan.volume) == 1:
            return
        self.observations = [
            Observation(
                hours=seen.hours, share=seen.share * scale, error=seen.error * scale
            )
            for seen in self.observations
        ]

    def _look(self, share: float, error: float, by: SeenBy) -> None:
        """Take a look into the bin, and learn from it where there is enough to."""
        learned = self._learned
        rise = share - learned.share
        if rise >= _WORTH_LEARNING:
            if learned.total >= _SHORTEST:
                self.observations.append(
                    Observation(
                        hours=learned.hours,
                        share=rise,
                        error=math.hypot(error, learned.error),
                    )
                )
                del self.observations[:-_OBSERVATIONS_KEPT]
                self._rates = None
            self._learned = BinReading(share, error)
        elif rise <= -_WORTH_LEARNING:
            self._learned = BinReading(share, error)
        self._seen = BinReading(share, error)
        self.seen_by = by
        self.looks += 1

    # Memory ---------------------------------------------------------------------

    def save(self) -> dict[str, Any]:
        """Return everything as plain data."""
        return {
            "seen": asdict(self._seen),
            "learned": asdict(self._learned),
            "emptied": asdict(self._emptied),
            "seen_by": self.seen_by.value,
            "tripped": self.tripped,
            "sensor": self._full.save(),
            "volume": self.plan.volume,
            "kinds": {m: kind.value for m, kind in self._kinds.items()},
            "observations": [
                {"hours": dict(o.hours), "share": o.share, "error": o.error}
                for o in self.observations
            ],
            "emptyings": [asdict(emptying) for emptying in self.emptyings],
        }

    def restore(self, data: Mapping[str, Any]) -> None:
        """Take over what `save` returned."""
        self._seen = _look(data.get("seen", {}))
        self._learned = _look(data.get("learned", {}))
        self._emptied = _look(data.get("emptied", {}))
        self.seen_by = SeenBy(data.get("seen_by", SeenBy.EMPTYING))
        self.tripped = data.get("tripped", False)
        self._full.restore(data.get("sensor", {}))
        self.observations = [
            Observation(**seen) for seen in data.get("observations", ())
        ]
        self.emptyings.clear()
        self.emptyings.extend(Emptying(**kept) for kept in data.get("emptyings", ()))
        kinds = {
            m: fill_rates.load_kind(kind) for m, kind in data.get("kinds", {}).items()
        }
        for machine_id in self._used():
            kinds.setdefault(machine_id, MachineKind.OTHER)
        self._kinds = kinds | self._kinds
        # The owner may have changed the bin while nobody listened.
        self._rescale(data.get("volume", self.plan.volume))


def _rename(hours: dict[str, float], old: str, new: str) -> None:
    if old in hours:
        hours[new] = hours.get(new, 0.0) + hours.pop(old)


def _look(data: Mapping[str, Any]) -> BinReading:
    return BinReading(
        data.get("share", 0.0), data.get("error", 0.02), dict(data.get("seconds", {}))
    )
