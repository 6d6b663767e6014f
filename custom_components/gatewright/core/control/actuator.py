"""Desired against reported, for one actuator.

The core says how an actuator should stand; whoever moves it reports how it stands, and
may do so late, in a confused order, or not at all. Everything between the two is here, as
a state machine: an event of `actuator_states` leads where its table says. One that issues a
command begins a try (`attempts`): `order` is due until the actuator reports what it
should, and `advance` ends the try when its time is over.
"""

from collections.abc import Callable
from dataclasses import InitVar, dataclass, field
import math
from typing import Final, NamedTuple

from .actuator_memory import ActuatorMemory
from .actuator_states import TRANSITIONS, ActuatorEvent, ActuatorState, Deviation
from .attempts import ONCE, Attempt, Delivery, Tries

_AWAY: Final = 60.0
"""How long in s an actuator that is offline is waited for in silence."""

LEAST_WINDOW: Final = 2.0
"""Shortest time in s in which a command can show, even where nothing has to move."""

_OBEYS = (ActuatorState.CONFIRMED, ActuatorState.SETTLED)
_AT_EASE = (ActuatorState.FREE, ActuatorState.LEFT_BETWEEN, ActuatorState.SETTLED)


class Order(NamedTuple):
    """A command that is due: how to stand, and a number that no other order has."""

    target: bool
    number: int


@dataclass(eq=False, slots=True, kw_only=True)
class Actuator:
    """One actuator: True is on (collector, linked device) or open (gate).

    `window` is the time in s that a command may take to show. `lag` is the time the
    thing itself still moves after its actuator has reported, for an actuator that
    only reports what it was told. `failed` says that the tries are used up; it stands
    until the target is reached or another one takes its place. One that is `no_feedback` is
    there and does not say how it stands: it goes by the time that its commands take.
    """

    window: float
    lag: float = 0.0
    on: Tries = ONCE
    off: Tries = ONCE
    since: InitVar[float] = -math.inf
    """The instant from which on it is known."""
    stirred: Callable[[], None] = lambda: None
    """What is called whenever anything but time changes it."""
    state: ActuatorState = field(default=ActuatorState.FREE, init=False)
    target: bool | None = field(default=None, init=False)
    reported: bool | None = field(default=None, init=False)
    reachable: bool = field(default=False, init=False)
    no_feedback: bool = field(default=False, init=False)
    failed: bool = field(default=False, init=False)
    _heard: bool = field(default=False, init=False)
    _changed_at: float = field(init=False)
    _target_set_at: float = field(init=False)
    _attempt: Attempt = field(init=False)
    _delivery: Delivery = field(default_factory=Delivery, init=False)

    def __post_init__(self, since: float) -> None:
        """Begin without a target and without a report."""
        self._changed_at = self._target_set_at = since
        self._attempt = Attempt(since)

    # What shows -------------------------------------------------------------------

    @property
    def order(self) -> Order | None:
        """The command that is due, or None while there is nothing to do."""
        if self.target is None or not self._is_due:
            return None
        return Order(self.target, self._attempt.number)

    @property
    def due(self) -> float | None:
        """The end of the time that the present command has."""
        return self._attempt.ends if self._waits else None

    def due_after(self, now: float) -> float | None:
        """Return the next instant after `now` at which time alone changes something."""
        due = self._attempt.ends if self._waits else math.inf
        if now < (step := self._changed_at + self.lag) < due:
            due = step
        if self.reported is None and now < (step := self._changed_at + self.window):
            due = min(due, step)
        unheard = not self._heard or self._cut_off
        if unheard and now < (step := self._target_set_at + _AWAY):
            due = min(due, step)
        return None if due == math.inf else due

    def state_at(self, now: float) -> bool | None:
        """How the thing itself stands; None while it is under way or never heard of."""
        return None if now < self._changed_at + self.lag else self.reported

    def stood_since(self, now: float) -> float:
        """Since when it stands as it does; `now` where that is not known."""
        return now if self._changed_at == -math.inf else self._changed_at + self.lag

    @property
    def heard(self) -> bool:
        """Whether how it stands is known from this process, not from an earlier one.

        Of one without feedback nobody knows more than what was done with it.
        """
        return self._heard or self.no_feedback

    @property
    def busy(self) -> bool:
        """Whether it may still carry out something else than what is asked of it."""
        return self._delivery.held_up or self._delivery.contested

    def stays(self, now: float) -> bool:
        """Whether it is on or open and nothing is under way to change that."""
        return self.state_at(now) is True and (
            self.target is not False or self.state is ActuatorState.GIVEN_UP
        )

    def known(self, now: float) -> bool:
        """Whether it is on or open on its own word, not on an earlier process's."""
        return self.heard and self.stays(now)

    def arriving(self, now: float) -> bool:
        """Whether it is on its way to on or open and still within its time."""
        if self.target is False or self.state_at(now) is True:
            return False
        if self.reported is True:
            return True
        given_up = self.state is ActuatorState.GIVEN_UP
        if self.target is True and self.reachable and not given_up:
            attempt, held_up = self._attempt, self._delivery.held_up
            ends = attempt.began + self.window if held_up else attempt.ends
            return now < ends + self.lag
        # Somebody moves it, or it was never heard of yet: it has the time of one
        # stroke to say where it stands.
        return self.reported is None and now < self._changed_at + self.window

    def cut_off(self, now: float) -> bool:
        """Whether it has been offline for too long to stand as it should."""
        return self._cut_off and now >= self._target_set_at + _AWAY

    def rests_off(self, now: float) -> bool:
        """Whether it is off or closed and should not be on, whatever time passes."""
        return (
            self.reported is False
            and self.target is not True
            and (self.target is None or not self._is_due)
            and self.due_after(now) is None
        )

    def expected(self, now: float) -> bool:
        """Whether it has still time to be heard of for the first time."""
        return not self.heard and now < self._target_set_at + _AWAY

    def left_between(self, now: float) -> bool:
        """Whether somebody moved it, at the device, to neither of its ends."""
        return (
            self.reported is None
            and self.state in (ActuatorState.SETTLED, ActuatorState.LEFT_BETWEEN)
            and now >= self._changed_at + self.window
        )

    # What happens to it ---------------------------------------------------------

    def set_times(self, *, window: float, lag: float = 0.0) -> None:
        """Take up changed times, which count for a command under way as well."""
        before = self._span
        self.window, self.lag = window, lag
        if self.state in (ActuatorState.UNDER_WAY, ActuatorState.CONFIRMED):
            self._attempt.ends += self._span - before

    def set_target(self, target: bool | None, now: float) -> None:
        """Set how it should stand; None leaves it as it is."""
        if target == self.target:
            return
        # A command on its way to the opposite may still arrive after this one.
        self._delivery.contested = self._delivery.out
        self.target = target
        self.failed = False
        self._target_set_at = now
        if target is None:
            self._take(ActuatorEvent.RELEASED, now)
        elif self.reported == target and not self._delivery.contested:
            self._take(ActuatorEvent.TARGET_MET_ALREADY, now)
            self._attempt.ends = now
        else:
            self._take(ActuatorEvent.COMMANDED, now)

    def follow_hand(self, now: float) -> None:
        """Accept how it stands as the target, after somebody moved it."""
        self.stirred()
        self.target = self.reported
        self._take(
            ActuatorEvent.FOLLOWED_BETWEEN
            if self.reported is None
            else ActuatorEvent.FOLLOWED,
            now,
        )
        self._delivery.contested = False
        self._attempt.ends = now
        self._arrived()

    def repeat(self, now: float) -> None:
        """Give the present command again, against somebody who undid it."""
        self._take(ActuatorEvent.TRIED_ANEW, now)

    def try_anew(self, now: float) -> None:
        """Have another try where it was given up; it is failed until that succeeds."""
        if self.state is ActuatorState.GIVEN_UP:
            self._take(ActuatorEvent.TRIED_ANEW, now)

    def retry(self, now: float) -> None:
        """Begin anew with the present target, on a person's word."""
        self.failed = False
        self._take(ActuatorEvent.TRIED_ANEW, now)

    def command(self, target: bool, now: float) -> None:
        """Have a command given though it may be reported done: the report is checked."""
        self.set_target(target, now)
        self._delivery.contested = True
        self._take(ActuatorEvent.TRIED_ANEW, now)

    def dispatched(self, now: float) -> None:
        """Note that the command has left: from now on it may take effect.

        The time of one that was held up begins now.
        """
        self.stirred()
        delivery = self._delivery
        if delivery.held_up and self._waits:
            self._attempt.began = now
            self._attempt.ends = now + self._span
        delivery.held_up = delivery.refused = False
        delivery.out = True

    def hold_up(self) -> None:
        """Note that the command waits for one before it that has not returned."""
        self.stirred()
        self._delivery.held_up = True

    def refused(self) -> None:
        """Note that the command which left last was not taken."""
        self.stirred()
        self._delivery.refused = True

    def report(
        self,
        value: bool | None,
        now: float,
        *,
        reachable: bool = True,
        own: bool = False,
        no_feedback: bool = False,
    ) -> Deviation | None:
        """Take a report; None is "between the two", `reachable` False "not there".

        The last known state is kept while the actuator is away or `no_feedback`. An `own`
        report stems from our own command.
        """
        self.stirred()
        self.advance(now)
        returned, self.reachable = not self.reachable, reachable
        was_mute, self.no_feedback = self.no_feedback, reachable and no_feedback
        if not reachable:
            return None
        if no_feedback:
            return self._take(ActuatorEvent.RETURNED_SILENT, now) if returned else None
        if was_mute:
            # What it says now it may have meant for long, unless it follows a command.
            returned = self.state in _AT_EASE
        first, self._heard = not self._heard, True
        previous, self.reported = self.reported, value
        if value != previous or (first and value is None):
            # What an actuator says first may have been so for long.
            self._changed_at = -math.inf if first else now
        if self.target is None and (
            own or returned or value is None or previous in (None, value)
        ):
            return None
        if value == self.target:
            if not self._delivery.contested or now >= self._attempt.ends:
                # A pause before another try may last longer than a command can show.
                attempt = self._attempt
                attempt.ends = min(attempt.ends, attempt.began + self.window)
                self._take(ActuatorEvent.OBEYED, now)
                self._arrived()
            return None
        event = ActuatorEvent.contrary(value, first=first, returned=returned, own=own)
        return self._take(event, now)

    def advance(self, now: float) -> bool:
        """Let time pass up to `now`; return whether that changed anything."""
        if now < self._attempt.ends:
            return False
        if self.state is ActuatorState.CONFIRMED:
            self._take(ActuatorEvent.DONE_IN_TIME, now)
            return False
        if not self._waits:
            return False
        attempt, delivery = self._attempt, self._delivery
        if delivery.held_up:
            # Until it leaves, the one before it may still take effect.
            attempt.ends = now + self._span
            return False
        delivery.contested = False
        done = self.no_feedback and delivery.out and not delivery.refused
        if done and self.reported != self.target:
            self.reported, self._changed_at, self._heard = self.target, now, True
        if self.reported == self.target:
            self._take(ActuatorEvent.DONE_IN_TIME, now)
            self._arrived()
            return True
        attempt.over += 1
        used_up = attempt.over >= self._tries.count
        self.failed = self.failed or used_up
        last = used_up and not self._tries.persistent
        self._take(
            ActuatorEvent.LAST_TRY_TIMED_OUT if last else ActuatorEvent.TIMED_OUT, now
        )
        return True

    def remember(self, now: float) -> ActuatorMemory:
        """Return what has to survive a restart."""
        return ActuatorMemory(
            target=self.target,
            reported=self.reported,
            moves=max(0.0, self._changed_at + self.lag - now),
            window=max(0.0, self._attempt.ends - now),
        )

    def recall(self, kept: ActuatorMemory, now: float, *, passed: float) -> None:
        """Take over the target and last report of an earlier process, `passed` s ago."""
        self.stirred()
        self.target = kept.target
        self.reported = kept.reported
        self.state = kept.state
        self._target_set_at = now
        # What was commanded then may still show.
        self._attempt.began = now
        self._attempt.ends = now + kept.window - passed
        moves = kept.moves - passed
        self._changed_at = now + moves - self.lag if moves > 0 else -math.inf

    # How it follows ---------------------------------------------------------------

    def _take(self, event: ActuatorEvent, now: float) -> Deviation | None:
        """Go where an event leads; return what it tells."""
        if (then := TRANSITIONS.get((self.state, event))) is None:
            return None
        self.state = then.state
        if then.issues:
            self.stirred()
            if event is not ActuatorEvent.TIMED_OUT:
                self._attempt.over = 0
            self._delivery.held_up = False
            self._attempt.begin(now, self._span)
        return then.deviation

    def _arrived(self) -> None:
        self.failed = self._delivery.out = False
        self._attempt.over = 0

    @property
    def _tries(self) -> Tries:
        return self.on if self.target else self.off

    @property
    def _span(self) -> float:
        return self._tries.span(self._attempt.over, self.window)

    @property
    def _is_due(self) -> bool:
        """Whether the target has to be commanded."""
        if not self.reachable or self.state is ActuatorState.GIVEN_UP:
            return False
        obeys = self.reported == self.target or self.state in _OBEYS
        return self._delivery.contested or not obeys

    @property
    def _waits(self) -> bool:
        """Whether a command is under way to an actuator that is there."""
        return self.state is ActuatorState.UNDER_WAY and self.reachable

    @property
    def _cut_off(self) -> bool:
        return (
            not self.reachable
            and self.target is not None
            and self.target != self.reported
        )
