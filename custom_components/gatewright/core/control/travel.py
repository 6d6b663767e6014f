"""How one gate really moves: its measured strokes, and whether it can be counted on.

The collector may start while a gate is still on its way. For that the shop has to know
when the gate is due, and which gate has not kept its word before.
"""

from collections import deque
from collections.abc import Mapping
from statistics import median
from typing import Any

from ..times import in_ticks

PASSABLE = 1 / 3
"""Share of a gate's opening from which it counts as passable."""

_STROKES_KEPT = 9
_STROKES_RECENT = 5
_LEAST_MARGIN = 1.0
_MARGIN = 0.3
_GAP_MARGIN, _GAP_LATE = 1.5, 0.1
"""How many times as long as usual, and how many s, a position may stay the same."""
_FIRST_ANSWER = 2.0
"""How much longer in s a gate may take that was never timed: a relay's answer has its
own way to go, and nobody knows yet how long that is."""

LATENCY = 0.2
"""How much later in s a gate's actuator may begin than the collector's switch, told at the
same time: from memory, usual for relays and drives on a home's radio."""


class Travel:
    """What is known of the movement of one gate, apart from what it was told to do.

    Strokes are times in s from the command until the gate reported the end, or for one
    that only reports what it was told until its travel time was over. `trusted` says
    that it did what it was told the last time. `position` is how far it is open, 0 to 1,
    where that is reported. Where positions come while it moves, one that stays small means
    something.
    """

    __slots__ = (
        "_closing",
        "_gap",
        "_gaps",
        "_longest",
        "_moved_at",
        "_opening",
        "_told",
        "_told_at",
        "_usual",
        "_whole",
        "position",
        "trusted",
    )

    def __init__(self) -> None:
        self._opening: deque[float] = deque(maxlen=_STROKES_KEPT)
        self._closing: deque[float] = deque(maxlen=_STROKES_KEPT)
        self._usual: float | None = None
        self._longest: float | None = None
        self._told: bool | None = None
        self._told_at: float | None = None
        self._whole = False
        self.trusted = True
        self.position: float | None = None
        self._moved_at: float | None = None
        self._gap = 0.0
        self._gaps: deque[float] = deque(maxlen=_STROKES_RECENT)

    @property
    def told_at(self) -> float | None:
        """When the command to open left that has not been fulfilled yet."""
        return self._told_at if self._told else None

    @property
    def waits(self) -> bool:
        """Whether its arrival says anything: it was told to move, or failed before."""
        return self._told is not None or not self.trusted

    @property
    def seen(self) -> bool:
        """Whether it was ever seen to open."""
        return bool(self._opening)

    def stroke(self, *, opening: bool = True) -> float | None:
        """Return how long a stroke usually takes in s: the median of the last nine."""
        if opening:
            return self._usual
        return median(self._closing) if self._closing else None

    def strokes(self, *, opening: bool) -> tuple[float, ...]:
        """Return the last strokes one way in s, the newest last."""
        return tuple(self._opening if opening else self._closing)

    @property
    def longest(self) -> float | None:
        """The longest of the last five opening strokes in s.

        A gate that has become slow is judged by what it needs now.
        """
        return self._longest

    def _compare(self) -> None:
        """Find out what its strokes have in common, which is asked far more often."""
        self._usual = median(self._opening) if self._opening else None
        self._longest = max(list(self._opening)[-_STROKES_RECENT:], default=None)

    def told(self, target: bool, now: float, *, stood: bool | None) -> None:
        """Note that a command left; `stood` is how the gate was reported then.

        Another try of the same command gives the gate no more time.
        """
        if self._told is target and self._told_at is not None:
            self._whole = False
            return
        self._told, self._told_at = target, now
        self._whole = stood is (not target)
        self._moved_at, self._gap = now, 0.0

    def arrived(self, state_at: bool, at: float) -> None:
        """Note that the gate has been open, or closed, since an instant."""
        if state_at:
            self.trusted = True
        if self._told is None:
            return
        if self._told is state_at and self._told_at is not None and self._whole:
            kept = self._opening if state_at else self._closing
            kept.append(max(0.0, at - self._told_at))
            self._compare()
            if state_at and self._gap:
                self._gaps.append(self._gap)
        if self._told is state_at:
            self._told = self._told_at = None

    def interrupted(self) -> None:
        """Note that a person moved it: this stroke measures nothing."""
        self._told = self._told_at = None

    def moved(self, position: float | None, now: float) -> None:
        """Take a reported position; None is "not known"."""
        before, self.position = self.position, position
        if position is None or position == before or self._moved_at is None:
            return
        if 0.05 < position < 0.95:
            self._gap = max(self._gap, now - self._moved_at)
        self._moved_at = now

    @property
    def passable(self) -> bool:
        """Whether it reports to be open far enough for the impeller."""
        return self.position is not None and self.position >= PASSABLE

    @property
    def lags_from(self) -> float | None:
        """When its position will have stayed small for longer than it usually does.

        None where its positions say nothing, or that it is open far enough.
        """
        if self.told_at is None or self._moved_at is None or not self._gaps:
            return None
        if self.passable:
            return None
        return self._moved_at + in_ticks(_GAP_MARGIN * max(self._gaps) + _GAP_LATE)

    def passable_at(self, travel: float, now: float, *, feedback: bool) -> float:
        """Return when it is due to be a third open, by even motion.

        `travel` is the time in s that its owner entered; one with `feedback` goes by its
        strokes. A command that has not left leaves `now`.
        """
        usual = self.stroke() if feedback else None
        takes = LATENCY + (travel if usual is None else usual) * PASSABLE
        return (now if self.told_at is None else self.told_at) + in_ticks(takes)

    def overdue_at(self, travel: float) -> float | None:
        """Return when it should have been open for so long that it has failed.

        That is what it may take at most, and a second or three tenths of it.
        """
        if (told_at := self.told_at) is None:
            return None
        longest = self.longest
        due = travel if longest is None else longest
        margin = max(_LEAST_MARGIN, _MARGIN * due)
        if longest is None:
            margin = max(margin, _FIRST_ANSWER)
        return told_at + in_ticks(due + margin)

    def resume(self, age: float, now: float) -> None:
        """Go on waiting for it to open, which it was told `age` s ago."""
        self._told, self._told_at = True, now - age

    def remember(self, now: float) -> dict[str, Any]:
        """Return what has to survive a restart."""
        return {
            "opening": list(self._opening),
            "closing": list(self._closing),
            "trusted": self.trusted,
            "gaps": list(self._gaps),
            "position": self.position,
            "told_age": None if self.told_at is None else now - self.told_at,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Take up what `remember` described."""
        self._opening.extend(kept["opening"])
        self._closing.extend(kept["closing"])
        self._compare()
        self.trusted = kept["trusted"]
        self._gaps.extend(kept["gaps"])
        self.position = kept["position"]
