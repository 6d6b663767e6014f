"""From the readings of any plug to "runs" or "does not run".

Levels count, not crossings: a machine found drawing power runs, whether or not
anyone saw it start. A reading that is missing or unreadable is no evidence: it
starts nothing and stops nothing until the dropout time has run out.
"""

from collections import deque
import math
from statistics import median

from ..config import Thresholds, WhenSensorLost
from ..times import in_ticks, over

_GAPS_KEPT = 15
_GAPS_NEEDED = 5

_DOUBT = 10.0
"""How long in s a reading below the certain level has to last at a plug of which it is not
known how often it reports: as often as usual plugs do, from memory."""

_DOUBT_GAPS = 1.5
"""The same in times of the plug's own pace, which is not even."""

LEAST_CONFIRM = 0.5
"""The shortest time in s after which a second reading confirms a start: the inrush of a
motor's electronics may be reported twice within it."""


class RunDetector:
    """Watches the reading of one machine.

    `running` is the verdict, `lost` says that the reading has been gone for longer
    than the dropout time, `first_sign` the instant of the first reading at or above the
    start level of the present start or run, `stuck` that it is taken as missing because it has not been
    renewed for longer than its stale limit. `due` is the next instant at which time
    alone changes either. Instants are seconds on any clock that only goes forward.
    """

    __slots__ = (
        "_back_at",
        "_gaps",
        "_heard_at",
        "_last_report",
        "_levels",
        "_missing_since",
        "_review",
        "_settled_at",
        "_value",
        "first_sign",
        "lost",
        "running",
        "stuck",
    )

    def __init__(
        self, levels: Thresholds, now: float, *, running: bool = False
    ) -> None:
        """Start at `now` without a reading, as when Home Assistant has just come up."""
        self._levels = levels
        self.running = running
        self.lost = False
        self.stuck = False
        self.first_sign: float | None = None
        self._back_at: float | None = None
        self._missing_since: float | None = now
        self._last_report = now
        self._settled_at: float | None = None
        self._heard_at: float | None = None
        self._value: float | None = None
        self._review = False
        self._gaps: deque[float] = deque(maxlen=_GAPS_KEPT)

    @property
    def levels(self) -> Thresholds:
        """The levels the reading is held against."""
        return self._levels

    @levels.setter
    def levels(self, levels: Thresholds) -> None:
        if levels == self._levels:
            return
        # A plug that reports on change may never report again: the last reading is
        # held against the new levels, and a change under way starts anew.
        self._levels = levels
        self._settled_at = None
        self._review = True

    @property
    def starting(self) -> bool:
        """Whether a start is being confirmed."""
        return not self.running and self._settled_at is not None

    @property
    def seen_to_start_at(self) -> float | None:
        """The first sign; None where the machine was found going by the first reading."""
        return None if self.first_sign == self._back_at else self.first_sign

    @property
    def stopping(self) -> bool:
        """Whether a stop is being confirmed."""
        return self.running and self._settled_at is not None

    @property
    def missing(self) -> bool:
        """Whether there is no usable reading at present."""
        return self._missing_since is not None

    @property
    def due(self) -> float | None:
        """The next instant at which time alone changes something."""
        if self._missing_since is not None:
            return None if self.lost else self._missing_since + self._levels.dropout
        falls_silent = self._falls_silent
        if self._settled_at is None or falls_silent is None:
            return falls_silent if self._settled_at is None else self._settled_at
        return min(self._settled_at, falls_silent)

    @property
    def report_interval(self) -> float | None:
        """Median time in s between reports while the machine ran.

        None until enough were seen. While a machine runs its power varies, so a plug
        that reports on change does so then at its own pace.
        """
        if len(self._gaps) < _GAPS_NEEDED:
            return None
        return median(self._gaps)

    @property
    def settles_too_soon(self) -> bool:
        """Whether one false low report would already count as a stop.

        True when the stop confirmation time is shorter than the time between two
        reports, so that it passes before the next report can contradict it.
        """
        interval = self.report_interval
        return interval is not None and self._levels.stop_confirm < interval

    def read(self, value: float | None, now: float) -> bool:
        """Take a reading; return whether it changed anything.

        None, NaN and infinity are no reading. A negative value counts by its size: a
        current clamp put on the wrong way round measures the same machine.
        """
        # The timer may be late: what was due before this reading comes first.
        waits = self._settled_at is not None or self._missing_since is not None
        changed = (waits or self.running or self._review) and self.advance(now)
        if value is None or not math.isfinite(value):
            return self._miss(now) or changed
        if self.running and self._heard_at is not None:
            self._gaps.append(now - self._heard_at)
        self._heard_at = self._last_report = now
        if self._missing_since is not None:
            self._missing_since = None
            self._back_at = now
            self.lost = self.stuck = False
            changed = True
        self._value = abs(value)
        judge = self._judge_stop if self.running else self._judge_start
        return judge(self._value, now) or changed

    def advance(self, now: float) -> bool:
        """Let time pass up to `now`; return whether that changed anything."""
        changed = False
        if self._review:
            self._review = False
            changed = self._value is not None and self._judge(self._value, now)
        if self._settled_at is not None and now >= self._settled_at:
            self._turn()
            return True
        if self.running and over(self._falls_silent, now):
            self.stuck = True
            return self._miss(now)
        if (
            self._missing_since is not None
            and not self.lost
            and now >= self._missing_since + self._levels.dropout
        ):
            self.lost = True
            if self._levels.on_lost is WhenSensorLost.STOPPED:
                self.running = False
                self.first_sign = None
            return True
        return changed

    @property
    def _falls_silent(self) -> float | None:
        """When a reading that is not renewed counts as missing."""
        stale_after = self._levels.stale_after
        if stale_after is None or not self.running or self._missing_since is not None:
            return None
        return self._last_report + stale_after

    def _judge(self, value: float, now: float) -> bool:
        """Hold a reading against the levels; return whether that changed anything."""
        if self.running:
            return self._judge_stop(value, now)
        return self._judge_start(value, now)

    def _judge_stop(self, value: float, now: float) -> bool:
        against = value <= self._levels.stop
        if against is (self._settled_at is not None):
            return False
        self._settled_at = now + self._levels.stop_confirm if against else None
        return True

    def _judge_start(self, value: float, now: float) -> bool:
        levels = self._levels
        if value < levels.start:
            before, self._settled_at, self.first_sign = self._settled_at, None, None
            return before is not None
        certain = levels.certain is not None and value >= levels.certain
        if self._settled_at is None or self.first_sign is None:
            self.first_sign = now
            self._settled_at = now if certain else now + self._confirm_time
            return True
        if not certain and now < self.first_sign + LEAST_CONFIRM:
            return False
        # Beyond doubt, or said twice: it has lasted long enough.
        self._settled_at = now
        return True

    @property
    def _confirm_time(self) -> float:
        """How long in s a start has to last without another reading.

        Where the plug's record tells what is beyond doubt, a lower reading is in doubt
        until the plug has had time to say it again.
        """
        settle = self._levels.start_confirm
        if self._levels.certain is None:
            return settle
        interval = self.report_interval
        doubt = _DOUBT if interval is None else in_ticks(_DOUBT_GAPS * interval)
        return max(settle, doubt)

    def _turn(self) -> None:
        """Take the machine for running, or for stopped."""
        self._settled_at = None
        self.running = not self.running
        if self.running:
            # Standby reports come at another pace: they say nothing here.
            self._heard_at = None
        else:
            self.first_sign = None

    def _miss(self, now: float) -> bool:
        self._heard_at = self._value = None
        if self._missing_since is not None:
            return False
        self._missing_since = now
        self._settled_at = None
        if not self.running:
            self.first_sign = None
        return True
