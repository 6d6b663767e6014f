"""The small machine that every machine of the shop has: idle, running, holding, purging."""

from collections.abc import Callable, Mapping
from dataclasses import InitVar, dataclass, field
from enum import StrEnum
from typing import Any

from ..config import MachineConfig
from ..times import instant_after, next_after, over, time_left
from .first_sign import EarlySignal, FirstSign
from .hose_signal import HoseSignal
from .plug_relay import PlugRelay
from .run_detection import RunDetector


class MachinePhase(StrEnum):
    """Where a machine is in its sequence."""

    IDLE = "idle"
    RUNNING = "running"
    HOLDING = "holding"
    PURGING = "purging"


@dataclass(eq=False, slots=True)
class Machine:
    """One machine: its reading, its requests and where it is in its sequence."""

    plan: MachineConfig
    now: InitVar[float]
    sensor: RunDetector | None = field(init=False)
    hose: HoseSignal = field(init=False)
    first_sign: FirstSign = field(default_factory=FirstSign)
    early_signal: EarlySignal = field(default_factory=EarlySignal)
    relay: PlugRelay = field(default_factory=PlugRelay)
    phase: MachinePhase = MachinePhase.IDLE
    until: float | None = None
    waits_until: float | None = None
    step: int = 0
    requested: bool = False
    request_until: float | None = None
    running_since: float | None = None
    _sensed_last: bool = False

    def __post_init__(self, now: float) -> None:
        """Start idle, with nothing known."""
        levels = self.plan.levels
        self.sensor = None if levels is None else RunDetector(levels, now)
        self.hose = HoseSignal(now)

    @property
    def connected(self) -> bool | None:
        """Whether its hose and signal are connected; None where nobody ever said so."""
        return self.hose.connected

    @property
    def is_connected(self) -> bool:
        """Whether its hose and signal are connected; always so for a fixed machine."""
        return not self.plan.movable or self.hose.connected is True

    @property
    def senses_running(self) -> bool:
        """Whether the machine itself runs."""
        return self.sensor is not None and self.sensor.running and self.is_connected

    @property
    def in_use(self) -> bool:
        """Whether its time counts: it runs, or a pickup without a sensor is asked for."""
        if self.sensor is None:
            return self.requested
        return self.senses_running

    @property
    def starting(self) -> bool:
        """Whether a start is being confirmed."""
        return self.sensor is not None and self.sensor.starting and self.is_connected

    @property
    def unclear(self) -> bool:
        """Whether it may be running for all anybody knows."""
        if self.sensor is None or self.hose.connected is False:
            return False
        return self.sensor.starting or (self.sensor.missing and not self.sensor.lost)

    @property
    def proven(self) -> bool:
        """Whether nothing speaks against its demand, and not only a lost reading for it."""
        return (
            self.requested
            or self.sensor is None
            or not (self.sensor.missing or self.sensor.stopping)
        )

    @property
    def wants_collection(self) -> bool:
        """Whether the collector has to run for it."""
        match self.phase:
            case MachinePhase.RUNNING | MachinePhase.HOLDING:
                return self.plan.collect_while_running or self.requested
            case MachinePhase.PURGING:
                return True
            case _:
                return False

    @property
    def work_gates(self) -> tuple[str, ...]:
        """The gates for its work.

        One with its own extractor may have none: a request then opens those of its first
        purge step.
        """
        if self.plan.gates or not self.plan.purge:
            return self.plan.gates
        return self.plan.purge[0].gates

    @property
    def wanted_gates(self) -> tuple[str, ...]:
        """The gates that have to be open for it now."""
        if not self.wants_collection:
            return ()
        if self.phase is MachinePhase.PURGING:
            return self.plan.purge[self.step].gates
        return self.work_gates

    @property
    def foreseen_gates(self) -> tuple[str, ...]:
        """The gates that it will want if it turns out to run."""
        return (
            self.work_gates if self.plan.collect_while_running or self.requested else ()
        )

    @property
    def runs_linked_devices(self) -> bool:
        """Whether its linked devices run: with its work, not during its purge."""
        return self.phase in (MachinePhase.RUNNING, MachinePhase.HOLDING)

    def quiet(self, now: float) -> bool:
        """Whether nothing will happen to it, or is wrong with it, without a new event."""
        if self.phase is not MachinePhase.IDLE or self.in_use:
            return False
        if self.early_signal.acts(now) or self.early_signal.due_after(now) is not None:
            return False
        if self.sensor is not None and (
            self.sensor.lost or self.sensor.due is not None
        ):
            return False
        return (
            not self.hose.lost
            and self.hose.lost_at(self.plan) is None
            and self.hose.counts_at(self.plan) is None
            and not self.relay.contradicted
        )

    def left_on(self, now: float) -> bool:
        """Whether it has been running for longer than its owner thinks likely."""
        due = self.left_on_due
        return due is not None and now >= due

    @property
    def left_on_due(self) -> float | None:
        """When it will have been running for longer than its owner thinks likely."""
        if self.running_since is None or self.plan.run_limit is None:
            return None
        return self.running_since + self.plan.run_limit

    def due_after(self, now: float) -> float | None:
        """Return the next instant after `now` at which time alone changes something."""
        instants = (
            None if self.sensor is None else self.sensor.due,
            self.until,
            self.request_until,
            self.waits_until,
            self.left_on_due,
            self.hose.lost_at(self.plan),
            self.hose.counts_at(self.plan),
            self.first_sign.due(starting=self.starting),
            self.early_signal.due_after(now),
        )
        return next_after(now, instants)

    def set_connected(self, connected: bool | None, now: float) -> None:
        """Take the signal of the hose; None is "not known" and leaves it as it was."""
        if self.hose.hear(connected, now) and not self.is_connected:
            self.withdraw()

    def trust_hose(self) -> bool:
        """Take the contact's word at once, for somebody who asks; return what it says."""
        self.hose.trust()
        return self.is_connected

    def request(self, now: float, limit: float | None) -> None:
        """Ask for dust collection, for at most `limit` seconds (None: until withdrawn)."""
        self.requested = True
        self.request_until = None if limit is None else now + limit

    def withdraw(self) -> None:
        """Take a request back."""
        self.requested = False
        self.request_until = None

    def give_up_waiting(self) -> None:
        """End the hold and the purge: a person wants it quiet."""
        if self.phase is not MachinePhase.RUNNING or not self.senses_running:
            self._enter(MachinePhase.IDLE)

    def advance(
        self,
        now: float,
        *,
        automatic: bool,
        allowed: bool,
        air: Callable[[], bool],
        patience: float,
        spin_down: float,
    ) -> None:
        """Let time pass up to `now`.

        `automatic` says that its running counts as demand, `allowed` that anything
        does. A first sign that comes to nothing is followed by a rest of `spin_down`
        seconds. `air` tells whether the present purge step has its suction; a step waits at
        most `patience` seconds for it and is dropped then.
        """
        runs = self._look_at_signals(now)
        self.first_sign.follow(
            now,
            starting=self.starting and automatic and allowed,
            running=runs,
            rest=spin_down,
        )
        if over(self.request_until, now):
            self.withdraw()
        sensed = automatic and runs
        if not allowed:
            self.withdraw()
            self._enter(MachinePhase.IDLE)
        elif self.requested or sensed:
            self._sensed_last = sensed
            self._enter(MachinePhase.RUNNING)
        elif not self.is_connected or (self._sensed_last and not automatic):
            self._enter(MachinePhase.IDLE)
        elif self.phase is MachinePhase.RUNNING:
            self._end_work(now, patience)
        elif self.phase is MachinePhase.HOLDING and over(self.until, now):
            self._end_hold(now, patience)
        if self.phase is MachinePhase.PURGING:
            self._advance_purge(now, air=air, patience=patience)

    def replan(self, plan: MachineConfig) -> None:
        """Take up a changed plan; a purge step that is gone ends."""
        self.plan = plan
        if self.sensor is not None and plan.levels is not None:
            self.sensor.levels = plan.levels
        if self.phase is MachinePhase.PURGING and self.step >= len(plan.purge):
            self._enter(MachinePhase.IDLE)

    def remember(self, now: float) -> dict[str, Any]:
        """Return what has to survive a restart, instants as the time left in s."""
        return {
            "phase": self.phase.value,
            "step": self.step,
            "left": time_left(self.until, now),
            "waits_left": time_left(self.waits_until, now),
            "sensed_last": self._sensed_last,
            "running": self.sensor is not None and self.sensor.running,
            "running_for": None
            if self.running_since is None
            else now - self.running_since,
            "lost": self.sensor is not None and self.sensor.lost,
            "connected": self.hose.connected,
            "requested": self.requested,
            "request_left": time_left(self.request_until, now),
        }

    def recall(self, kept: Mapping[str, Any], now: float, *, passed: float) -> None:
        """Take up what `remember` described, `passed` seconds ago."""
        self.hose.recall(kept["connected"])
        if self.sensor is not None:
            self.sensor.running = kept["running"]
            self.sensor.lost = kept["lost"]
            running_for = kept["running_for"]
            self.running_since = (
                None if running_for is None else now - passed - running_for
            )
        self.requested = kept["requested"]
        self.request_until = instant_after(kept["request_left"], now - passed)
        phase = MachinePhase(kept["phase"])
        if phase is MachinePhase.PURGING and kept["step"] >= len(self.plan.purge):
            return
        self.phase = phase
        self.step = kept["step"]
        self._sensed_last = kept["sensed_last"]
        self.until = instant_after(kept["left"], now - passed)
        self.waits_until = instant_after(kept["waits_left"], now - passed)

    def _look_at_signals(self, now: float) -> bool:
        """Bring what is heard of it up to `now`; return whether it runs itself."""
        if self.sensor is not None:
            self.sensor.advance(now)
        if self.hose.advance(now, self.plan) and not self.is_connected:
            self.withdraw()
        runs = self.senses_running
        if not runs:
            self.running_since = None
        elif self.running_since is None:
            self.running_since = now
        return runs

    def _end_work(self, now: float, patience: float) -> None:
        if self.senses_running:
            # Its request is over, and its running does not count now.
            self._enter(MachinePhase.IDLE)
        elif self.plan.hold and self._sensed_last:
            self._enter(MachinePhase.HOLDING)
            self.until = now + self.plan.hold
        else:
            self._clear(0, now, patience)

    def _end_hold(self, now: float, patience: float) -> None:
        # A start that is being confirmed is waited for.
        if not self.starting:
            self._clear(0, now, patience)

    def _advance_purge(
        self, now: float, *, air: Callable[[], bool], patience: float
    ) -> None:
        while self.phase is MachinePhase.PURGING:
            if self.until is None and air():
                self.waits_until = None
                self.until = now + self.plan.purge[self.step].duration
            if not (over(self.until, now) or over(self.waits_until, now)):
                return
            self._clear(self.step + 1, now, patience)

    def _clear(self, step: int, now: float, patience: float) -> None:
        if step >= len(self.plan.purge):
            self._enter(MachinePhase.IDLE)
            return
        self._enter(MachinePhase.PURGING)
        self.step = step
        self.waits_until = now + patience

    def _enter(self, phase: MachinePhase) -> None:
        self.phase = phase
        self.step = 0
        self.until = None
        self.waits_until = None
