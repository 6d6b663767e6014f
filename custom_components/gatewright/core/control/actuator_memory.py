"""What is kept of an actuator over a restart, as it is stored."""

from dataclasses import dataclass

from .actuator_states import ActuatorState


@dataclass(frozen=True, slots=True, kw_only=True)
class ActuatorMemory:
    """How an actuator stood, and how it should.

    `moves` is for how many seconds the thing itself still moves, `window` for how
    many the last command may still show.
    """

    target: bool | None
    reported: bool | None
    moves: float = 0.0
    window: float = 0.0

    @property
    def state(self) -> ActuatorState:
        """The state in which the actuator goes on."""
        if self.target is None:
            return ActuatorState.FREE
        if self.target == self.reported:
            return ActuatorState.CONFIRMED
        return ActuatorState.UNDER_WAY
