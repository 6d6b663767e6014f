"""The states of an actuator, and every way from one to another.

    no target          FREE: whatever it does is right
    command            UNDER_WAY: given, and within the time of one of its tries
      answered         CONFIRMED: until that time is over, a contrary report is noise
        time over      SETTLED: from now on a contrary report means something
      last try over    GIVEN_UP: until it does it after all, or comes back from being offline
    moved by hand      SETTLED where that becomes the target, LEFT_BETWEEN its two ends

What has no row in `TRANSITIONS` changes nothing.
"""

from collections.abc import Mapping
from enum import Enum, StrEnum, auto
from typing import Final, NamedTuple


class Deviation(Enum):
    """A report that contradicts a settled target."""

    HAND = auto()
    """Somebody moved it at the device."""
    BY_ITSELF = auto()
    """It came back from being away other than it should stand (power cut, reboot)."""
    LATE = auto()
    """A command of ours, long overtaken by another, has taken effect after all."""


class ActuatorState(StrEnum):
    """How far an actuator is with what it was commanded."""

    FREE = auto()
    LEFT_BETWEEN = auto()
    UNDER_WAY = auto()
    CONFIRMED = auto()
    SETTLED = auto()
    GIVEN_UP = auto()


class ActuatorEvent(StrEnum):
    """What can happen to an actuator."""

    # The target:
    RELEASED = auto()
    COMMANDED = auto()
    TARGET_MET_ALREADY = auto()
    TRIED_ANEW = auto()
    FOLLOWED = auto()
    FOLLOWED_BETWEEN = auto()
    # The report:
    OBEYED = auto()
    STRAYED = auto()
    """It stands otherwise."""
    STRAYED_ON_COMMAND = auto()
    """It stands otherwise, by a command of ours."""
    STOPPED_BETWEEN = auto()
    RETURNED_ELSEWHERE = auto()
    """It was offline, and stands otherwise."""
    FOUND_ELSEWHERE = auto()
    """It was never heard of before, and stands otherwise."""
    RETURNED_SILENT = auto()
    """It was offline, and does not say how it stands."""
    # The end of a try's time:
    DONE_IN_TIME = auto()
    TIMED_OUT = auto()
    LAST_TRY_TIMED_OUT = auto()

    @classmethod
    def contrary(
        cls, value: bool | None, *, first: bool, returned: bool, own: bool
    ) -> ActuatorEvent:
        """Return what a report is that contradicts the target.

        It may be the `first` of all, come from an actuator that has `returned` from being
        offline, or stem from a command of ours (`own`).
        """
        if returned:
            return cls.FOUND_ELSEWHERE if first else cls.RETURNED_ELSEWHERE
        if value is None:
            return cls.STOPPED_BETWEEN
        return cls.STRAYED_ON_COMMAND if own else cls.STRAYED


class Transition(NamedTuple):
    """Where an event leads, whether a command is issued then, and what it tells."""

    state: ActuatorState
    issues: bool = False
    deviation: Deviation | None = None


def _table() -> Mapping[tuple[ActuatorState, ActuatorEvent], Transition]:
    free, left, under_way, confirmed, settled, given_up = ActuatorState
    event, issue, to = ActuatorEvent, True, Transition
    without_target = (free, left)
    with_target = (under_way, confirmed, settled, given_up)
    rows = (
        # The target:
        (ActuatorState, event.RELEASED, to(free, issue)),
        (ActuatorState, event.COMMANDED, to(under_way, issue)),
        (ActuatorState, event.TARGET_MET_ALREADY, to(settled, issue)),
        (without_target, event.TRIED_ANEW, to(free, issue)),
        (with_target, event.TRIED_ANEW, to(under_way, issue)),
        (ActuatorState, event.FOLLOWED, to(settled)),
        (ActuatorState, event.FOLLOWED_BETWEEN, to(left)),
        # The report:
        ((under_way,), event.OBEYED, to(confirmed)),
        ((given_up,), event.OBEYED, to(settled)),
        ((free,), event.STRAYED, to(free, deviation=Deviation.HAND)),
        ((left,), event.STRAYED, to(left, deviation=Deviation.HAND)),
        ((confirmed,), event.STRAYED, to(under_way)),
        ((settled,), event.STRAYED, to(settled, deviation=Deviation.HAND)),
        ((confirmed,), event.STRAYED_ON_COMMAND, to(under_way)),
        ((settled,), event.STRAYED_ON_COMMAND, to(under_way, issue, Deviation.LATE)),
        ((confirmed,), event.STOPPED_BETWEEN, to(under_way)),
        (with_target, event.RETURNED_ELSEWHERE, to(under_way, issue)),
        (
            (settled,),
            event.RETURNED_ELSEWHERE,
            to(under_way, issue, Deviation.BY_ITSELF),
        ),
        (with_target, event.FOUND_ELSEWHERE, to(under_way, issue, Deviation.BY_ITSELF)),
        ((under_way, given_up), event.RETURNED_SILENT, to(under_way, issue)),
        # The end of a try's time:
        ((under_way, confirmed), event.DONE_IN_TIME, to(settled)),
        ((under_way,), event.TIMED_OUT, to(under_way, issue)),
        ((under_way,), event.LAST_TRY_TIMED_OUT, to(given_up)),
    )
    return {(state, what): then for states, what, then in rows for state in states}


TRANSITIONS: Final = _table()
