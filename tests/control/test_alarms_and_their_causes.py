"""An alarm follows its cause: not the telling, not what happens to be needed just now."""

from dataclasses import replace

import pytest

from custom_components.gatewright.core.config import COLLECTOR, MachineConfig
from custom_components.gatewright.core.control.alarms import (
    AlarmKind,
    AlarmSet,
    Condition,
)
from custom_components.gatewright.core.control.enums import Cause, Phase
from custom_components.gatewright.core.control.persistence import restore, save
from custom_components.gatewright.core.control.shop import ShopControl

from .bench import LEVELS, Bench, field_bench, near, resting_bench


def raised(bench: Bench, kind: AlarmKind) -> list[bool]:
    return [up for _, up in bench.told(kind)]


# Sources that come and go


def test_a_source_that_is_away_again_and_again_is_told_three_times_at_most() -> None:
    """Away for 65 s, back for 5 s, for half an hour: longer away than the waiting time of 60 s."""
    bench = resting_bench()
    for number in range(26):
        bench.read(100.0 + 70.0 * number, "planer", None)
        bench.read(165.0 + 70.0 * number, "planer", 5.0)
    bench.run_to(3000.0)
    told = bench.told(AlarmKind.READING_LOST)
    assert [up for _, up in told] == [True, False, True, False, True, False]
    # The last word comes a minute after the source is back to stay.
    assert told[-1] == (near(165.0 + 70.0 * 25 + 60.0), False)


def test_a_plug_that_is_slower_than_its_stale_limit_is_not_told_for_every_report() -> (
    None
):
    """A report each 16 minutes, where a reading is stale after 15 minutes."""
    bench = field_bench(now=-100.0)
    planer, *others = bench.system.machines
    slow = replace(planer, levels=replace(LEVELS, stale_after=900.0, dropout=7200.0))
    bench = Bench(
        replace(bench.system, machines=(slow, *others)), bench.devices, now=-100.0
    )
    bench.power_up()
    for number in range(12):
        bench.read(960.0 * number, "planer", 1450.0)
    bench.run_to(960.0 * 11 + 10.0)
    assert raised(bench, AlarmKind.READING_STUCK) == [True, False, True, False, True]


def test_an_alarm_is_not_cleared_while_its_cause_is_there_again() -> None:
    board = AlarmSet()
    lost = Condition(AlarmKind.READING_LOST, "saw")
    for at in (0.0, 10.0, 20.0):
        board.update((lost,), at)
        board.update((), at + 5.0)
    # Gone at 25 and to be cleared at 85; from 30 on it is there and not told yet.
    board.update((), 30.0, lasting=(lost,))
    board.update((), 90.0, lasting=(lost,))
    assert lost in board.standing
    board.update((), 100.0)
    assert board.due == 160.0
    board.update((), 160.0)
    assert lost not in board.standing


def test_a_board_forgets_what_has_long_been_quiet() -> None:
    board = AlarmSet()
    lost = Condition(AlarmKind.READING_LOST, "saw")
    board.update((lost,), 0.0)
    board.update((), 10.0)
    assert lost in board.known
    board.update((), 10_000.0)
    assert lost not in board.known


# The power of the workshop


def eleven(bench: Bench) -> list[str]:
    """Return the ids of the machines of a shop with eleven plugs."""
    return [machine.machine_id for machine in bench.system.machines]


def shop_of_eleven() -> Bench:
    plain = field_bench(now=-200.0)
    more = tuple(
        MachineConfig(
            machine_id=f"tool{number}",
            name=f"Tool {number}",
            gates=("planer_gate",),
            levels=LEVELS,
        )
        for number in range(8)
    )
    system = replace(plain.system, machines=(*plain.system.machines, *more))
    bench = Bench(system, plain.devices, now=-200.0)
    bench.power_up()
    for machine in eleven(bench):
        bench.read(-199.0, machine, 5.0)
    bench.run_to(0.0)
    return bench


def power_off(bench: Bench, at: float) -> None:
    bench.away(at, COLLECTOR)
    for machine in eleven(bench):
        bench.read(at, machine, None)


def test_power_that_comes_back_is_one_all_clear() -> None:
    bench = shop_of_eleven()
    power_off(bench, 10.0)
    # In the morning the plugs return one after the other, the collector's among them.
    for number, machine in enumerate(eleven(bench)):
        bench.read(30_000.0 + (0.01 if number < 4 else 0.4) * number, machine, 5.0)
    bench.back(30_001.5, COLLECTOR, False)
    bench.run_to(31_000.0)
    assert [(c.condition.kind, c.raised) for c in bench.alarms] == [
        (AlarmKind.SHOP_AWAY, True),
        (AlarmKind.SHOP_AWAY, False),
    ]
    assert bench.alarms[-1].at == near(30_004.0)


def test_what_does_not_come_back_with_the_power_is_told_a_minute_later() -> None:
    bench = shop_of_eleven()
    power_off(bench, 10.0)
    for machine in eleven(bench)[1:]:
        bench.read(30_000.0, machine, 5.0)
    bench.back(30_001.5, COLLECTOR, False)
    bench.run_to(31_000.0)
    assert [(c.condition, c.raised) for c in bench.alarms] == [
        (Condition(AlarmKind.SHOP_AWAY, COLLECTOR), True),
        (Condition(AlarmKind.READING_LOST, "planer"), True),
        (Condition(AlarmKind.SHOP_AWAY, COLLECTOR), False),
    ]
    assert bench.alarms[-1].at == near(30_060.0)


def test_a_collector_that_comes_on_with_the_power_is_told_at_once() -> None:
    bench = shop_of_eleven()
    power_off(bench, 10.0)
    bench.back(30_000.0, COLLECTOR, True)
    bench.run_to(30_001.0)
    assert bench.told(AlarmKind.COLLECTOR_BY_ITSELF) == [(near(30_000.0), True)]


# What stays wrong while nothing needs it


def test_a_gate_that_is_offline_throughout_is_told_once_for_all_runs() -> None:
    bench = resting_bench()
    bench.away(5.0, "planer_gate")
    for number in range(4):
        bench.read(100.0 + 1000.0 * number, "planer", 1450.0)
        bench.read(400.0 + 1000.0 * number, "planer", 5.0)
    bench.run_to(4500.0)
    assert bench.told(AlarmKind.GATE_OFFLINE) == [(near(101.0), True)]
    bench.back(5000.0, "planer_gate", False)
    bench.run_to(5001.0)
    assert bench.told(AlarmKind.GATE_OFFLINE)[1:] == [(near(5000.0), False)]


def test_a_gate_stuck_open_is_not_cleared_just_as_the_next_machine_starts() -> None:
    bench = resting_bench()
    bench.read(10.0, "planer", 1450.0)
    bench.at(20.0, lambda: setattr(bench.devices["planer_gate"], "deaf", True))
    # It has to close for the table saw, and does not.
    bench.read(30.0, "tablesaw", 1800.0)
    bench.read(40.0, "planer", 5.0)
    bench.run_to(120.0)
    assert raised(bench, AlarmKind.GATE_NOT_MOVING) == [True]
    bench.read(130.0, "planer", 1450.0)
    bench.run_to(140.0)
    assert raised(bench, AlarmKind.GATE_NOT_MOVING) == [True]


def test_a_collector_that_does_not_stop_is_not_cleared_by_the_next_machine() -> None:
    bench = resting_bench()
    bench.read(10.0, "planer", 1450.0)
    bench.at(30.0, lambda: setattr(bench.devices[COLLECTOR], "deaf", True))
    bench.read(40.0, "planer", 5.0)
    bench.run_to(100.0)
    assert raised(bench, AlarmKind.COLLECTOR_NOT_STOPPING) == [True]
    bench.read(110.0, "planer", 1450.0)
    bench.run_to(130.0)
    assert raised(bench, AlarmKind.COLLECTOR_NOT_STOPPING) == [True]
    bench.at(140.0, lambda: setattr(bench.devices[COLLECTOR], "deaf", False))
    bench.read(150.0, "planer", 5.0)
    bench.run_to(300.0)
    assert raised(bench, AlarmKind.COLLECTOR_NOT_STOPPING) == [True, False]


# What the logbook and the alarms say


def after_restart(bench: Bench, *, reload: bool = False) -> Bench:
    """Return the bench of a process that begins where this one stops, 5 s later."""
    memory = save(bench.shop, bench.now)
    follower = Bench(bench.system, bench.devices, now=bench.now + 5.0)
    follower.shop = ShopControl(bench.system, follower.now)
    restore(follower.shop, memory, follower.now, elapsed=5.0 if reload else None)
    return follower


def test_an_off_that_is_outstanding_over_a_restart_is_no_start_by_itself() -> None:
    bench = resting_bench()
    bench.read(10.0, "planer", 1450.0)
    bench.at(20.0, lambda: setattr(bench.devices[COLLECTOR], "deaf", True))
    bench.read(30.0, "planer", 5.0)
    bench.run_to(50.0)
    assert bench.sent(COLLECTOR)[-1] == (near(49.0, 1.0), False)
    bench.devices[COLLECTOR].deaf = False
    after = after_restart(bench)
    after.power_up()
    after.read(after.now, "planer", 5.0)
    after.run_to(after.now + 100.0)
    assert after.told(AlarmKind.COLLECTOR_BY_ITSELF) == []
    assert [(s.on, s.cause) for s in after.switchings] == []
    assert after.devices[COLLECTOR].state is False
    assert after.sequence.phase is Phase.IDLE


@pytest.mark.parametrize("on", [True, False])
def test_no_start_is_written_down_while_the_relay_is_missing(on: bool) -> None:
    bench = resting_bench()
    bench.away(5.0, COLLECTOR)
    bench.read(10.0, "planer", 1450.0)
    bench.run_to(100.0)
    assert bench.switchings == []
    if not on:
        bench.read(110.0, "planer", 5.0)
        bench.run_to(200.0)
        # Neither a start nor a stop: it never ran.
        assert bench.switchings == []
        return
    bench.back(110.0, COLLECTOR, False)
    bench.run_to(130.0)
    assert [(s.on, s.cause, s.at) for s in bench.switchings] == [
        (True, Cause.MACHINE, near(110.0))
    ]


def test_a_reload_inside_a_start_that_hangs_is_not_told_as_a_stop() -> None:
    bench = resting_bench()
    bench.at(5.0, lambda: setattr(bench.devices[COLLECTOR], "deaf", True))
    bench.read(10.0, "planer", 1450.0)
    bench.run_to(16.0)
    assert [s.on for s in bench.switchings] == [True]
    bench.devices[COLLECTOR].deaf = False
    after = after_restart(bench, reload=True)
    after.power_up()
    after.read(after.now, "planer", 1450.0)
    after.run_to(after.now + 20.0)
    assert after.switchings == []
    assert after.sequence.is_collecting("planer", after.now)


# A gate that somebody closes


def test_the_only_open_gate_closed_by_hand_is_left_and_another_opens_at_once() -> None:
    """The gate is the one that a collector started by hand is given as well."""
    bench = resting_bench()
    bench.read(10.0, "planer", 1450.0)
    bench.run_to(30.0)
    bench.hand(40.0, "planer_gate", False)
    bench.run_to(100.0)
    assert [target for _, target in bench.sent("planer_gate")] == [True]
    assert bench.sent("tablesaw_gate") == [(near(40.0), True)]
    assert [target for _, target in bench.sent(COLLECTOR)] == [True]
    assert bench.told(AlarmKind.GATE_MOVED) == [(near(40.0), True)]


def test_the_collector_is_turned_off_where_no_other_gate_can_open() -> None:
    bench = resting_bench()
    bench.away(5.0, "tablesaw_gate")
    bench.away(5.0, "bandsaw_gate")
    bench.read(10.0, "planer", 1450.0)
    bench.run_to(30.0)
    bench.hand(40.0, "planer_gate", False)
    bench.run_to(100.0)
    assert [target for _, target in bench.sent("planer_gate")] == [True]
    assert bench.sent(COLLECTOR)[1:] == [(near(40.0), False)]
    assert bench.switchings[-1].cause is Cause.NO_GATE_OPEN
    assert bench.told(AlarmKind.GATE_MOVED) == [(near(40.0), True)]
    assert raised(bench, AlarmKind.NO_GATE_OPEN) == [True]
