"""What is kept of an actuator over a restart, as it is stored."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ActuatorMemory:
    """How an actuator stood, and how it should.

    `moves` is for how many seconds the thing itself still moves, `window` for how
    many the last command may still show.
    """

    want: bool | None
    reported: bool | None
    moves: float = 0.0
    window: float = 0.0
