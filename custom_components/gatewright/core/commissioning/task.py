"""What a check sees, what it asks for, and what it wants done."""

from collections.abc import Generator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from ..config import GateKind
from .findings import End


class SignalRole(StrEnum):
    """Which of a gate's entities says how it stands."""

    SLIDE = "slide"
    OPEN_SENSOR = "open_sensor"
    CLOSED_SENSOR = "shut_sensor"


type Signal = tuple[str, SignalRole]
"""A gate, and which of its entities speaks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """What can be seen of the shop at one instant.

    `signals` are as their entities say them, not as they are understood: a slide is
    True for open, a sensor True for on; None says nothing or is between. `running`
    is the verdict on each machine's reading, None without a reading. `away` are
    the gates that are offline, `refused` those whose last command failed. `switched` and
    `powered` are the collector's switch and power; `powered` is None where it is
    not measured. `rest` says that nothing is wanted and the impeller stands still;
    `intrusion` why the check cannot go on, `machine` whose doing that is.
    """

    signals: Mapping[Signal, bool | None] = field(default_factory=dict)
    running: Mapping[str, bool | None] = field(default_factory=dict)
    away: frozenset[str] = frozenset()
    refused: frozenset[str] = frozenset()
    switched: bool | None = None
    powered: bool | None = None
    rest: bool = True
    way: bool = False
    intrusion: End | None = None
    machine: str = ""


class Ask(StrEnum):
    """What a person is asked for."""

    WATCH_GATE = "watch_gate"
    SEE_OPEN = "see_open"
    SEE_CLOSED = "see_shut"
    HOW_STANDS = "how_stands"
    OPEN_BY_HAND = "open_by_hand"
    CLOSED_BY_HAND = "shut_by_hand"
    RUN_MACHINE = "run_machine"
    START_COLLECTOR = "start_collector"
    DOES_TURN = "does_turn"


class Answer(StrEnum):
    """What a person can say to that."""

    GO = "go"
    ARRIVED = "arrived"
    STAYED = "stayed"
    WENT_WRONG_WAY = "went_wrong_way"
    ANOTHER_MOVED = "another_moved"
    IS_OPEN = "is_open"
    IS_CLOSED = "is_shut"
    YES = "yes"
    NO = "no"
    SKIP = "skip"


ANSWERS: Mapping[Ask, tuple[Answer, ...]] = {
    Ask.WATCH_GATE: (Answer.GO, Answer.SKIP),
    Ask.SEE_OPEN: (
        Answer.ARRIVED,
        Answer.STAYED,
        Answer.WENT_WRONG_WAY,
        Answer.ANOTHER_MOVED,
    ),
    Ask.SEE_CLOSED: (
        Answer.ARRIVED,
        Answer.STAYED,
        Answer.WENT_WRONG_WAY,
        Answer.ANOTHER_MOVED,
    ),
    Ask.HOW_STANDS: (Answer.IS_OPEN, Answer.IS_CLOSED, Answer.SKIP),
    Ask.OPEN_BY_HAND: (Answer.GO, Answer.SKIP),
    Ask.CLOSED_BY_HAND: (Answer.GO, Answer.SKIP),
    Ask.RUN_MACHINE: (Answer.GO, Answer.SKIP),
    Ask.START_COLLECTOR: (Answer.GO, Answer.SKIP),
    Ask.DOES_TURN: (Answer.YES, Answer.NO),
}


class Stage(StrEnum):
    """What is waited for while nobody is asked."""

    OPENING = "opening"
    SHUTTING = "shutting"
    HOMING = "homing"
    READING_SENSORS = "reading_sensors"
    HEARING = "hearing"
    FALLING = "falling"
    STARTING = "starting"
    STOPPING = "stopping"


@dataclass(frozen=True, slots=True, eq=False)
class CheckCommand:
    """A stroke that a gate is to make; each is another one, even where it is alike."""

    gate_id: str
    opened: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """What is wanted now: asked of a person, or waited for until `due`.

    `command` is the last stroke that a gate was told to make. With `suspended` a
    machine that runs isn't served; with `collector` the collector is to run.
    """

    part: str
    ask: Ask | None = None
    stage: Stage | None = None
    due: float | None = None
    command: CheckCommand | None = None
    suspended: bool = False
    collector: bool = False


@dataclass(frozen=True, slots=True)
class Moment:
    """What a check is sent: an instant, what can be seen, and what a person said."""

    now: float
    sight: Sight
    answer: Answer | None = None


type Script[R] = Generator[Task, Moment, R]
"""A check: yields tasks, is sent moments, returns what came out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GateToCheck:
    """A gate as the check sees it.

    `roles` are the entities that say where it is, none for one that only says what it
    was told. `home` is where it is put afterwards, True for open; None leaves
    it where it was. `invertible` says that its actuator can be set the other way round.
    """

    gate_id: str
    kind: GateKind = GateKind.POWERED
    travel: float = 5.0
    roles: tuple[SignalRole, ...] = ()
    home: bool | None = False
    invertible: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineToCheck:
    """A machine with a reading; `stop_confirm` as in its levels, in s."""

    machine_id: str
    stop_confirm: float = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CollectorToCheck:
    """The collector: how long its switch may take, and until it is at rest, in s.

    `before` is how long a start may have to wait for gates, delay and motor rest.
    """

    confirm: float = 10.0
    before: float = 15.0
    after: float = 13.0
    measured: bool = False


def wait(task: Task, moment: Moment, until: float) -> Script[Moment]:
    """Wait until an instant whatever happens; return the moment then."""
    while moment.now < until:
        moment = yield task
    return moment
