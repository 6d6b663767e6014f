"""The words in which a shop's behavior is told."""

from dataclasses import dataclass
from enum import StrEnum


class Phase(StrEnum):
    """Where the collector is in its sequence."""

    IDLE = "idle"
    OPENING = "opening"
    COLLECTING = "collecting"
    SHUTTING_OFF = "shutting_off"
    SPINNING_DOWN = "spinning_down"


class Cause(StrEnum):
    """Why the collector was started or stopped."""

    MACHINE = "machine"
    REQUEST = "request"
    PURGING = "purge"
    HAND = "hand"
    SHUTOFF_DELAY_OVER = "shutoff_delay_over"
    START_BLOCK = "start_block"
    FIRE_SHUTDOWN = "fire_shutdown"
    NO_GATE_OPEN = "no_gate_open"
    STOPPED_BY_HAND = "stopped_by_hand"
    CAME_ON_BY_ITSELF = "unexpected_start"
    WENT_OFF_BY_ITSELF = "unexpected_stop"


class Refusal(StrEnum):
    """Why something that a person asked for is not done."""

    START_BLOCK = "start_block"
    FIRE_SHUTDOWN = "fire_shutdown"
    NOT_CONNECTED = "not_connected"
    BIN_FULL = "bin_full"
    LAST_OPEN_GATE = "last_open_gate"
    NOT_POWERED = "not_powered"
    MONITOR_ONLY = "monitor_only"


class RefusedError(Exception):
    """Raised when a person asks for what must not be done now."""

    def __init__(self, why: Refusal) -> None:
        super().__init__(why.value)
        self.why = why


@dataclass(frozen=True, slots=True, kw_only=True)
class Switching:
    """A start or stop of the collector, its cause and the machines that needed it.

    `HAND` stands among the machines for a person who asked.
    """

    on: bool
    cause: Cause
    machines: tuple[str, ...]
    at: float


HAND = "hand"
