"""Machines, the collector, whole checks with random mistakes, and interrupted checks."""

from dataclasses import replace
from typing import Any

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.gatewright.core.commissioning.findings import (
    CheckOutcome,
    End,
    FindingKind,
    as_data,
    from_data,
)
from custom_components.gatewright.core.commissioning.plant_access import (
    NotNowError,
    PlantAccess,
)
from custom_components.gatewright.core.commissioning.system_check import EARNEST, PERSON
from custom_components.gatewright.core.commissioning.task import (
    Answer,
    Ask,
    SignalRole,
    Stage,
)
from custom_components.gatewright.core.config import (
    COLLECTOR,
    CollectorConfig,
    GateConfig,
    IdlePosition,
    MachineConfig,
    SystemConfig,
    WhenBinFull,
)
from custom_components.gatewright.core.control.enums import Phase
from custom_components.gatewright.core.control.persistence import restore, save
from custom_components.gatewright.core.control.shop import ShopControl

from .model import LEVELS, Fan, Model, Slide, Wire

ENDS = (SignalRole.OPEN_SENSOR, SignalRole.CLOSED_SENSOR)
PLAN = SystemConfig(
    collector=CollectorConfig(name="Collector", confirm=4.0, hand_gates=("a",)),
    gates=(
        GateConfig(gate_id="a", name="A", travel=3.0),
        GateConfig(gate_id="b", name="B", travel=3.0),
    ),
    machines=(
        MachineConfig(machine_id="saw", name="Saw", gates=("a",), levels=LEVELS),
        MachineConfig(machine_id="planer", name="Planer", gates=("b",), levels=LEVELS),
        MachineConfig(machine_id="sweep", name="Sweep", gates=("b",)),
    ),
)


def shop(**more: Any) -> Model:
    """Return a shop of two gates, two machines with readings and a pickup without."""
    model = Model(PLAN, roles={"a": ENDS, "b": ENDS}, **more)
    model.pass_time(12)
    assert model.at_rest()
    model.commands.clear()
    return model


def found(
    model: Model, ends: tuple[End, ...] = (End.DONE,)
) -> set[tuple[str, FindingKind, str]]:
    """Run to the end and return the results, with the shop at rest."""
    model.begin()
    report = model.finish()
    assert report.ended in ends
    model.pass_time(40)
    assert model.at_rest()
    assert from_data(as_data(report)) == report
    return {(f.part, f.kind, str(f.about)) for f in report.findings}


def test_a_shop_in_which_all_is_well() -> None:
    model = shop()
    assert found(model) == set()
    assert model.walk is not None
    report = model.walk.report
    assert [part.part for part in report.parts] == [
        "a",
        "b",
        "saw",
        "planer",
        COLLECTOR,
    ]
    assert all(part.outcome is CheckOutcome.CHECKED for part in report.parts)
    assert model.walk.progress == (5, 5)
    # The machines ran unserved on their own: the collector started once.
    assert model.commands.count((COLLECTOR, True)) == 1


def test_plugs_that_are_swapped() -> None:
    assert found(shop(meters={"saw": {"planer"}, "planer": {"saw"}})) == {
        ("saw", FindingKind.PLUGS_SWAPPED, "planer"),
        ("planer", FindingKind.PLUGS_SWAPPED, "saw"),
    }


def test_a_reading_that_does_not_answer() -> None:
    assert found(shop(meters={"saw": set()})) == {("saw", FindingKind.READING_DEAD, "")}
    assert found(shop(lost={"saw"})) == {("saw", FindingKind.READING_MISSING, "")}


def test_two_machines_on_one_outlet() -> None:
    assert found(shop(meters={"planer": {"saw", "planer"}})) == {
        ("saw", FindingKind.READING_SHARED, "planer")
    }
    both = {"saw", "planer"}
    assert found(shop(meters={"planer": both, "saw": both})) == {
        ("saw", FindingKind.READING_SHARED, "planer"),
        ("planer", FindingKind.READING_SHARED, "saw"),
    }


def test_a_machine_on_anothers_plug_only() -> None:
    assert found(shop(meters={"saw": set(), "planer": {"saw", "planer"}})) == {
        ("saw", FindingKind.WRONG_READING, "planer")
    }


@pytest.mark.parametrize(
    ("fan", "kind"),
    [
        (Fan(), None),
        (Fan(delay=3.0), None),
        (Fan(delay=8.0), FindingKind.POWER_LATE),
        (Fan(tripped=True), FindingKind.NO_POWER),
        (Fan(tripped=True, measured=False), FindingKind.NOT_TURNING),
        (Fan(measured=False), None),
        (Fan(deaf=True), FindingKind.NOT_SWITCHING),
    ],
)
def test_the_collector(fan: Fan, kind: FindingKind | None) -> None:
    model = shop(fan=fan)
    wanted = set() if kind is None else {(COLLECTOR, kind, "")}
    assert found(model) == wanted
    assert model.walk is not None
    seconds = model.walk.report.parts[-1].seconds
    if fan.measured and kind in (None, FindingKind.POWER_LATE):
        assert seconds == pytest.approx(fan.delay, abs=0.3)
    else:
        assert seconds is None


def test_a_contactor_that_welds() -> None:
    model = shop(fan=Fan(welds=True))
    model.begin()
    report = model.finish()
    assert [f.kind for f in report.findings] == [FindingKind.POWER_STAYS]
    # It cannot be stopped: a way stays open for it.
    model.pass_time(60)
    assert model.positions["a"] == 1.0


def test_a_collector_without_a_way() -> None:
    model = shop(slides={"a": Slide(stuck=True)})
    assert found(model) == {
        ("a", FindingKind.NOT_MOVING, ""),
        (COLLECTOR, FindingKind.NO_WAY, ""),
    }
    assert (COLLECTOR, True) not in model.commands


def test_a_machine_on_the_collectors_outlet() -> None:
    assert found(shop(meters={"planer": {"planer", COLLECTOR}})) == {
        (COLLECTOR, FindingKind.MACHINE_ANSWERS, "planer")
    }


# Cut short --------------------------------------------------------------------------


def until(model: Model, part: str, what: Ask | Stage | None) -> None:
    """Run until a part is asked about or waited for."""
    model.begin()
    for _ in range(20_000):
        assert model.walk is not None
        task = model.walk.task
        assert task is not None
        if task.part == part and what in (task.ask, task.stage):
            return
        model.step()
    raise AssertionError("it never came to that")


@pytest.mark.parametrize(
    ("part", "what"),
    [("a", Stage.OPENING), ("b", Stage.SHUTTING), (COLLECTOR, Stage.STARTING)],
)
def test_a_machine_that_starts_is_served(part: str, what: Stage) -> None:
    model = shop()
    until(model, part, what)
    model.running.add("planer")
    model.pass_time(4 if part != COLLECTOR else EARNEST + 10)
    assert model.walk is not None
    report = model.walk.report
    if part == COLLECTOR:
        # It may be the collector itself that its plug answers for.
        assert report.ended in (End.MACHINE, End.DONE)
    else:
        assert (report.ended, report.machine) == (End.MACHINE, "planer")
        assert report.left[0] == part
    model.pass_time(12)
    assert model.positions["b"] == 1.0
    assert model.fan.on
    model.running.clear()
    model.pass_time(60)
    assert model.at_rest()
    assert [*model.positions.values()] == [0.0, 0.0]


@pytest.mark.parametrize("machine", ["saw", "planer"])
def test_a_machine_that_runs_on_is_served(machine: str) -> None:
    """While the check asks about a machine none is served, but not for long."""
    model = shop()
    model.checks.append(lambda m: m.running.add(machine) if m.now > runs else None)
    runs = 1e9
    until(model, "saw", Ask.RUN_MACHINE)
    assert model.sequence.suspended
    runs = model.now
    model.pass_time(EARNEST - 5)
    assert not model.fan.on
    model.pass_time(5 + LEVELS.stop_confirm + 8)
    assert model.walk is not None
    assert (model.walk.report.ended, model.walk.report.machine) == (
        End.MACHINE,
        machine,
    )
    assert (COLLECTOR, True) in model.commands
    model.checks.clear()
    model.running.clear()
    model.pass_time(60)
    assert model.at_rest()


def test_a_person_who_goes_away() -> None:
    model = shop()
    until(model, "saw", Ask.RUN_MACHINE)
    assert model.walk is not None
    assert model.hands is not None
    model.running.clear()
    model.now += PERSON + 1
    model.walk.observe(model.sight(), model.now)
    model.hands.end(model.now)
    assert model.walk.ended is End.TIMED_OUT
    assert model.walk.report.left == ("saw", "planer", COLLECTOR)
    assert not model.sequence.suspended


def test_skipping() -> None:
    model = shop()
    until(model, "saw", Ask.RUN_MACHINE)
    assert model.walk is not None
    model.running.clear()
    assert not model.walk.answer(Answer.IS_OPEN, model.sight(), model.now)
    assert model.walk.answer(Answer.SKIP, model.sight(), model.now)
    report = model.finish()
    assert [part.outcome for part in report.parts][2:4] == [
        CheckOutcome.SKIPPED,
        CheckOutcome.CHECKED,
    ]
    assert not model.walk.answer(Answer.GO, model.sight(), model.now)


@pytest.mark.parametrize(
    ("disturb", "why"),
    [
        (lambda m: m.sequence.set_start_block(True), End.START_BLOCK),
        (lambda m: m.sequence.set_fire_shutdown(True), End.FIRE_SHUTDOWN),
        (lambda m: m.sequence.request("sweep", m.now), End.REQUEST),
        (lambda m: m.sequence.start_by_hand(), End.COLLECTOR),
        (
            lambda m: m.sequence.move_gate("a", opened=False, now=m.now),
            End.GATE_MOVED,
        ),
    ],
)
def test_what_goes_before_the_check(disturb: Any, why: End) -> None:
    model = shop()
    until(model, "a", Stage.OPENING)
    disturb(model)
    model.pass_time(1)
    assert model.walk is not None
    assert model.walk.ended is why
    model.sequence.withdraw("sweep")
    model.sequence.by_hand = False
    model.pass_time(40)
    assert model.at_rest()


def test_a_collector_switched_off_by_hand_during_its_check() -> None:
    model = shop()
    until(model, COLLECTOR, Stage.STARTING)
    model.pass_time(2)
    assert model.fan.on
    model.sequence.stop_by_hand()
    model.pass_time(0.5)
    assert model.walk is not None
    assert model.walk.ended is End.COLLECTOR
    model.pass_time(40)
    assert model.at_rest()


def test_a_check_begins_only_in_a_shop_at_rest() -> None:
    model = shop()
    hands = PlantAccess(model.sequence)
    assert hands.refusal(model.now) is None
    model.sequence.set_start_block(True)
    assert hands.refusal(model.now) is NotNowError.START_BLOCK
    model.sequence.set_fire_shutdown(True)
    assert hands.refusal(model.now) is NotNowError.FIRE_SHUTDOWN
    model.sequence.set_start_block(False)
    model.sequence.set_fire_shutdown(False)
    model.running.add("saw")
    model.pass_time(1)
    assert hands.refusal(model.now) is NotNowError.AT_WORK
    model.pass_time(6)
    model.running.clear()
    model.pass_time(10)
    assert hands.refusal(model.now) is NotNowError.AT_WORK
    model.pass_time(20)
    assert hands.refusal(model.now) is None


def test_a_full_bin_keeps_the_collector_off() -> None:
    model = shop()
    plan = replace(PLAN.collector, bin_answer=WhenBinFull.REFUSE)
    model.sequence.replan(replace(PLAN, collector=plan), model.now)
    model.sequence.set_bin_full(True)
    assert (COLLECTOR, FindingKind.NO_WAY, "") in found(model)
    assert (COLLECTOR, True) not in model.commands


MISTAKES = (
    "none",
    "stuck",
    "dead",
    "swapped",
    "reversed",
    "slow",
    "crossed",
    "away",
)
METERS = ("none", "swapped", "dead", "lost", "shared", "collector")
FANS = ("none", "late", "tripped", "deaf")


def mistaken(
    gate: str, meter: str, fan: str, rest: IdlePosition
) -> tuple[Model, set[Any]]:
    """Return a shop with these mistakes, and the results to expect."""
    more: dict[str, Any] = {}
    wanted: set[Any] = set()
    kinds = {
        "stuck": FindingKind.NOT_MOVING,
        "dead": FindingKind.FEEDBACK_DEAD,
        "swapped": FindingKind.SENSORS_CONTRARY,
        "reversed": FindingKind.WRONG_WAY,
        "slow": FindingKind.TRAVEL_TOO_SHORT,
        "away": FindingKind.GATE_AWAY,
    }
    slides = {
        "stuck": Slide(stuck=True),
        "reversed": Slide(reversed=True),
        "slow": Slide(travel=9.0),
        "away": Slide(away=True),
    }
    if gate in slides:
        more["slides"] = {"b": slides[gate]}
    if gate == "dead":
        more["wires"] = {("b", role): Wire(("b", role), state_at=True) for role in ENDS}
    if gate == "swapped":
        more["wires"] = {
            ("b", ENDS[0]): Wire(("b", ENDS[1])),
            ("b", ENDS[1]): Wire(("b", ENDS[0])),
        }
    if gate == "crossed":
        more["drives"] = {"a": "b", "b": "a"}
        wanted |= {("a", FindingKind.CROSSED, "b"), ("b", FindingKind.CROSSED, "a")}
    elif gate != "none":
        wanted.add(("b", kinds[gate], ""))
    meters: dict[str, Any] = {
        "swapped": {"saw": {"planer"}, "planer": {"saw"}},
        "dead": {"saw": set()},
        "shared": {"planer": {"saw", "planer"}},
        "collector": {"planer": {"planer", COLLECTOR}},
    }
    more["meters"] = meters.get(meter, {})
    more["lost"] = {"saw"} if meter == "lost" else set()
    runs = fan in ("none", "late") and gate != "crossed"
    wanted |= {
        "none": set(),
        "swapped": {
            ("saw", FindingKind.PLUGS_SWAPPED, "planer"),
            ("planer", FindingKind.PLUGS_SWAPPED, "saw"),
        },
        "dead": {("saw", FindingKind.READING_DEAD, "")},
        "lost": {("saw", FindingKind.READING_MISSING, "")},
        "shared": {("saw", FindingKind.READING_SHARED, "planer")},
        "collector": {(COLLECTOR, FindingKind.MACHINE_ANSWERS, "planer")}
        if runs
        else set(),
    }[meter]
    more["fan"] = {
        "none": Fan(),
        "late": Fan(delay=7.0),
        "tripped": Fan(tripped=True),
        "deaf": Fan(deaf=True),
    }[fan]
    if gate == "crossed":
        # With the hand gate's command elsewhere there is no way in.
        wanted.add((COLLECTOR, FindingKind.NO_WAY, ""))
    elif fan != "none":
        kind = {
            "late": FindingKind.POWER_LATE,
            "tripped": FindingKind.NO_POWER,
            "deaf": FindingKind.NOT_SWITCHING,
        }[fan]
        wanted.add((COLLECTOR, kind, ""))
    plan = replace(PLAN, gates=(PLAN.gates[0], replace(PLAN.gates[1], rest=rest)))
    model = Model(plan, roles={"a": ENDS, "b": ENDS}, **more)
    model.pass_time(30)
    return model, wanted


def harmless(model: Model) -> None:
    """Check what must hold at every instant of a check."""
    sequence = model.sequence
    if sequence.collector_wanted:
        # Never commanded on without a gate open or on its way.
        assert sequence.gates.has_open_path(model.now)
    walk = model.walk
    if walk is not None and walk.task is not None and walk.task.command is not None:
        assert not model.fan.on


@settings(max_examples=settings().max_examples // 3)
@given(
    gate=st.sampled_from(MISTAKES),
    meter=st.sampled_from(METERS),
    fan=st.sampled_from(FANS),
    rest=st.sampled_from(list(IdlePosition)),
)
def test_every_mistake_is_found_and_none_invented(
    gate: str, meter: str, fan: str, rest: IdlePosition
) -> None:
    model, wanted = mistaken(gate, meter, fan, rest)
    model.checks.append(harmless)
    crossed = gate == "crossed"
    reported = found(model, (End.DONE, End.COLLECTOR) if crossed else (End.DONE,))
    if crossed:
        # Whether the collector finds a way then depends on where the gates rest.
        reported = {one for one in reported if one[0] != COLLECTOR}
        wanted = {one for one in wanted if one[0] != COLLECTOR}
    assert reported == wanted


@settings(max_examples=settings().max_examples // 3)
@given(
    gate=st.sampled_from(MISTAKES),
    meter=st.sampled_from(METERS),
    fan=st.sampled_from(FANS),
    steps=st.integers(0, 1500),
    restart=st.booleans(),
)
def test_a_check_stopped_at_any_moment_leaves_the_shop_at_rest(
    gate: str, meter: str, fan: str, steps: int, restart: bool
) -> None:
    model, _ = mistaken(gate, meter, fan, IdlePosition.CLOSED)
    model.checks.append(harmless)
    walk = model.begin()
    for _ in range(steps):
        if walk.ended is not None:
            break
        model.step()
    model.running.clear()
    assert model.hands is not None
    if restart:
        kept = ShopControl(model.system, 0.0)
        kept.sequence = model.sequence
        memory = save(kept, model.now)
        fresh = ShopControl(model.system, model.now)
        restore(fresh, memory, model.now)
        model.sequence, model.walk = fresh.sequence, None
        model.sent.clear()
    else:
        walk.stop()
        assert walk.task is None
        model.hands.end(model.now)
        assert set(walk.report.left) <= {"a", "b", "saw", "planer", COLLECTOR}
    if meter == "collector":
        # Such a plug keeps the collector on forever, with or without a check.
        model.meters["planer"] = {"planer"}
    model.pass_time(90)
    assert model.at_rest()
    assert model.sequence.phase is Phase.IDLE
    if gate in ("none", "slow", "dead"):
        assert [*model.positions.values()] == [0.0, 0.0]
