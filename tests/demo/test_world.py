"""The whole world: its record, its memory, and that the time between looks doesn't matter."""

from collections.abc import Callable
import json

from hypothesis import given, settings, strategies as st
import pytest

from demo.custom_components.virtual_workshop.model.faults import POSSIBLE, Fault, Part
from demo.custom_components.virtual_workshop.model.layout import COLLECTOR, SITE
from demo.custom_components.virtual_workshop.model.world import World

from .yard import small_layout, small_world, wait

GATES = ("cover", "valve", "solenoid")
MACHINES = ("saw", "planer", "lathe", "sander")

type Act = Callable[[World], None]


def test_record_of_a_well_run_cut() -> None:
    world = small_world()
    world.command_gate("cover", 1.0)
    wait(world, 4)
    world.command_collector(on=True)
    wait(world, 5)
    world.run_machine("saw", 1.0, seconds=10)
    wait(world, 15)
    world.command_collector(on=False)
    wait(world, 10.5)
    world.command_gate("cover", 0.0)
    wait(world, 10)
    truth = world.truth
    assert truth.turning_all_shut == 0.0
    assert truth.turning_none_open == 0.0
    assert truth.strained == 0.0
    assert truth.starts_none_open == 0
    assert truth.motor_starts == 1
    assert truth.motor_on == pytest.approx(20 - 0.5 + 0.5)
    assert truth.turning == pytest.approx(20 + 10)
    assert truth.machines["saw"].with_air == pytest.approx(10)
    assert truth.machines["saw"].without_air == 0.0
    # Enough flow from 80 % of speed (3.2 s after the motor starts) down to 80 % again.
    assert truth.gates["cover"].air == pytest.approx(20 - 3.2 + 2.0)


def test_record_of_a_gate_closed_too_early() -> None:
    world = small_world()
    world.move_gate_by_hand("cover", 1.0)
    wait(world, 4)
    world.command_collector(on=True)
    wait(world, 10)
    world.command_collector(on=False)
    world.command_gate("cover", 0.0)
    wait(world, 30)
    # Off after 0.5 s; the gate leaves its open end at the same time, is no longer really open after 5 % of its 3 s
    # and lets nothing through after 98 % of them; the impeller turns for 10 s.
    assert world.truth.turning_none_open == pytest.approx(10 - 0.15)
    assert world.truth.turning_all_shut == pytest.approx(10 - 2.94)
    assert world.truth.longest_all_shut == pytest.approx(10 - 2.94)
    # Less than a third open after 2 s; down to half of its speed after 5 s.
    assert world.truth.strained == pytest.approx(5 - 2)


def test_record_of_a_start_while_the_gate_opens() -> None:
    """The impeller of 4 s passes half its speed 2 s after the relay has closed."""
    world = small_world()
    world.run_machine("saw", 1.0)
    wait(world, 1)
    world.command_gate("cover", 1.0)
    world.command_collector(on=True)
    wait(world, 20)
    truth = world.truth
    assert truth.starts_none_open == 1
    assert truth.turning_none_open > 2
    assert truth.strained == 0.0
    # A second until anybody did anything, 0.5 s for the relay, 0.8 of 4 s.
    assert truth.machines["saw"].waited == pytest.approx(1 + 0.5 + 3.2)
    world.stop_machine("saw")
    world.run_machine("saw", 1.0)
    wait(world, 1)
    assert truth.machines["saw"].waited == pytest.approx(4.7)


def test_record_of_a_start_against_closed_gates() -> None:
    world = small_world()
    world.switch_collector_by_hand(on=True)
    wait(world, 3)
    world.move_gate_by_hand("hand", 1.0)
    wait(world, 10)
    assert world.truth.starts_none_open == 1
    assert world.truth.turning_all_shut == pytest.approx(2.9 + 0.02 * 3)


def test_record_of_a_machine_without_dust_collection() -> None:
    world = small_world()
    world.run_machine("planer", 1.0)
    wait(world, 5)
    world.command_collector(on=True)
    world.move_gate_by_hand("valve", 1.0)
    wait(world, 10)
    # One of its two gates is still closed.
    assert world.truth.machines["planer"].without_air == pytest.approx(15)
    world.move_gate_by_hand("hand", 1.0)
    wait(world, 10)
    planer = world.truth.machines["planer"]
    assert planer.with_air == pytest.approx(10 - 0.95 * 3)
    assert planer.longest_without_air == pytest.approx(15 + 0.95 * 3)
    assert planer.airless == 0.0


def test_record_of_a_disconnected_machine() -> None:
    world = small_world()
    world.run_machine("sander", 1.0)
    wait(world, 5)
    world.attach("sander", attached=True)
    wait(world, 3)
    sander = world.truth.machines["sander"]
    assert sander.detached == pytest.approx(5)
    assert sander.without_air == pytest.approx(3)


def test_commands_are_counted_and_noted() -> None:
    world = small_world()
    world.truth.count_command(world.now, "cover", "open")
    world.truth.count_command(world.now, "cover", "open")
    assert world.truth.commands == {"cover": {"open": 2}}
    assert world.truth.happenings[-1] == (world.now, "cover", "told to open")


def test_happenings_are_reported_in_order_and_forgotten_in_the_end() -> None:
    world = small_world()
    world.run_machine("saw", 1.0)
    world.command_collector(on=True)
    wait(world, 1)
    world.stop_machine("saw")
    record = [(part, what) for _, part, what in world.truth.happenings]
    assert record == [
        ("saw", "runs"),
        (COLLECTOR, "motor on"),
        ("saw", "stands"),
    ]
    for _ in range(300):
        world.run_machine("saw", 1.0)
        world.stop_machine("saw")
    assert len(world.truth.happenings) == 150


def test_new_record_begins_with_nothing() -> None:
    world = small_world()
    world.switch_collector_by_hand(on=True)
    wait(world, 30)
    world.reset_truth()
    wait(world, 1)
    record = world.truth.as_data(world.now)
    assert record["seconds"] == 1.0
    assert record["motor_starts"] == 0
    assert record["turning_all_shut"] == 1.0
    assert set(record["machines"]) == set(MACHINES)


def test_report_is_plain_data() -> None:
    world = small_world()
    world.break_part(COLLECTOR, Fault.BREAKER_TRIPPED)
    world.run_machine("saw", 1.0)
    wait(world, 3)
    record = {**world.truth.as_data(world.now), "standing": world.standing()}
    assert json.loads(json.dumps(record)) == record
    assert record["standing"]["faults"] == {COLLECTOR: ["breaker_tripped"]}
    assert record["standing"]["machines"]["saw"]["running"] is True


def test_an_instant_in_the_past_changes_nothing() -> None:
    world = small_world()
    world.switch_collector_by_hand(on=True)
    wait(world, 2)
    before = world.dump()
    assert world.advance(world.now - 100) is False
    assert world.dump() == before


@pytest.mark.parametrize("part", ["cover", "hand", "saw", "lathe", COLLECTOR, SITE])
def test_every_possible_fault_comes_and_goes(part: str) -> None:
    world = small_world()
    kind = world.kind_of(part)
    for fault in sorted(POSSIBLE[kind]):
        world.break_part(part, fault)
        assert world.has(part, fault)
        wait(world, 1)
        world.mend_part(part, fault)
        assert not world.faults
    wait(world, 60)
    assert not world.collector.turning(world.now)


def test_each_fault_can_befall_something() -> None:
    assert frozenset().union(*POSSIBLE.values()) == set(Fault)
    assert set(POSSIBLE) == set(Part)


ACTS: st.SearchStrategy[Act] = st.one_of(
    st.builds(
        lambda key, to: lambda world: world.command_gate(key, to),
        st.sampled_from(GATES),
        st.sampled_from([0.0, 0.4, 1.0]),
    ),
    st.builds(
        lambda key, to: lambda world: world.move_gate_by_hand(key, to),
        st.sampled_from([*GATES, "hand"]),
        st.sampled_from([0.0, 1.0]),
    ),
    st.builds(lambda on: lambda world: world.command_collector(on=on), st.booleans()),
    st.builds(
        lambda key, seconds: lambda world: world.run_machine(key, 1.0, seconds),
        st.sampled_from(MACHINES),
        st.sampled_from([None, 0.3, 7.0]),
    ),
    st.builds(
        lambda key: (
            lambda world: world.work_machine(key, [(2.0, 1.0), (3.0, None), (2.0, 0.5)])
        ),
        st.sampled_from(MACHINES),
    ),
    st.builds(
        lambda key, on: lambda world: world.command_plug(key, on=on),
        st.sampled_from(MACHINES[:2]),
        st.booleans(),
    ),
    st.builds(
        lambda part, fault: (
            lambda world: (
                world.break_part(part, fault)
                if fault in POSSIBLE[world.kind_of(part)]
                else world.mend_part(part)
            )
        ),
        st.sampled_from([*GATES, "saw", COLLECTOR, SITE]),
        st.sampled_from(sorted(Fault)),
    ),
    st.builds(
        lambda key, on: lambda world: world.attach("sander", attached=on),
        st.just("sander"),
        st.booleans(),
    ),
)


def play(
    steps: list[tuple[Act, float]], look: float, *, restart: bool = False
) -> World:
    """Do things in a row, looking at intervals, and reload the world from a file in between."""
    world = small_world()
    for act, seconds in steps:
        act(world)
        end = world.now + seconds
        while world.now + look < end:
            world.advance(world.now + look)
        world.advance(end)
        if restart:
            memory = json.loads(json.dumps(world.dump()))
            world = World(small_layout(), memory["now"])
            world.load(memory)
    return world


@settings(max_examples=60)
@given(st.lists(st.tuples(ACTS, st.floats(0.05, 12.0)), min_size=1, max_size=12))
def test_it_does_not_matter_how_often_one_looks_nor_who_restarts(
    steps: list[tuple[Act, float]],
) -> None:
    seldom = play(steps, 1e9)
    often = play(steps, 0.37)
    restarted = play(steps, 1e9, restart=True)
    first = seldom.truth.as_data(seldom.now)
    for other in (often, restarted):
        record = other.truth.as_data(other.now)
        assert record["motor_starts"] == first["motor_starts"]
        assert record["commands"] == first["commands"]
        for key in (
            "turning",
            "turning_all_shut",
            "turning_none_open",
            "strained",
            "motor_on",
        ):
            assert record[key] == pytest.approx(first[key], abs=0.01)
        for key in MACHINES:
            assert record["machines"][key] == pytest.approx(
                first["machines"][key], abs=0.01
            )
        assert other.standing()["gates"] == pytest.approx(
            seldom.standing()["gates"], abs=0.002
        )
        assert other.faults == seldom.faults


@settings(max_examples=60)
@given(st.lists(st.tuples(ACTS, st.floats(0.05, 12.0)), min_size=1, max_size=12))
def test_the_record_adds_up(steps: list[tuple[Act, float]]) -> None:
    world = play(steps, 1e9)
    truth = world.truth
    seconds = world.now - truth.since
    for record in truth.machines.values():
        parts = record.with_air + record.without_air + record.detached
        assert parts == pytest.approx(record.running, abs=1e-3)
        assert record.running <= seconds + 1e-3
        assert record.longest_without_air <= record.without_air + 1e-3
    assert truth.motor_on <= truth.turning + 1e-3
    assert truth.turning_all_shut <= truth.turning_none_open + 1e-3
    assert truth.turning_none_open <= truth.turning + 1e-3
    assert truth.motor_starts == world.collector.starts
    assert truth.starts_none_open <= truth.motor_starts


def test_machines_run_on_while_nobody_looks() -> None:
    """Home Assistant is down for an hour; the operator finishes his cuts in the meantime."""
    world = small_world()
    world.command_collector(on=True)
    world.run_machine("planer", 1.0)
    world.work_machine("saw", [(5.0, 1.0), (5.0, None), (5.0, 1.0)])
    wait(world, 1)
    memory = json.loads(json.dumps(world.dump()))
    later = World(small_layout(), memory["now"])
    later.load(memory)
    wait(later, 3600)
    assert later.machines["planer"].running
    assert later.truth.machines["planer"].running == pytest.approx(3601)
    assert later.truth.machines["saw"].running == pytest.approx(10)
    assert later.collector.turning(later.now)
    assert later.truth.turning == pytest.approx(3600.5)


def test_memory_of_another_workshop_is_taken_as_far_as_it_goes() -> None:
    world = small_world()
    world.run_machine("saw", 1.0)
    world.break_part("cover", Fault.GATE_STUCK)
    memory = world.dump()
    del memory["machines"]["planer"]
    memory["faults"]["gone"] = ["gate_stuck"]
    memory["machines"]["gone"] = {}
    memory["collector"]["no longer known"] = 1
    later = World(small_layout(), memory["now"])
    later.load(memory)
    assert later.machines["saw"].running
    assert not later.machines["planer"].running
    assert later.faults == {"cover": {Fault.GATE_STUCK}}
