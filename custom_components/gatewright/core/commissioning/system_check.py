"""The system check: one check after the other, until it is done or disturbed.

Told what can be seen by `observe` and what a person says by `answer`, it holds the
`task` that is wanted now. It ends by itself when a person takes too long, when a machine
really starts to work, and on whatever else `Sight.intrusion` says.
"""

from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from ..config import COLLECTOR
from .collector_check import check_collector
from .findings import CheckFinding, CheckReport, End, FindingKind, PartReport
from .gate_check import check_gate
from .machine_check import check_machine
from .task import (
    ANSWERS,
    Answer,
    CollectorToCheck,
    GateToCheck,
    MachineToCheck,
    Moment,
    Script,
    Sight,
    Task,
)

PERSON = 600.0
"""Seconds that a person has for an answer."""

EARNEST = 45.0
"""Seconds after which a machine that runs, though it isn't served, is taken to
be at work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemCheckConfig:
    """What is to be checked, in this order; without a `person` only what needs none."""

    gates: tuple[GateToCheck, ...] = ()
    machines: tuple[MachineToCheck, ...] = ()
    collector: CollectorToCheck | None = None
    person: bool = True


class SystemCheck:
    """One system check. `report` is what it found so far, whole once `ended` is set."""

    def __init__(self, plan: SystemCheckConfig, sight: Sight, now: float) -> None:
        """Begin at `now`, an instant in s on a clock that only goes forward."""
        self.ended: End | None = None
        self.task: Task | None = None
        self.asked_at = now
        self._machine = ""
        self._settle = {m.machine_id: m.stop_confirm for m in plan.machines}
        self._runs_since: dict[str, float] = {}
        self._parts: list[PartReport] = []
        checks = _checks(plan)
        self._order = [part for part, _ in checks]
        self._left = deque(begin for _, begin in checks)
        self._script: Script[PartReport] | None = None
        self.observe(sight, now)

    @property
    def due(self) -> float | None:
        """When time alone will change something."""
        if self.task is None:
            return None
        dues = [self._earnest(machine) for machine in self._runs_since]
        if self.task.due is not None:
            dues.append(self.task.due)
        if self.task.ask is not None:
            dues.append(self.asked_at + PERSON)
        return min(dues, default=None)

    @property
    def progress(self) -> tuple[int, int]:
        """How many parts are done, and of how many."""
        return len(self._parts), len(self._order)

    @property
    def report(self) -> CheckReport:
        """What was found up to now."""
        return CheckReport(
            ended=self.ended or End.STOPPED,
            parts=tuple(_swapped(self._parts)),
            left=tuple(self._order[len(self._parts) :]),
            machine=self._machine,
        )

    def observe(self, sight: Sight, now: float) -> None:
        """Take what can be seen now; to be called on every change, and at `due`."""
        if self.ended is not None:
            return
        for machine, runs in sight.running.items():
            if not runs:
                self._runs_since.pop(machine, None)
            else:
                self._runs_since.setdefault(machine, now)
        working = next((m for m in self._runs_since if now >= self._earnest(m)), "")
        if sight.intrusion is not None:
            self._end(sight.intrusion, sight.machine)
        elif working:
            self._end(End.MACHINE, working)
        elif self.task and self.task.ask and now >= self.asked_at + PERSON:
            self._end(End.TIMED_OUT)
        else:
            self._go_on(Moment(now, sight))

    def answer(self, answer: Answer, sight: Sight, now: float) -> bool:
        """Take what a person says; return whether that was asked."""
        self.observe(sight, now)
        task = self.task
        if task is None or task.ask is None or answer not in ANSWERS[task.ask]:
            return False
        self._go_on(Moment(now, sight, answer))
        return True

    def stop(self, why: End = End.STOPPED) -> None:
        """End the check before it is done."""
        if self.ended is None:
            self._end(why)

    def _earnest(self, machine: str) -> float:
        return self._runs_since[machine] + EARNEST + self._settle.get(machine, 0.0)

    def _end(self, why: End, machine: str = "") -> None:
        self.ended = why
        self._machine = machine
        self.task = None
        if self._script is not None:
            self._script.close()
            self._script = None

    def _go_on(self, moment: Moment) -> None:
        """Let the present check take a moment, and begin the next when it is over."""
        before = self.task
        while True:
            try:
                if self._script is None:
                    if not self._left:
                        self.ended, self.task = End.DONE, None
                        return
                    self._script = self._left.popleft()(moment)
                    task = next(self._script)
                else:
                    task = self._script.send(moment)
            except StopIteration as over:
                self._script = None
                self._parts.append(over.value)
                # An answer belongs to the check that asked.
                moment = replace(moment, answer=None)
                continue
            self.task = task
            if before is None or (before.ask, before.part) != (task.ask, task.part):
                self.asked_at = moment.now
            return


type _Begin = Callable[[Moment], Script[PartReport]]


def _checks(plan: SystemCheckConfig) -> list[tuple[str, _Begin]]:
    checks: list[tuple[str, _Begin]] = []
    for gate in plan.gates:

        def gate_script(moment: Moment, gate: GateToCheck = gate) -> Script[PartReport]:
            return check_gate(gate, moment, person=plan.person)

        checks.append((gate.gate_id, gate_script))
    if not plan.person:
        return checks
    for machine in plan.machines:

        def machine_script(
            moment: Moment, machine: MachineToCheck = machine
        ) -> Script[PartReport]:
            return check_machine(machine, moment)

        checks.append((machine.machine_id, machine_script))
    if (collector := plan.collector) is not None:
        checks.append(
            (COLLECTOR, lambda moment: check_collector(collector, COLLECTOR, moment))
        )
    return checks


def _swapped(parts: list[PartReport]) -> list[PartReport]:
    """Tell two machines that answer for each other as what they are: swapped."""
    wrong: Mapping[str, set[str]] = {
        part.part: {
            found.about
            for found in part.findings
            if found.kind is FindingKind.WRONG_READING
        }
        for part in parts
    }

    def told(found: CheckFinding) -> CheckFinding:
        if found.kind is not FindingKind.WRONG_READING:
            return found
        if found.part not in wrong.get(found.about, ()):
            return found
        return replace(found, kind=FindingKind.PLUGS_SWAPPED)

    return [
        replace(part, findings=tuple(told(found) for found in part.findings))
        for part in parts
    ]
