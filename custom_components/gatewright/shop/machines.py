"""The small machine that every machine of the shop has: idle, running, holding, clearing."""

from enum import StrEnum

from .plan import Machine
from .sensing import RunSensor


class MachinePhase(StrEnum):
    """What a machine is doing as far as the air is concerned."""

    IDLE = "idle"
    RUNNING = "running"
    HOLDING = "holding"
    CLEARING = "clearing"


class MachineRun:
    """One machine: its reading, its requests and where it is in its sequence."""

    __slots__ = (
        "_sensed_last",
        "_waits_until",
        "attached",
        "phase",
        "plan",
        "request_until",
        "requested",
        "sensor",
        "step",
        "until",
    )

    def __init__(self, plan: Machine, now: float) -> None:
        """Start idle, with nothing known."""
        self.plan = plan
        self.sensor = None if plan.levels is None else RunSensor(plan.levels, now)
        self.phase = MachinePhase.IDLE
        self.until: float | None = None
        self.step = 0
        self.attached: bool | None = None
        self.requested = False
        self.request_until: float | None = None
        self._sensed_last = False
        self._waits_until: float | None = None

    @property
    def is_attached(self) -> bool:
        """Whether its hose and signal are connected; always so for a fixed machine."""
        return not self.plan.movable or self.attached is True

    @property
    def senses_running(self) -> bool:
        """Whether the machine itself runs."""
        return self.sensor is not None and self.sensor.running and self.is_attached

    @property
    def in_use(self) -> bool:
        """Whether its time counts: it runs, or a pickup without a sensor is asked for."""
        if self.sensor is None:
            return self.requested
        return self.senses_running

    @property
    def starting(self) -> bool:
        """Whether a start is being confirmed."""
        return self.sensor is not None and self.sensor.starting and self.is_attached

    @property
    def wants_air(self) -> bool:
        """Whether the collector has to run for it."""
        match self.phase:
            case MachinePhase.RUNNING | MachinePhase.HOLDING:
                return self.plan.needs_air or self.requested
            case MachinePhase.CLEARING:
                return True
            case _:
                return False

    @property
    def wanted_gates(self) -> tuple[str, ...]:
        """The gates that have to be open for it now."""
        if not self.wants_air:
            return ()
        if self.phase is MachinePhase.CLEARING:
            return self.plan.clearing[self.step].gates
        return self.plan.gates

    @property
    def runs_companions(self) -> bool:
        """Whether its companions run: with its work, not while it is cleared."""
        return self.phase in (MachinePhase.RUNNING, MachinePhase.HOLDING)

    @property
    def quiet(self) -> bool:
        """Whether nothing will happen to it without a new event."""
        return (
            self.phase is MachinePhase.IDLE
            and not self.in_use
            and (self.sensor is None or self.sensor.due is None)
        )

    def due_after(self, now: float) -> float | None:
        """Return the next instant after `now` at which time alone changes something."""
        instants = (
            None if self.sensor is None else self.sensor.due,
            self.until,
            self.request_until,
            self._waits_until,
        )
        return min(
            (due for due in instants if due is not None and due > now), default=None
        )

    def request(self, now: float, limit: float | None) -> None:
        """Ask for air by hand, for at most `limit` seconds (None: until withdrawn)."""
        self.requested = True
        self.request_until = None if limit is None else now + limit

    def withdraw(self) -> None:
        """Take a request back."""
        self.requested = False
        self.request_until = None

    def advance(self, now: float, *, served: bool, air: bool, patience: float) -> bool:
        """Let time pass up to `now`; return whether the phase changed.

        `served` says that its running counts as demand, `air` that the gates of the
        present clearing step have air. A step waits at most `patience` seconds for
        its air and is dropped then.
        """
        if self.sensor is not None:
            self.sensor.advance(now)
        if self.request_until is not None and now >= self.request_until:
            self.withdraw()
        before = (self.phase, self.step)
        sensed = served and self.senses_running
        if self.requested or sensed:
            self._sensed_last = sensed
            self._enter(MachinePhase.RUNNING)
        elif self.phase is MachinePhase.RUNNING:
            self._end_work(now, served=served, patience=patience)
        elif not served or not self.is_attached:
            self._enter(MachinePhase.IDLE)
        elif self.phase is MachinePhase.HOLDING:
            # A start that is being confirmed is waited for.
            if self.until is not None and now >= self.until and not self.starting:
                self._clear(0, now, patience)
        elif self.phase is MachinePhase.CLEARING:
            self._advance_clearing(now, air=air, patience=patience)
        return before != (self.phase, self.step)

    def replan(self, plan: Machine) -> None:
        """Take up a changed plan; a clearing step that is gone ends."""
        self.plan = plan
        if self.sensor is not None and plan.levels is not None:
            self.sensor.levels = plan.levels
        if self.phase is MachinePhase.CLEARING and self.step >= len(plan.clearing):
            self._enter(MachinePhase.IDLE)

    def restore(
        self, phase: MachinePhase, step: int, left: float | None, now: float
    ) -> None:
        """Take up where an earlier process was, with `left` seconds to go."""
        if phase is MachinePhase.CLEARING and step >= len(self.plan.clearing):
            return
        self.phase = phase
        self.step = step
        self._sensed_last = True
        if phase in (MachinePhase.HOLDING, MachinePhase.CLEARING):
            self.until = now + (left or 0.0)

    def _end_work(self, now: float, *, served: bool, patience: float) -> None:
        withdrawn = not self._sensed_last
        if not self.is_attached or not (served or withdrawn):
            self._enter(MachinePhase.IDLE)
        elif self.plan.hold and not withdrawn:
            self._enter(MachinePhase.HOLDING)
            self.until = now + self.plan.hold
        else:
            self._clear(0, now, patience)

    def _advance_clearing(self, now: float, *, air: bool, patience: float) -> None:
        if self.until is None and air:
            self._waits_until = None
            self.until = now + self.plan.clearing[self.step].duration
        if (self.until is not None and now >= self.until) or (
            self._waits_until is not None and now >= self._waits_until
        ):
            self._clear(self.step + 1, now, patience)

    def _clear(self, step: int, now: float, patience: float) -> None:
        if step >= len(self.plan.clearing):
            self._enter(MachinePhase.IDLE)
            return
        self._enter(MachinePhase.CLEARING)
        self.step = step
        self._waits_until = now + patience

    def _enter(self, phase: MachinePhase) -> None:
        self.phase = phase
        self.step = 0
        self.until = None
        self._waits_until = None
