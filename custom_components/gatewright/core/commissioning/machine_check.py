"""Has a person switch one machine on for a moment, and sees whose reading answers."""

from .findings import CheckFinding, CheckOutcome, FindingKind, PartReport
from .task import Answer, Ask, MachineToCheck, Moment, Script, Stage, Task

PATIENCE = 45.0
"""Seconds that a reading has to answer: some plugs report every half minute."""

SLOWER = 15.0
"""Seconds that the machine's own reading has left after another one has answered."""

TOGETHER = 3.0
"""Seconds after the first reading in which another one counts as having answered too."""


def check_machine(plan: MachineToCheck, moment: Moment) -> Script[PartReport]:
    """Check the reading of one machine."""
    part = plan.machine_id
    answered: dict[str, float] = {}

    def see(seen: Moment) -> None:
        for machine, runs in seen.sight.running.items():
            if runs:
                answered.setdefault(machine, seen.now)

    ask = Task(part=part, ask=Ask.RUN_MACHINE, suspended=True)
    while moment.answer is None:
        moment = yield ask
        see(moment)
    if moment.answer is Answer.SKIP:
        yield from _until_quiet(part, moment)
        return PartReport(part=part, outcome=CheckOutcome.SKIPPED)
    said = moment.now
    while True:
        due = said + PATIENCE
        if part in answered:
            due = answered[part] + TOGETHER
        elif answered:
            # Its own plug may just be slower to report than another's.
            due = min(due, max(said, *answered.values()) + SLOWER)
        if moment.now >= due:
            break
        moment = yield Task(part=part, stage=Stage.HEARING, due=due, suspended=True)
        see(moment)
    missing = moment.sight.running.get(part) is None
    yield from _until_quiet(part, moment)
    return PartReport(part=part, findings=_findings(part, answered, missing=missing))


def _findings(
    part: str, answered: dict[str, float], *, missing: bool
) -> tuple[CheckFinding, ...]:
    others = [machine for machine in answered if machine != part]
    if part in answered:
        kind = FindingKind.READING_SHARED
    elif others:
        kind = FindingKind.WRONG_READING
    else:
        kind = FindingKind.READING_MISSING if missing else FindingKind.READING_DEAD
        return (CheckFinding(kind=kind, part=part),)
    return tuple(CheckFinding(kind=kind, part=part, about=other) for other in others)


def _until_quiet(part: str, moment: Moment) -> Script[None]:
    """Wait until no machine runs any more; one that runs on ends the check."""
    while any(moment.sight.running.values()):
        moment = yield Task(part=part, stage=Stage.FALLING, suspended=True)
