"""Opens and closes one gate, and sees what answers.

A gate that says where it is is timed by that. One that does not is watched by a person,
or left out where there is none. What only a look at the slide can tell is asked.
"""

from collections.abc import Mapping
from dataclasses import replace

from ..config import GateKind
from .findings import (
    CheckFinding,
    CheckOutcome,
    FindingKind,
    PartReport,
    Setting,
    SettingKind,
)
from .gate_verdict import MOST_TRAVEL, judge, too_short, travel_setting
from .stroke import STEADY, Stroke, expected
from .task import (
    Answer,
    Ask,
    CheckCommand,
    GateToCheck,
    Moment,
    Script,
    SignalRole,
    Stage,
    Task,
    wait,
)

_AFTER_HAND = 10.0
"""Seconds that sensors have to report after a person has moved a gate: those with a
battery are slow now and then. From memory, no source."""


def patience(travel: float) -> float:
    """Return for how many s a stroke is waited for: a gate may be far slower than set."""
    return min(1.5 * MOST_TRAVEL, max(20.0, 4 * travel + 5))


def check_gate(
    plan: GateToCheck, moment: Moment, *, person: bool
) -> Script[PartReport]:
    """Check one gate; without a `person` nothing is asked."""
    if plan.kind is GateKind.HAND:
        if not person:
            return PartReport(part=plan.gate_id, outcome=CheckOutcome.UNSEEN)
        return (yield from _by_hand(plan, moment))
    if plan.gate_id in moment.sight.away:
        return _report(
            plan, [CheckFinding(kind=FindingKind.GATE_AWAY, part=plan.gate_id)]
        )
    if plan.roles:
        return (yield from _by_feedback(plan, moment, person=person))
    if not person:
        return PartReport(part=plan.gate_id, outcome=CheckOutcome.UNSEEN)
    return (yield from _by_eye(plan, moment, ()))


def _by_feedback(
    plan: GateToCheck, moment: Moment, *, person: bool
) -> Script[PartReport]:
    start = _start(plan, moment)
    strokes: list[Stroke] = []
    for opened in (not start, start):
        strokes.append((yield from _stroke(plan, moment, strokes, opened=opened)))
        moment = strokes[-1].end
    if not _moved(plan, strokes[0]) and _moved(plan, strokes[1]):
        # It did not stand where it was thought to.
        strokes.append((yield from _stroke(plan, moment, strokes, opened=not start)))
        moment = strokes[-1].end
    judgment = judge(plan, strokes)
    findings = list(judgment.findings)
    settings: list[Setting] = []
    state_at = strokes[-1].opened
    if judgment.look and person:
        state_at = not start
        command = CheckCommand(plan.gate_id, opened=state_at)
        ask = Task(part=plan.gate_id, ask=Ask.HOW_STANDS, command=command)
        moment = yield from _answered(ask)
        told = moment.answer is (Answer.IS_OPEN if state_at else Answer.IS_CLOSED)
        if moment.answer is not Answer.SKIP:
            findings, settings = _after_a_look(plan, findings, as_told=told)
    yield from _go_home(plan, moment, state_at=state_at, start=start)
    if person and any(found.kind is FindingKind.AT_ONCE for found in findings):
        return (yield from _by_eye(plan, moment, tuple(findings)))
    if judgment.travel is not None:
        settings += travel_setting(plan, judgment.travel)
    return _report(plan, findings, settings, judgment.travel)


def _stroke(
    plan: GateToCheck, moment: Moment, before: list[Stroke], *, opened: bool
) -> Script[Stroke]:
    """Make a stroke, and wait until it is over as far as can be seen."""
    stroke = Stroke(opened, moment)
    own = tuple((plan.gate_id, role) for role in plan.roles)
    wanted = [expected(role, opened=opened) for role in plan.roles]
    opposite = [not value for value in wanted]
    long = patience(plan.travel)
    task = Task(
        part=plan.gate_id,
        stage=Stage.OPENING if opened else Stage.SHUTTING,
        due=moment.now + long,
        command=CheckCommand(plan.gate_id, opened=opened),
    )
    while moment.now < stroke.began + long:
        changed = stroke.last_change(own)
        finals = [stroke.final(signal) for signal in own]
        due = stroke.began + long
        if changed is not None and finals == wanted and _arrived(plan, stroke):
            due = stroke.began + changed + STEADY
        elif changed is not None and finals == opposite:
            due = stroke.began + changed + max(2.0, plan.travel)
        due = min(due, stroke.began + long)
        if moment.now >= due:
            break
        moment = yield replace(task, due=due)
        stroke.see(moment)
    if not _shows_arrival(plan, opened=opened):
        # Where the next stroke is timed, this one has to be over, however slow.
        known = [at for done in before if (at := done.last_change(own)) is not None]
        until = long if not before else max(plan.travel, *known, 0.0)
        while moment.now < stroke.began + until:
            moment = yield replace(task, due=stroke.began + until)
            stroke.see(moment)
    return stroke


def _by_eye(
    plan: GateToCheck, moment: Moment, found: tuple[CheckFinding, ...]
) -> Script[PartReport]:
    """Have a person say when the slide has arrived."""
    start = _start(plan, moment)
    findings = list(found)
    times: list[float] = []
    moment = yield from _answered(Task(part=plan.gate_id, ask=Ask.WATCH_GATE))
    if moment.answer is Answer.SKIP:
        return PartReport(
            part=plan.gate_id, outcome=CheckOutcome.SKIPPED, findings=tuple(findings)
        )
    state_at = start
    for opened in (not start, start):
        began = moment.now
        state_at = opened
        moment = yield from _answered(
            Task(
                part=plan.gate_id,
                ask=Ask.SEE_OPEN if opened else Ask.SEE_CLOSED,
                command=CheckCommand(plan.gate_id, opened=opened),
            )
        )
        if moment.answer is not Answer.ARRIVED:
            kind = _SEEN.get(moment.answer, FindingKind.NOT_MOVING)
            findings.append(CheckFinding(kind=kind, part=plan.gate_id))
            break
        times.append(moment.now - began)
    settings: list[Setting] = []
    travel = None
    if len(times) == 2:
        travel = max(times)
        findings += too_short(plan, travel)
        settings += travel_setting(plan, travel)
    elif plan.invertible and findings and findings[-1].kind is FindingKind.WRONG_WAY:
        settings.append(Setting(kind=SettingKind.INVERT, part=plan.gate_id))
    yield from _go_home(plan, moment, state_at=state_at, start=start)
    return _report(plan, findings, settings, travel)


_SEEN: Mapping[Answer | None, FindingKind] = {
    Answer.STAYED: FindingKind.NOT_MOVING,
    Answer.WENT_WRONG_WAY: FindingKind.WRONG_WAY,
    Answer.ANOTHER_MOVED: FindingKind.ANOTHER_MOVES,
}


def _by_hand(plan: GateToCheck, moment: Moment) -> Script[PartReport]:
    """Have a person move a gate, and see whether its sensors say so."""
    strokes = []
    for opened in (True, False):
        stroke = Stroke(opened, moment)
        ask = Ask.OPEN_BY_HAND if opened else Ask.CLOSED_BY_HAND
        task = Task(part=plan.gate_id, ask=ask)
        while moment.answer is None:
            moment = yield task
            stroke.see(moment)
        if moment.answer is Answer.SKIP:
            return PartReport(part=plan.gate_id, outcome=CheckOutcome.SKIPPED)
        moment = replace(moment, answer=None)
        own = [(plan.gate_id, role) for role in plan.roles]
        wanted = [expected(role, opened=opened) for role in plan.roles]
        until = moment.now + _AFTER_HAND
        while [stroke.final(signal) for signal in own] != wanted and moment.now < until:
            moment = yield Task(
                part=plan.gate_id, stage=Stage.READING_SENSORS, due=until
            )
            stroke.see(moment)
        strokes.append(stroke)
    # A person's stroke has no travel time, and a person knows that it was made.
    judgment = judge(replace(plan, travel=MOST_TRAVEL), strokes)
    findings = list(judgment.findings)
    settings: list[Setting] = []
    if judgment.look:
        findings, settings = _after_a_look(plan, findings, as_told=True)
    return _report(plan, [f for f in findings if f.seconds is None], settings)


def _after_a_look(
    plan: GateToCheck, findings: list[CheckFinding], *, as_told: bool
) -> tuple[list[CheckFinding], list[Setting]]:
    """Make more of an unclear finding by whether the slide stands as it was told.

    It was told to leave its rest: one that is stuck there does not.
    """
    unclear, others = findings[0], findings[1:]
    kind = _LOOKED.get((unclear.kind, as_told), unclear.kind)
    settings: list[Setting] = []
    # A cover that shows the wrong end is mended where it comes from.
    if kind is FindingKind.SENSORS_CONTRARY and SignalRole.SLIDE not in plan.roles:
        settings.append(Setting(kind=SettingKind.SWAP_SENSORS, part=plan.gate_id))
    if kind is FindingKind.WRONG_WAY and plan.invertible:
        settings.append(Setting(kind=SettingKind.INVERT, part=plan.gate_id))
    return [CheckFinding(kind=kind, part=plan.gate_id), *others], settings


_LOOKED: Mapping[tuple[FindingKind, bool], FindingKind] = {
    (FindingKind.CONTRARY, True): FindingKind.SENSORS_CONTRARY,
    (FindingKind.CONTRARY, False): FindingKind.WRONG_WAY,
    (FindingKind.NO_ANSWER, True): FindingKind.FEEDBACK_DEAD,
    (FindingKind.NO_ANSWER, False): FindingKind.NOT_MOVING,
}


def _go_home(
    plan: GateToCheck, moment: Moment, *, state_at: bool, start: bool
) -> Script[None]:
    """Put a gate where it belongs, and let it arrive before another one moves."""
    home = start if plan.home is None else plan.home
    if state_at is home:
        return
    command = CheckCommand(plan.gate_id, opened=home)
    until = moment.now + max(2.0, 2 * plan.travel)
    task = Task(part=plan.gate_id, stage=Stage.HOMING, due=until, command=command)
    yield from wait(task, moment, until)


def _answered(task: Task) -> Script[Moment]:
    """Wait until a person has answered."""
    moment = yield task
    while moment.answer is None:
        moment = yield task
    return moment


def _start(plan: GateToCheck, moment: Moment) -> bool:
    """Return how the gate is thought to stand: where it was put, or as it says."""
    if plan.home is not None:
        return plan.home
    said = [
        value is not (role is SignalRole.CLOSED_SENSOR)
        for role in plan.roles
        if (value := moment.sight.signals.get((plan.gate_id, role))) is not None
    ]
    return bool(said) and all(said)


def _arrived(plan: GateToCheck, stroke: Stroke) -> bool:
    """Whether the sensor at the end of a stroke, where there is one, has spoken.

    One that said so before the stroke is no witness of its end.
    """
    end = SignalRole.OPEN_SENSOR if stroke.opened else SignalRole.CLOSED_SENSOR
    return end not in plan.roles or stroke.changed((plan.gate_id, end))


def _moved(plan: GateToCheck, stroke: Stroke) -> bool:
    return any(stroke.changed((plan.gate_id, role)) for role in plan.roles)


def _shows_arrival(plan: GateToCheck, *, opened: bool) -> bool:
    end = SignalRole.OPEN_SENSOR if opened else SignalRole.CLOSED_SENSOR
    return SignalRole.SLIDE in plan.roles or end in plan.roles


def _report(
    plan: GateToCheck,
    findings: list[CheckFinding],
    settings: list[Setting] | None = None,
    travel: float | None = None,
) -> PartReport:
    return PartReport(
        part=plan.gate_id,
        findings=tuple(findings),
        settings=tuple(settings or ()),
        seconds=travel,
    )
