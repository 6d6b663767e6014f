"""Has the collector start for a moment, and sees whether its motor really does."""

from .findings import CheckFinding, CheckOutcome, FindingKind, PartReport
from .task import Answer, Ask, CollectorToCheck, Moment, Script, Stage, Task

_RUNS = 3.0
"""Seconds that the collector is left running once it has started: long enough for a
reading to show, and for a person to hear it."""

_REPORTS = 10.0
"""Seconds beyond the usual that a power reading may take: plugs report slowly."""


def check_collector(
    plan: CollectorToCheck, part: str, moment: Moment
) -> Script[PartReport]:
    """Check the collector's switch and power."""
    found: list[FindingKind] = []
    about: list[CheckFinding] = []
    ask = Task(part=part, ask=Ask.START_COLLECTOR)
    while moment.answer is None:
        moment = yield ask
    if moment.answer is Answer.SKIP:
        return PartReport(part=part, outcome=CheckOutcome.SKIPPED)
    quiet = {m for m, runs in moment.sight.running.items() if not runs}

    # A way in opens first; then the switch follows, then the power.
    until = moment.now + plan.before + plan.confirm
    task = Task(
        part=part, stage=Stage.STARTING, due=until, collector=True, suspended=True
    )
    while moment.sight.switched is not True and moment.now < until:
        moment = yield task
    on_at = moment.now
    delay = None
    if moment.sight.switched is not True:
        kind = FindingKind.NOT_SWITCHING if moment.sight.way else FindingKind.NO_WAY
        found.append(kind)
    else:
        if plan.measured:
            until = on_at + plan.confirm + _REPORTS
            while _on(moment) and not moment.sight.powered and moment.now < until:
                moment = yield _running(part, until)
            if moment.sight.powered:
                delay = moment.now - on_at
                if delay > plan.confirm:
                    found.append(FindingKind.POWER_LATE)
            elif _on(moment):
                found.append(FindingKind.NO_POWER)
        until = moment.now + _RUNS
        while _on(moment) and moment.now < until:
            moment = yield _running(part, until)
        if not plan.measured and _on(moment):
            asked = _running(part, None, Ask.DOES_TURN)
            moment = yield asked
            while moment.answer is None:
                moment = yield asked
            if moment.answer is Answer.NO:
                found.append(FindingKind.NOT_TURNING)
        if not _on(moment):
            found.append(FindingKind.WENT_OFF)
        about = [
            CheckFinding(kind=FindingKind.MACHINE_ANSWERS, part=part, about=machine)
            for machine, runs in moment.sight.running.items()
            if runs and machine in quiet
        ]

    until = moment.now + plan.after + plan.confirm + _REPORTS
    stop = Task(part=part, stage=Stage.STOPPING, due=until, suspended=True)
    moment = yield stop
    while not moment.sight.rest and moment.now < until:
        moment = yield stop
    if not moment.sight.rest:
        stays = moment.sight.switched is not True and moment.sight.powered
        found.append(FindingKind.POWER_STAYS if stays else FindingKind.NOT_STOPPING)
    findings = [
        CheckFinding(
            kind=kind,
            part=part,
            seconds=delay if kind is FindingKind.POWER_LATE else None,
        )
        for kind in found
    ]
    return PartReport(part=part, findings=(*findings, *about), seconds=delay)


def _on(moment: Moment) -> bool:
    """Whether the switch still says on; one that is offline goes by what it said last."""
    return moment.sight.switched is not False


def _running(part: str, due: float | None, ask: Ask | None = None) -> Task:
    return Task(
        part=part,
        ask=ask,
        stage=None if ask else Stage.STARTING,
        due=due,
        collector=True,
        suspended=True,
    )
