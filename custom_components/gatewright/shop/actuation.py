"""Desired against reported, for one actuator.

The core says how an actuator should stand; whoever moves it reports how it stands.
Everything between the two is here: the window in which a command may be confirmed late
or in a confused order, the second try, giving up, an absence, a hand on the device.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
import math

_SLOWEST_RETRY = 300.0
"""Longest pause in s between two tries of a command that must not be given up."""

_MOST_DOUBLINGS = 10
"""More doublings of a window than it takes to reach the slowest pace."""

_AWAY = 60.0
"""How long in s an actuator that is out of reach is waited for in silence."""

LEAST_WINDOW = 2.0
"""The shortest time in s in which a command can be expected to show: the way there
and back takes its time even where nothing has to move."""


class Deviation(Enum):
    """A report that contradicts a settled wish."""

    HAND = auto()
    """Somebody moved it at the device."""
    BY_ITSELF = auto()
    """It came back from being away other than it should stand (power cut, reboot)."""
    LATE = auto()
    """A command of ours, long overtaken by another, has taken effect after all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tries:
    """How often a command is given before the actuator counts as failed.

    `persistent` goes on trying after that, more and more slowly.
    """

    count: int = 1
    persistent: bool = False


@dataclass(frozen=True, slots=True)
class Order:
    """A command that is due: how to stand, and a number that no other order has."""

    want: bool
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ActuatorMemory:
    """What is kept of an actuator over a restart.

    `moves` is for how many seconds the thing itself still moves, `window` for how
    many the last command may still show.
    """

    want: bool | None
    reported: bool | None
    moves: float = 0.0
    window: float = 0.0


class Actuator:
    """One actuator: True is on (collector, companion) or open (gate).

    `window` is the time in s that a command may take to show. `lag` is the time the
    thing itself still moves after its actuator has reported, for an actuator that
    only reports what it was told. An `own` report stems from our own command.
    `failed` says that the tries are used up; it stands until the wish is fulfilled
    or another one takes its place. One that is `mute` is there and does not say how it
    stands: it goes by the time that its commands take.
    """

    __slots__ = (
        "_changed_at",
        "_confirmed",
        "_expired",
        "_heard",
        "_held_up",
        "_issued_at",
        "_number",
        "_off",
        "_on",
        "_outstanding",
        "_refused",
        "_stirred",
        "_unsettled",
        "_window_end",
        "_wished_at",
        "failed",
        "lag",
        "mute",
        "reachable",
        "reported",
        "want",
        "window",
    )

    def __init__(
        self,
        *,
        window: float,
        lag: float = 0.0,
        on: Tries | None = None,
        off: Tries | None = None,
        since: float = -math.inf,
        stirred: Callable[[], None] = lambda: None,
    ) -> None:
        """Start without a wish and without a report, known of `since` an instant.

        `stirred` is called whenever anything but time changes it.
        """
        self._stirred = stirred
        self.window = window
        self.lag = lag
        self._on = on or Tries()
        self._off = off or Tries()
        self.want: bool | None = None
        self.reported: bool | None = None
        self.reachable = False
        self.failed = False
        self.mute = False
        self._heard = False
        self._changed_at = since
        self._confirmed = False
        self._unsettled = False
        self._expired = 0
        self._number = 0
        self._outstanding = False
        self._held_up = False
        self._refused = False
        self._issued_at = since
        self._window_end = math.inf
        self._wished_at = since

    @property
    def order(self) -> Order | None:
        """The command that is due, or None while there is nothing to do."""
        if self.want is None or not self.reachable:
            return None
        if (self.reported == self.want or self._confirmed) and not self._unsettled:
            return None
        if self._given_up:
            return None
        return Order(self.want, self._number)

    @property
    def due(self) -> float | None:
        """The end of the time that the present command has."""
        due = self._window_end if self._waiting else math.inf
        return None if due == math.inf else due

    def due_after(self, now: float) -> float | None:
        """Return the next instant after `now` at which time alone changes something."""
        due = math.inf if (ends := self.due) is None else ends
        if now < (step := self._changed_at + self.lag) < due:
            due = step
        if self.reported is None and now < (step := self._changed_at + self.window):
            due = min(due, step)
        unheard = not self._heard or self._cut_off
        if unheard and now < (step := self._wished_at + _AWAY):
            due = min(due, step)
        return None if due == math.inf else due

    def stands(self, now: float) -> bool | None:
        """How the thing itself stands; None while it is under way or never heard of."""
        if now < self._changed_at + self.lag:
            return None
        return self.reported

    def stood_since(self, now: float) -> float:
        """Since when it stands as it does; `now` where that is not known."""
        return now if self._changed_at == -math.inf else self._changed_at + self.lag

    @property
    def busy(self) -> bool:
        """Whether it may still carry out something else than what is wished."""
        return self._held_up or self._unsettled

    def stays(self, now: float) -> bool:
        """Whether it is on or open and nothing is under way to change that."""
        return self.stands(now) is True and (self.want is not False or self._given_up)

    def known(self, now: float) -> bool:
        """Whether it is on or open on its own word, not on an earlier process's.

        Of one that is mute nobody knows more than what was done with it.
        """
        return (self._heard or self.mute) and self.stays(now)

    def arriving(self, now: float) -> bool:
        """Whether it is on its way to on or open and still within its time."""
        if self.want is False or self.stands(now) is True:
            return False
        if self.reported is True:
            return True
        if self.want is True and self.reachable and not self._given_up:
            ends = self._issued_at + self.window if self._held_up else self._window_end
            return now < ends + self.lag
        # Somebody moves it, or it was never heard of yet: it has the time of one
        # stroke to say where it stands.
        return self.reported is None and now < self._changed_at + self.window

    def cut_off(self, now: float) -> bool:
        """Whether it has been out of reach for too long to stand as it should."""
        return self._cut_off and now >= self._wished_at + _AWAY

    def rests_off(self, now: float) -> bool:
        """Whether it is off or shut and should not be on, whatever time passes."""
        return (
            self.reported is False
            and self.want is not True
            and self.order is None
            and self.due_after(now) is None
        )

    def expected(self, now: float) -> bool:
        """Whether it has still time to be heard of for the first time."""
        waits = not (self._heard or self.mute)
        return waits and now < self._wished_at + _AWAY

    def left_between(self, now: float) -> bool:
        """Whether somebody moved it, at the device, to neither of its ends."""
        return (
            self._settled(now)
            and self.reported is None
            and now >= self._changed_at + self.window
        )

    def wish(self, want: bool | None, now: float) -> None:
        """Set how it should stand; None leaves it as it is."""
        if want == self.want:
            return
        # A command on its way to the opposite may still arrive after this one.
        self._unsettled = self._outstanding
        self.want = want
        self._confirmed = False
        self._expired = 0
        self.failed = False
        self._wished_at = now
        self._issue(now)
        if want is not None and self.reported == want and not self._unsettled:
            self._confirmed, self._window_end = True, now

    def report(
        self,
        value: bool | None,
        now: float,
        *,
        reachable: bool = True,
        own: bool = False,
        mute: bool = False,
    ) -> Deviation | None:
        """Take a report; None is "between the two", `reachable` False "not there".

        The last known stand is kept while the actuator is away or `mute`.
        """
        self._stirred()
        self.advance(now)
        returned, self.reachable = not self.reachable, reachable
        if not reachable:
            self.mute = False
            return None
        if mute:
            self.mute = True
            if returned and self.want is not None and not self._confirmed:
                self._again(now)
            return None
        if self.mute:
            # What it says now it may have meant for long, unless it follows a command.
            returned = self.want is None or self._settled(now)
            self.mute = False
        first = not self._heard
        self._heard = True
        previous, self.reported = self.reported, value
        if value != previous:
            # What an actuator says first may have been so for long.
            self._changed_at = -math.inf if first else now
        if self.want is None:
            quiet = value is None or previous in (None, value) or own or returned
            return None if quiet else Deviation.HAND
        if value == self.want:
            self._confirmed = not self._unsettled or now >= self._window_end
            if self._confirmed:
                self._arrived()
                if self._window_end == math.inf:
                    # It was given up: what comes now is no late answer any more.
                    self._window_end = now
            return None
        settled = self._settled(now)
        if returned:
            self._again(now)
            return Deviation.BY_ITSELF if settled or first else None
        if not settled:
            self._confirmed = False
        if not settled or value is None:
            return None
        if own:
            self._again(now)
            return Deviation.LATE
        return Deviation.HAND

    def follow_hand(self, now: float) -> None:
        """Accept how it stands as the wish, after somebody moved it."""
        self._stirred()
        self.want = self.reported
        self._confirmed, self._unsettled, self._window_end = True, False, now
        self._arrived()

    def insist(self, now: float) -> None:
        """Give the present command again, against somebody who undid it."""
        self._again(now)

    def try_anew(self, now: float) -> None:
        """Have another try where it was given up; it is failed until that succeeds."""
        if self._given_up:
            self._again(now)

    def retry(self, now: float) -> None:
        """Begin anew with the present wish, on a person's word."""
        self.failed = False
        self._again(now)

    def command(self, want: bool, now: float) -> None:
        """Have a command given though it may be reported done: the report is checked."""
        self.wish(want, now)
        self._unsettled = True
        self._again(now)

    def dispatched(self, now: float) -> None:
        """Note that the command has left: from now on it may take effect.

        The time of one that was held up begins now.
        """
        self._stirred()
        self._outstanding = True
        self._refused = False
        if self._held_up:
            self._held_up = False
            if self._waiting:
                self._window_end = now + self._span

    def hold_up(self) -> None:
        """Note that the command waits for one before it that has not returned."""
        self._stirred()
        self._held_up = True

    def refused(self) -> None:
        """Note that the command which left last was not taken."""
        self._stirred()
        self._refused = True

    def remember(self, now: float) -> ActuatorMemory:
        """Return what has to survive a restart."""
        window_end = now if self._window_end == math.inf else self._window_end
        return ActuatorMemory(
            want=self.want,
            reported=self.reported,
            moves=max(0.0, self._changed_at + self.lag - now),
            window=max(0.0, window_end - now),
        )

    def recall(self, kept: ActuatorMemory, now: float, *, passed: float) -> None:
        """Take over what an earlier process wished and last heard, `passed` s ago."""
        self._stirred()
        self.want = kept.want
        self.reported = kept.reported
        self._confirmed = kept.want is not None and kept.want == kept.reported
        self._wished_at = now
        # What was commanded then may still show.
        self._window_end = now + kept.window - passed
        moves = kept.moves - passed
        self._changed_at = now + moves - self.lag if moves > 0 else -math.inf

    def advance(self, now: float) -> bool:
        """Let time pass up to `now`; return whether that changed anything."""
        if not self._waiting or now < self._window_end:
            return False
        if self._held_up:
            # Until it leaves, the one before it may still take effect.
            self._window_end = now + self._span
            return False
        self._unsettled = False
        done = self.mute and self._outstanding and not self._refused
        if done and self.reported != self.want:
            self.reported, self._changed_at, self._heard = self.want, now, True
        if self.reported == self.want:
            self._confirmed = True
            self._arrived()
            return True
        self._expired += 1
        self.failed = self.failed or self._expired >= self._tries.count
        if not self._given_up:
            self._issue(now)
        else:
            self._window_end = math.inf
        return True

    @property
    def _tries(self) -> Tries:
        return self._on if self.want else self._off

    @property
    def _span(self) -> float:
        """How long in s the present try may take."""
        slower = 2.0 ** min(max(0, self._expired - self._tries.count), _MOST_DOUBLINGS)
        return min(self.window * slower, max(self.window, _SLOWEST_RETRY))

    @property
    def _given_up(self) -> bool:
        tries = self._tries
        return self._expired >= tries.count and not tries.persistent

    @property
    def _cut_off(self) -> bool:
        return (
            not self.reachable and self.want is not None and self.want != self.reported
        )

    @property
    def _waiting(self) -> bool:
        return self.want is not None and not self._confirmed and self.reachable

    def _settled(self, now: float) -> bool:
        """Whether the wish was fulfilled and its window is over."""
        return self._confirmed and now >= self._window_end

    def _arrived(self) -> None:
        self.failed = self._outstanding = False
        self._expired = 0

    def _again(self, now: float) -> None:
        self._confirmed = False
        self._expired = 0
        self._issue(now)

    def _issue(self, now: float) -> None:
        self._stirred()
        self._number += 1
        self._held_up = False
        self._issued_at = now
        self._window_end = now + self._span
