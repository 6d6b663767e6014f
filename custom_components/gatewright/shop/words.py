"""The words in which a shop's behavior is told."""

from dataclasses import dataclass
from enum import StrEnum


class Phase(StrEnum):
    """Where the collector is in its sequence."""

    RESTING = "resting"
    OPENING = "opening"
    COLLECTING = "collecting"
    RUN_ON = "run_on"
    COASTING = "coasting"


class Cause(StrEnum):
    """Why the collector was started or stopped."""

    MACHINE = "machine"
    REQUEST = "request"
    CLEARING = "clearing"
    HAND = "hand"
    RUN_ON_OVER = "run_on_over"
    LOCKOUT = "lockout"
    EMERGENCY = "emergency"
    NO_GATE_OPEN = "no_gate_open"
    STOPPED_BY_HAND = "stopped_by_hand"
    CAME_ON_BY_ITSELF = "came_on_by_itself"
    WENT_OFF_BY_ITSELF = "went_off_by_itself"


class Refusal(StrEnum):
    """Why something that a person asked for is not done."""

    LOCKOUT = "lockout"
    EMERGENCY = "emergency"
    NOT_ATTACHED = "not_attached"
    BIN_FULL = "bin_full"
    LAST_OPEN_GATE = "last_open_gate"
    NOT_POWERED = "not_powered"
    WATCH_ONLY = "watch_only"


class Refused(Exception):  # noqa: N818 - an answer to a person, not a failure
    """Raised when a person asks for what must not be done now."""

    def __init__(self, why: Refusal) -> None:
        """Keep the reason."""
        super().__init__(why.value)
        self.why = why


@dataclass(frozen=True, slots=True, kw_only=True)
class Switching:
    """A start or stop of the collector, its cause and the machines that wanted air.

    `HAND` stands among the machines for a person who asked.
    """

    on: bool
    cause: Cause
    machines: tuple[str, ...]
    at: float


HAND = "hand"
