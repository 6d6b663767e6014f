"""Faults as the owner is told of them: raised once, with the right name, cleared once."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    GateConfig,
    GateKind,
    LinkedDeviceConfig,
    MachineConfig,
    SystemConfig,
    Thresholds,
    WhenBinFull,
)
from custom_components.gatewright.core.control.alarms import AlarmKind, Condition
from custom_components.gatewright.core.control.enums import (
    Cause,
    Phase,
    Refusal,
    RefusedError,
)

from .bench import LEVELS, Bench, Device, field_bench, near


def bench(
    change: Callable[[SystemConfig], SystemConfig] = lambda system: system,
    **devices: Device,
) -> Bench:
    """Return the field bench with a changed plan, at rest at 0 and idle."""
    plain = field_bench(now=-100.0)
    made = Bench(change(plain.system), {**plain.devices, **devices}, now=-100.0)
    made.power_up()
    for plan in made.system.machines:
        made.read(-99.0, plan.machine_id, 5.0)
        if plan.movable:
            made.sequence.set_connected(plan.machine_id, True, made.now)
    made.run_to(0.0)
    assert made.alarms == []
    return made


def with_collector(**changes: object) -> Callable[[SystemConfig], SystemConfig]:
    return lambda system: replace(
        system,
        collector=replace(system.collector, **changes),  # type: ignore[arg-type]
    )


def with_planer(**changes: object) -> Callable[[SystemConfig], SystemConfig]:
    def change(system: SystemConfig) -> SystemConfig:
        planer, *others = system.machines
        changed = replace(planer, **changes)  # type: ignore[arg-type]
        return replace(system, machines=(changed, *others))

    return change


def power(made: Bench, instant: float, watts: float | None) -> None:
    """Schedule a reading of the collector's power."""

    def read() -> None:
        made.sequence.read_collector_power(watts, made.now)

    made.at(instant, read)


def phase(made: Bench) -> Phase:
    return made.sequence.phase


# The collector


def test_tripped_breaker_is_told_by_the_power() -> None:
    made = bench()
    power(made, 1.0, 0.0)
    made.read(10.0, "planer", 1450.0)
    made.run_to(60.0)
    # On since 14.3, without power: told after the time it has to confirm.
    assert made.told(AlarmKind.COLLECTOR_NOT_STARTING) == [(near(24.3, 1.0), True)]
    assert made.sent(COLLECTOR) == [(near(14.0, 1.0), True)]
    assert not made.sequence.is_collecting("planer", made.now)
    power(made, 70.0, 1500.0)
    made.run_to(80.0)
    assert made.told(AlarmKind.COLLECTOR_NOT_STARTING)[1:] == [(near(70.0), False)]
    assert made.sequence.is_collecting("planer", made.now)


def test_welded_contactor_is_told_and_the_gate_stays_open() -> None:
    made = bench()
    power(made, 1.0, 0.0)
    made.read(10.0, "planer", 1450.0)
    power(made, 15.0, 1500.0)
    made.read(60.0, "planer", 5.0)
    made.run_to(200.0)
    # Off by its switch at 79.3, still drawing power.
    assert made.told(AlarmKind.COLLECTOR_NOT_STOPPING) == [(near(89.3, 1.0), True)]
    assert [target for _, target in made.sent("planer_gate")] == [True]
    power(made, 210.0, 0.0)
    made.run_to(300.0)
    assert made.told(AlarmKind.COLLECTOR_NOT_STOPPING)[1:] == [(near(210.0), False)]
    assert made.sent("planer_gate")[1:] == [(near(230.0), False)]


def test_collector_that_comes_on_after_a_power_cut_is_stopped_in_order() -> None:
    made = bench()
    made.away(10.0, COLLECTOR)
    made.back(20.0, COLLECTOR, True)
    made.run_to(21.0)
    assert made.told(AlarmKind.COLLECTOR_BY_ITSELF) == [(near(20.0), True)]
    assert made.sent("planer_gate") == [(near(20.0), True)]
    made.run_to(120.0)
    assert made.told(AlarmKind.COLLECTOR_BY_ITSELF)[1:] == [
        (near(made.sent(COLLECTOR)[-1][0] + 0.3, 0.1), False)
    ]
    assert phase(made) is Phase.IDLE
    assert not made.devices[COLLECTOR].state


def test_collector_out_of_reach_while_it_is_needed() -> None:
    made = bench()
    made.away(5.0, COLLECTOR)
    made.read(10.0, "planer", 1450.0)
    made.run_to(200.0)
    [(raised, up)] = made.told(AlarmKind.COLLECTOR_NOT_STARTING)
    assert up
    assert raised < 90.0
    made.back(210.0, COLLECTOR, False)
    made.run_to(240.0)
    assert made.told(AlarmKind.COLLECTOR_NOT_STARTING)[1:] == [
        (near(210.0, 1.0), False)
    ]
    assert made.sequence.is_collecting("planer", made.now)


def test_collector_out_of_reach_that_has_to_stop() -> None:
    made = bench()
    made.read(10.0, "planer", 1450.0)
    made.away(40.0, COLLECTOR)
    made.at(60.0, lambda: made.sequence.set_fire_shutdown(True))
    made.run_to(200.0)
    # Nobody knows better than that it still runs.
    assert made.told(AlarmKind.COLLECTOR_NOT_STOPPING) == [(near(120.0, 1.0), True)]
    assert [target for _, target in made.sent("planer_gate")] == [True]
    made.back(210.0, COLLECTOR, True)
    made.run_to(240.0)
    assert made.told(AlarmKind.COLLECTOR_NOT_STOPPING)[1:] == [
        (near(211.0, 1.5), False)
    ]
    assert not made.devices[COLLECTOR].state


def test_one_more_try_on_a_persons_word() -> None:
    made = bench()
    made.devices[COLLECTOR].deaf = True
    made.read(10.0, "planer", 1450.0)
    made.run_to(60.0)
    assert len(made.sent(COLLECTOR)) == 1
    made.devices[COLLECTOR].deaf = False
    made.at(61.0, lambda: made.sequence.motor.actuator.retry(made.now))
    made.run_to(70.0)
    assert len(made.sent(COLLECTOR)) == 2
    assert made.told(AlarmKind.COLLECTOR_NOT_STARTING)[1:] == [(near(61.0), False)]
    assert made.sequence.is_collecting("planer", made.now)


# The bin


def fill(made: Bench, instant: float, *, full: bool = True) -> None:
    made.at(instant, lambda: made.sequence.set_bin_full(full))


def test_full_bin_is_only_told() -> None:
    made = bench()
    fill(made, 5.0)
    made.read(10.0, "planer", 1450.0)
    made.run_to(30.0)
    assert phase(made) is Phase.COLLECTING
    fill(made, 40.0, full=False)
    made.run_to(41.0)
    assert made.told(AlarmKind.BIN_FULL) == [(near(5.0), True), (near(40.0), False)]


def test_full_bin_refuses_the_next_start() -> None:
    made = bench(with_collector(bin_answer=WhenBinFull.REFUSE))
    made.read(10.0, "planer", 1450.0)
    fill(made, 30.0)
    made.read(40.0, "tablesaw", 1800.0)
    made.run_to(50.0)
    # Already on: another machine may join.
    assert made.sequence.is_collecting("tablesaw", made.now)
    made.sequence.request("bandsaw", made.now)
    made.sequence.withdraw("bandsaw")
    made.read(60.0, "planer", 5.0)
    made.read(60.0, "tablesaw", 5.0)
    made.run_to(140.0)
    assert phase(made) is Phase.IDLE
    made.read(150.0, "planer", 1450.0)
    made.run_to(200.0)
    assert [target for _, target in made.sent(COLLECTOR)] == [True, False]
    with pytest.raises(RefusedError) as refused:
        made.sequence.start_by_hand()
    assert refused.value.why is Refusal.BIN_FULL
    fill(made, 210.0, full=False)
    made.run_to(230.0)
    assert made.sequence.is_collecting("planer", made.now)


def test_full_bin_lets_the_cut_finish_and_no_other_begin() -> None:
    made = bench(with_collector(bin_answer=WhenBinFull.FINISH))
    made.read(10.0, "planer", 1450.0)
    fill(made, 30.0)
    made.read(40.0, "tablesaw", 1800.0)
    made.run_to(55.0)
    assert phase(made) is Phase.COLLECTING
    made.read(60.0, "planer", 5.0)
    made.run_to(70.0)
    assert phase(made) is Phase.SHUTTING_OFF
    made.run_to(140.0)
    assert [target for _, target in made.sent(COLLECTOR)] == [True, False]
    with pytest.raises(RefusedError):
        made.sequence.request("planer", made.now)
    fill(made, 150.0, full=False)
    made.run_to(170.0)
    assert made.sequence.is_collecting("tablesaw", made.now)


# A fire shutdown


def test_fire_shutdown_stops_at_once_closes_after_spin_down_and_blocks() -> None:
    made = bench()
    made.read(10.0, "planer", 1450.0)
    made.at(30.0, lambda: made.sequence.set_fire_shutdown(True))
    made.run_to(49.0)
    assert made.sent(COLLECTOR)[1:] == [(near(30.0), False)]
    assert made.switchings[-1].cause is Cause.FIRE_SHUTDOWN
    assert [target for _, target in made.sent("planer_gate")] == [True]
    made.run_to(100.0)
    assert made.sent("planer_gate")[1:] == [(near(50.3), False)]
    made.hand(110.0, COLLECTOR, True)
    made.run_to(130.0)
    assert not made.devices[COLLECTOR].state
    assert made.told(AlarmKind.FIRE_SHUTDOWN) == [(near(30.0), True)]
    made.at(200.0, lambda: made.sequence.set_fire_shutdown(False))
    made.run_to(220.0)
    assert made.told(AlarmKind.FIRE_SHUTDOWN)[1:] == [(near(200.0), False)]
    assert made.sequence.is_collecting("planer", made.now)


# Gates


def test_wanted_gate_closed_by_hand() -> None:
    made = bench(with_collector(hand_gates=("tablesaw_gate",)))
    made.read(10.0, "planer", 1450.0)
    made.hand(30.0, "planer_gate", False)
    made.run_to(40.0)
    assert made.told(AlarmKind.GATE_MOVED) == [(near(30.0), True)]
    # The impeller turns, so another gate is opened; the planer's is left alone.
    assert made.sent("tablesaw_gate") == [(near(30.0), True)]
    assert made.sent("planer_gate") == [(near(10.0), True)]
    made.hand(50.0, "planer_gate", True)
    made.run_to(100.0)
    assert made.told(AlarmKind.GATE_MOVED)[1:] == [(near(50.0), False)]
    assert made.sequence.is_collecting("planer", made.now)


def test_hand_gate_that_nobody_has_opened() -> None:
    def add_lathe(system: SystemConfig) -> SystemConfig:
        gate = GateConfig(gate_id="lathe_gate", name="Lathe gate", kind=GateKind.HAND)
        lathe = MachineConfig(
            machine_id="lathe", name="Lathe", gates=("lathe_gate",), levels=LEVELS
        )
        return replace(
            system, gates=(*system.gates, gate), machines=(*system.machines, lathe)
        )

    made = bench(add_lathe, lathe_gate=Device("lathe_gate"))
    made.read(10.0, "lathe", 700.0)
    made.hand(30.0, "lathe_gate", True)
    made.run_to(60.0)
    assert made.told(AlarmKind.HAND_GATE_CLOSED) == [
        (near(11.0), True),
        (near(30.0), False),
    ]
    assert made.sequence.is_collecting("lathe", made.now)


def test_gate_that_is_offline_is_told_at_once_where_it_is_needed() -> None:
    made = bench()
    made.away(5.0, "planer_gate")
    made.run_to(9.0)
    # Nothing needs it yet.
    assert made.alarms == []
    made.read(10.0, "planer", 1450.0)
    made.run_to(120.0)
    assert made.told(AlarmKind.GATE_OFFLINE) == [(near(11.0), True)]
    assert made.told(AlarmKind.GATE_NOT_MOVING) == []
    made.back(130.0, "planer_gate", False)
    made.run_to(150.0)
    assert made.told(AlarmKind.GATE_OFFLINE)[1:] == [(near(130.0), False)]
    assert made.sequence.is_collecting("planer", made.now)


# Machines


def test_reading_that_stands_still() -> None:
    levels = replace(LEVELS, stale_after=300.0)
    made = bench(with_planer(levels=levels))
    for instant in (10.0, 200.0, 400.0):
        made.read(instant, "planer", 1450.0)
    made.run_to(699.0)
    assert made.alarms == []
    made.run_to(1000.0)
    # Silent at 700; with the dropout time over at 760 it counts as stopped.
    assert made.told(AlarmKind.READING_STUCK) == [(near(700.0), True)]
    assert made.told(AlarmKind.READING_LOST) == []
    assert made.sent(COLLECTOR)[1:] == [(near(775.0), False)]
    made.read(1100.0, "planer", 5.0)
    made.run_to(1101.0)
    assert made.told(AlarmKind.READING_STUCK)[1:] == [(near(1100.0), False)]


def test_missing_reports_of_a_machine_at_rest_says_nothing() -> None:
    made = bench(with_planer(levels=replace(LEVELS, stale_after=300.0)))
    made.run_to(5000.0)
    assert made.alarms == []


def test_reports_that_stop_while_a_stop_is_confirmed() -> None:
    slow = Thresholds(start=150.0, stop=60.0, stop_confirm=90.0, stale_after=30.0)
    made = bench(with_planer(levels=slow))
    made.read(10.0, "planer", 1450.0)
    made.read(35.0, "planer", 5.0)
    made.run_to(64.0)
    assert made.alarms == []
    made.run_to(66.0)
    assert made.told(AlarmKind.READING_STUCK) == [(near(65.0), True)]


def test_machine_left_on() -> None:
    made = bench(with_planer(run_limit=600.0))
    made.read(10.0, "planer", 1450.0)
    made.read(700.0, "planer", 5.0)
    made.run_to(800.0)
    assert made.told(AlarmKind.LEFT_ON) == [(near(611.0), True), (near(704.0), False)]


def test_hose_signal_that_is_gone() -> None:
    made = bench(with_planer(movable=True))
    made.at(10.0, lambda: made.sequence.set_connected("planer", None, 10.0))
    made.at(200.0, lambda: made.sequence.set_connected("planer", True, 200.0))
    made.run_to(300.0)
    assert made.told(AlarmKind.CONNECTED_LOST) == [
        (near(70.0), True),
        (near(200.0), False),
    ]


def test_linked_device_that_does_not_switch() -> None:
    def add_lamp(system: SystemConfig) -> SystemConfig:
        lamp = LinkedDeviceConfig(linked_device_id="lamp", name="Lamp")
        return with_planer(linked_devices=("lamp",))(
            replace(system, linked_devices=(lamp,))
        )

    made = bench(add_lamp, lamp=Device("lamp", deaf=True))
    made.read(10.0, "planer", 1450.0)
    made.run_to(60.0)
    assert made.told(AlarmKind.LINKED_DEVICE_NOT_SWITCHING) == [(near(31.0), True)]
    assert made.sequence.is_collecting("planer", made.now)


def test_workshop_whose_power_is_off_is_told_in_one_word() -> None:
    made = bench()
    made.away(10.0, COLLECTOR)
    for machine in ("planer", "tablesaw", "bandsaw"):
        made.read(10.0, machine, None)
        made.read(500.0, machine, 4.0)
    made.back(500.0, COLLECTOR, False)
    made.run_to(600.0)
    assert [(c.condition.kind, c.raised) for c in made.alarms] == [
        (AlarmKind.SHOP_AWAY, True),
        (AlarmKind.SHOP_AWAY, False),
    ]


def test_what_only_home_assistant_can_see() -> None:
    made = bench()
    low = Condition(AlarmKind.AIR_SUPPLY_LOW, COLLECTOR)
    note = made.shop.note_outside
    for instant, present in ((5.0, True), (6.0, True), (9.0, False), (10.0, False)):
        made.at(instant, partial(note, low, present=present))
    made.run_to(20.0)
    assert made.told(AlarmKind.AIR_SUPPLY_LOW) == [
        (near(5.0), True),
        (near(9.0), False),
    ]
