"""The words in which a shop's behavior is told."""

from dataclasses import dataclass
from enum import StrEnum


class Phase(StrEnum):
    """Where the collector is in its sequence."""

    RESTING = "idle"
    OPENING = "opening"
    COLLECTING = "collecting"
    RUN_ON = "shutting_off"
    COASTING = "spinning_down"


class Cause(StrEnum):
    """Why the collector was started or stopped."""

    MACHINE = "machine"
    REQUEST = "request"
    CLEARING = "purge"
    HAND = "hand"
    RUN_ON_OVER = "shutoff_delay_over"
    LOCKOUT = "start_block"
    EMERGENCY = "fire_shutdown"
    NO_GATE_OPEN = "no_gate_open"
    STOPPED_BY_HAND = "stopped_by_hand"
    CAME_ON_BY_ITSELF = "unexpected_start"
    WENT_OFF_BY_ITSELF = "unexpected_stop"


class Refusal(StrEnum):
    """Why something that a person asked for is not done."""

    LOCKOUT = "start_block"
    EMERGENCY = "fire_shutdown"
    NOT_ATTACHED = "not_connected"
    BIN_FULL = "bin_full"
    LAST_OPEN_GATE = "last_open_gate"
    NOT_POWERED = "not_powered"
    WATCH_ONLY = "monitor_only"


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
