"""What goes wrong in practice with one motor behind several gates.

Twelve situations that owners of comparable set-ups (one pump, many valves) have
reported in public, restated for a workshop. Times are seconds from the start of
the case; everything is right within one second.
"""

import pytest

from custom_components.gatewright.core.config import COLLECTOR, StartWhen, Thresholds
from custom_components.gatewright.core.control.enums import Cause, Phase
from custom_components.gatewright.core.control.machine import MachinePhase
from custom_components.gatewright.core.control.persistence import restore, save

from .bench import Bench, field_bench, near, resting_bench


def planer_runs(
    since: float = 10.0,
    *,
    used: bool = False,
    start_when: StartWhen = StartWhen.GATE_OPENING,
) -> Bench:
    """Return a bench whose planer was switched on at `since`."""
    bench = resting_bench(used=used, start_when=start_when)
    bench.read(since, "planer", 1450.0)
    return bench


def collecting_at_zero() -> Bench:
    """Return a bench on which the planer has been extracted for a while at 0."""
    bench = field_bench(now=-100.0)
    bench.power_up()
    bench.read(-80.0, "planer", 1450.0)
    bench.read(-80.0, "tablesaw", 4.0)
    bench.read(-80.0, "bandsaw", 3.0)
    bench.run_to(0.0)
    assert bench.sequence.phase is Phase.COLLECTING
    bench.commands.clear()
    return bench


def restart(before: Bench, **devices: bool | None) -> Bench:
    """Return a bench on which an earlier one's memory was taken up at 45 s."""
    memory = save(before.shop, before.now)
    after = field_bench(now=45.0)
    for device in after.devices.values():
        device.reachable = False
    for part, state in devices.items():
        after.devices[part].state = state
    restore(after.shop, memory, 45.0)
    after.power_up()
    return after


# 1: hand-over between machines must not drop the motor


def test_hand_over_keeps_the_motor_on() -> None:
    bench = planer_runs()
    bench.read(60.0, "planer", 20.0)
    bench.read(70.0, "tablesaw", 1800.0)
    bench.run_to(200.0)
    # At the first reading: opening a gate waits for nothing.
    assert bench.sent("planer_gate")[0] == (near(10.0), True)
    assert bench.sent(COLLECTOR) == [(near(14.0, 1.0), True)]
    closed = [t for t, target in bench.sent("planer_gate") if not target]
    assert closed
    assert 74.0 <= closed[0] < 90.0


def test_start_being_confirmed_holds_the_motor_on() -> None:
    bench = planer_runs()
    bench.read(60.0, "planer", 20.0)
    bench.read(78.5, "tablesaw", 1800.0)
    bench.run_to(200.0)
    assert bench.sent(COLLECTOR) == [(near(14.0, 1.0), True)]
    assert bench.sequence.phase is Phase.COLLECTING


def test_spike_at_the_end_of_shutoff_delay_stops_as_soon_as_it_is_refuted() -> None:
    bench = planer_runs()
    bench.read(60.0, "planer", 20.0)
    bench.read(78.5, "tablesaw", 1800.0)
    bench.read(79.2, "tablesaw", 5.0)
    bench.run_to(200.0)
    assert bench.sent(COLLECTOR)[1:] == [(near(79.2), False)]


# 2: the gate must not close on a motor that is still turning


def test_gate_waits_for_the_impeller() -> None:
    bench = planer_runs()
    bench.read(60.0, "planer", 8.0)
    bench.run_to(200.0)
    assert bench.sent(COLLECTOR)[1] == (near(79.0), False)
    assert bench.sent("planer_gate")[1] == (near(99.3, within=0.01), False)
    assert bench.sequence.phase is Phase.IDLE


def test_demand_during_spin_down_waits_for_the_motor_rest() -> None:
    bench = planer_runs()
    bench.read(60.0, "planer", 8.0)
    bench.read(85.0, "planer", 1450.0)
    bench.run_to(200.0)
    assert bench.sent("planer_gate") == [(near(10.0), True)]
    assert bench.sent(COLLECTOR) == [
        (near(14.0, 1.0), True),
        (near(79.0), False),
        (near(109.3, within=0.01), True),
    ]


# 3: no motor start against a gate that did not open


@pytest.mark.parametrize("used", [False, True])
def test_stuck_gate_keeps_the_motor_off_until_it_is_freed(used: bool) -> None:
    """So it is where the owner has the collector wait for its gate."""
    bench = planer_runs(used=used, start_when=StartWhen.GATE_OPEN)
    gate = bench.devices["planer_gate"]
    gate.travel = 1000.0
    bench.run_to(55.0)
    assert bench.sent(COLLECTOR) == []
    assert len(bench.sent("planer_gate")) == 2
    assert [(near(21.0, 1.0), True)] == bench.told("gate_not_moving")
    assert bench.sequence.machines["planer"].phase is MachinePhase.RUNNING
    assert not bench.sequence.is_collecting("planer", bench.now)
    bench.hand(60.0, "planer_gate", True)
    bench.run_to(80.0)
    assert bench.told("gate_not_moving")[1:] == [(near(60.0), False)]
    assert bench.sent(COLLECTOR) == [(near(60.0), True)]


def test_motor_is_started_against_a_stuck_gate_at_most_once() -> None:
    """While the gate opens, and off again when that is overdue."""
    bench = planer_runs(used=True)
    bench.devices["planer_gate"].travel = 1000.0
    bench.run_to(55.0)
    # Its strokes took 3 s: a second more than that is too much.
    assert bench.sent(COLLECTOR) == [(near(11.0), True), (near(14.0), False)]
    # The impeller turns: another gate is opened for the spin-down.
    assert bench.sent("tablesaw_gate") == [(near(14.0), True)]
    assert len(bench.sent("planer_gate")) == 2
    assert bench.told("gate_not_moving") == [(near(20.0, 1.0), True)]
    assert bench.sequence.machines["planer"].phase is MachinePhase.RUNNING
    assert not bench.sequence.is_collecting("planer", bench.now)
    bench.hand(60.0, "planer_gate", True)
    bench.run_to(80.0)
    assert bench.told("gate_not_moving")[1:] == [(near(60.0), False)]
    assert bench.sent(COLLECTOR)[2:] == [(near(60.0), True)]


def test_gate_without_feedback_is_given_its_travel_time() -> None:
    bench = resting_bench(start_when=StartWhen.GATE_OPEN)
    bench.read(10.0, "bandsaw", 700.0)
    bench.run_to(30.0)
    assert bench.sent("bandsaw_gate") == [(near(10.0), True)]
    assert bench.sent(COLLECTOR) == [(near(15.0), True)]


# 4: a restart in the middle of a run


def test_restart_resumes_the_run_without_a_command() -> None:
    after = restart(collecting_at_zero(), planer_gate=True, collector=True)
    after.back(52.0, COLLECTOR, True)
    after.back(53.0, "planer_gate", True)
    after.back(53.0, "tablesaw_gate", False)
    after.back(53.0, "bandsaw_gate", False)
    after.read(55.0, "planer", 1430.0)
    after.run_to(57.0)
    assert after.commands == []
    assert after.sequence.phase is Phase.COLLECTING
    after.read(60.0, "planer", 10.0)
    after.run_to(200.0)
    assert after.sent(COLLECTOR) == [(near(79.0), False)]


def test_restart_after_the_machine_was_switched_off() -> None:
    after = restart(collecting_at_zero(), planer_gate=True, collector=True)
    after.back(52.0, COLLECTOR, True)
    after.back(53.0, "planer_gate", True)
    after.read(55.0, "planer", 10.0)
    after.run_to(200.0)
    assert after.sent(COLLECTOR) == [(near(74.0), False)]
    assert after.sent("planer_gate") == [(near(94.3), False)]


def test_restart_with_the_motor_found_off_serves_the_spin_down_whole() -> None:
    after = restart(collecting_at_zero(), planer_gate=True, collector=False)
    after.back(46.0, COLLECTOR, False)
    after.back(47.0, "planer_gate", True)
    after.read(48.0, "planer", 5.0)
    after.run_to(200.0)
    assert after.sent(COLLECTOR) == []
    [(closed, target)] = after.sent("planer_gate")
    assert not target
    assert closed >= 66.0
    assert closed == near(67.0, 1.0)


# 5: sensors that are not ready at start


def fresh() -> Bench:
    bench = field_bench()
    bench.power_up()
    return bench


def test_first_idle_reading_does_nothing() -> None:
    bench = fresh()
    bench.read(8.0, "planer", 9.0)
    bench.run_to(300.0)
    assert [c for c in bench.commands if c[2]] == []


def test_level_found_at_start_is_enough() -> None:
    bench = fresh()
    bench.read(8.0, "planer", 1440.0)
    bench.run_to(40.0)
    assert bench.sent("planer_gate") == [(near(8.0), True)]
    assert bench.sent(COLLECTOR)[0] == (near(12.0, 1.0), True)


def test_sensor_without_reports_is_told_and_hinders_nobody() -> None:
    bench = fresh()
    bench.read(1.0, "bandsaw", 3.0)
    bench.read(1.0, "tablesaw", 3.0)
    bench.read(30.0, "tablesaw", 1800.0)
    bench.run_to(55.0)
    assert bench.sent(COLLECTOR)[0][1]
    bench.read(90.0, "planer", 7.0)
    bench.run_to(100.0)
    assert bench.told("reading_lost") == [
        (near(60.0), True),
        (near(90.0), False),
    ]


def test_collector_that_appears_late_is_started() -> None:
    bench = field_bench()
    bench.devices[COLLECTOR].reachable = False
    bench.power_up()
    bench.read(5.0, "planer", 1440.0)
    bench.run_to(19.0)
    assert bench.sent(COLLECTOR) == []
    bench.back(20.0, COLLECTOR, False)
    bench.run_to(60.0)
    assert bench.sent(COLLECTOR) == [(near(20.0), True)]
    assert bench.told("collector_not_starting") == []


# 6: a sensor drops out during a run


def test_short_drop_out_is_ridden_through_and_a_long_one_told() -> None:
    bench = collecting_at_zero()
    bench.read(20.0, "planer", None)
    bench.read(50.0, "planer", 1440.0)
    bench.read(100.0, "planer", None)
    bench.read(800.0, "planer", 5.0)
    bench.run_to(99.0)
    assert bench.commands == []
    bench.run_to(900.0)
    assert bench.sent(COLLECTOR) == [(near(175.0), False)]
    assert bench.sent("planer_gate") == [(near(195.3), False)]
    assert bench.told("reading_lost") == [
        (near(160.0), True),
        (near(800.0), False),
    ]


def test_reading_that_returns_high_is_a_start_like_any_other() -> None:
    bench = collecting_at_zero()
    bench.read(100.0, "planer", None)
    bench.read(400.0, "planer", 1440.0)
    bench.run_to(450.0)
    assert bench.told("reading_lost")[1:] == [(near(400.0), False)]
    assert bench.sent("planer_gate")[-1] == (near(400.0), True)
    assert bench.sequence.phase is Phase.COLLECTING


def test_drop_out_during_shutoff_delay_changes_nothing() -> None:
    bench = planer_runs()
    bench.read(60.0, "planer", 10.0)
    bench.read(70.0, "planer", None)
    bench.read(72.0, "planer", 10.0)
    bench.run_to(100.0)
    assert bench.sent(COLLECTOR)[1] == (near(79.0), False)


# 7: a stop command that fails, hangs or is lost


def test_lost_stop_command_is_repeated_with_the_gate_kept_open() -> None:
    bench = planer_runs()
    bench.read(60.0, "planer", 10.0)
    bench.at(78.0, lambda: setattr(bench.devices[COLLECTOR], "deaf", True))
    bench.hand(130.0, COLLECTOR, False)
    bench.run_to(300.0)
    tries = [t for t, target in bench.sent(COLLECTOR) if not target]
    assert tries[:3] == [near(79.0), near(89.0), near(99.0)]
    [(raised, up), (cleared, down)] = bench.told("collector_not_stopping")
    assert (up, down) == (True, False)
    assert raised <= 109.0
    assert cleared == near(130.0)
    assert bench.sent("planer_gate")[1:] == [(near(150.0), False)]


def test_hanging_stop_blocks_nobody_and_can_be_called_off() -> None:
    bench = planer_runs()
    bench.read(60.0, "planer", 10.0)
    bench.at(78.0, lambda: setattr(bench.devices[COLLECTOR], "hangs", 10.0))
    bench.at(78.0, lambda: setattr(bench.devices[COLLECTOR], "deaf", True))
    bench.at(88.0, lambda: setattr(bench.devices[COLLECTOR], "deaf", False))
    bench.read(85.0, "tablesaw", 1800.0)
    bench.run_to(120.0)
    assert bench.sent("tablesaw_gate") == [(near(85.0), True)]
    assert bench.sent(COLLECTOR)[-1][1]
    assert bench.devices[COLLECTOR].state is True
    assert bench.sequence.phase is Phase.COLLECTING


# 8: a late, optimistic or bouncing confirmation


def test_contrary_report_inside_the_window_is_noise() -> None:
    bench = planer_runs()
    bench.devices[COLLECTOR].delay = 0.1
    bench.hand(15.0, COLLECTOR, False)
    bench.hand(19.5, COLLECTOR, True)
    bench.run_to(55.0)
    assert bench.sent(COLLECTOR) == [(near(14.0, 1.0), True)]
    assert bench.alarms == []
    assert bench.sequence.phase is Phase.COLLECTING


def test_late_confirmation_clears_the_alarm_and_goes_on() -> None:
    bench = planer_runs()
    bench.devices[COLLECTOR].deaf = True
    bench.hand(52.0, COLLECTOR, True)
    bench.run_to(80.0)
    assert bench.sent(COLLECTOR) == [(near(14.0, 1.0), True)]
    assert bench.told("collector_not_starting") == [
        (near(24.0, 1.0), True),
        (near(52.0), False),
    ]
    assert bench.sequence.phase is Phase.COLLECTING


# 9: the owner is not fought


def test_collector_switched_on_by_hand_gets_the_hand_gate() -> None:
    bench = resting_bench()
    bench.hand(5.0, COLLECTOR, True)
    bench.hand(320.0, COLLECTOR, False)
    bench.run_to(300.0)
    assert bench.sent("planer_gate") == [(near(5.0), True)]
    assert bench.sent(COLLECTOR) == []
    assert bench.devices[COLLECTOR].state is True
    bench.run_to(400.0)
    assert bench.sent("planer_gate")[1:] == [(near(340.0), False)]
    assert bench.sent(COLLECTOR) == []


def test_collector_switched_on_by_hand_without_a_gate_that_opens() -> None:
    bench = resting_bench()
    bench.devices["planer_gate"].deaf = True
    bench.hand(5.0, COLLECTOR, True)
    bench.run_to(60.0)
    assert bench.sent(COLLECTOR) == [(near(15.0, 1.0), False)]
    assert bench.told("gate_not_moving")[0] == (near(15.0, 1.0), True)
    assert bench.switchings[-1].cause is Cause.NO_GATE_OPEN


def test_collector_switched_off_by_hand_stays_off_for_this_run() -> None:
    bench = collecting_at_zero()
    bench.hand(30.0, COLLECTOR, False)
    bench.read(31.0, "planer", 1460.0)
    bench.read(100.0, "planer", 10.0)
    bench.read(160.0, "planer", 1450.0)
    bench.run_to(159.0)
    assert bench.sent(COLLECTOR) == []
    assert bench.told("stopped_by_hand") == [
        (near(30.0), True),
        (near(104.0), False),
    ]
    bench.run_to(200.0)
    assert [target for _, target in bench.sent(COLLECTOR)] == [True]


def test_collector_on_by_hand_stays_on_after_a_machine() -> None:
    bench = resting_bench()
    bench.hand(5.0, COLLECTOR, True)
    bench.read(20.0, "planer", 1450.0)
    bench.read(60.0, "planer", 10.0)
    bench.run_to(300.0)
    assert bench.sent(COLLECTOR) == []
    assert bench.sequence.phase is Phase.COLLECTING


# 10: standby draw, inrush and pauses


def test_standby_inrush_and_pauses() -> None:
    bench = resting_bench()
    for instant, watts in (
        (0.5, 22.0),
        (20.0, 1200.0),
        (20.4, 22.0),
        (40.0, 48.0),
        (42.0, 140.0),
        (44.0, 24.0),
        (100.0, 1450.0),
        (130.0, 110.0),
        (150.0, 1500.0),
        (200.0, 55.0),
        (203.0, 900.0),
        (260.0, 22.0),
    ):
        bench.read(instant, "planer", watts)
    phases: list[tuple[float, MachinePhase]] = []

    def watch(bench: Bench) -> None:
        phase = bench.sequence.machines["planer"].phase
        if not phases or phases[-1][1] is not phase:
            phases.append((bench.now, phase))

    bench.after_step = watch
    bench.run_to(400.0)
    assert phases[1:] == [
        (near(101.0), MachinePhase.RUNNING),
        (near(264.0), MachinePhase.IDLE),
    ]
    assert bench.shop.ledger.of("planer").cuts == 1


# 11: slow plugs and false zeros


def test_slow_plug_with_a_false_zero() -> None:
    bench = resting_bench(
        bandsaw_levels=Thresholds(
            start=150.0, stop=60.0, start_confirm=1.0, stop_confirm=90.0
        )
    )
    for instant, watts in (
        (60.0, 780.0),
        (120.0, 0.0),
        (180.0, 775.0),
        (240.0, 770.0),
        (300.0, 772.0),
        (360.0, 771.0),
        (420.0, 790.0),
        (480.0, 777.0),
        (540.0, 780.0),
        (600.0, 3.0),
        (660.0, 3.0),
    ):
        bench.read(instant, "bandsaw", watts)
    bench.run_to(595.0)
    [(on, target)] = bench.sent(COLLECTOR)
    assert target
    assert on <= 67.0
    bench.run_to(800.0)
    assert bench.sent(COLLECTOR)[1:] == [(near(705.0), False)]
    sensor = bench.sequence.machines["bandsaw"].sensor
    assert sensor is not None
    assert sensor.report_interval == near(60.0)
    assert not sensor.settles_too_soon
    sensor.levels = Thresholds(start=150.0, stop=60.0, stop_confirm=30.0)
    assert sensor.settles_too_soon


# 12: a reload or changed options during a run


def reload(
    before: Bench, now: float, took: float, shutoff_delay: float = 15.0
) -> Bench:
    """Return a bench that took over from `before` within the same process."""
    memory = save(before.shop, before.now)
    after = field_bench(now=now, shutoff_delay=shutoff_delay)
    for part, device in before.devices.items():
        after.devices[part] = device
    restore(after.shop, memory, now, elapsed=took)
    after.read(now, "planer", 1450.0)
    after.power_up()
    after.commands.clear()
    return after


def test_reloads_during_a_run_send_nothing_and_the_new_shutoff_delay_counts() -> None:
    bench = collecting_at_zero()
    bench.run_to(30.0)
    for now in (31.5, 35.0, 40.0, 45.0):
        bench = reload(bench, now, 0.5, shutoff_delay=25.0)
        bench.run_to(now + 2.0)
        assert bench.commands == []
        assert bench.sequence.phase is Phase.COLLECTING
    bench.read(60.0, "planer", 10.0)
    bench.run_to(200.0)
    assert bench.sent(COLLECTOR) == [(near(89.0), False)]
    assert bench.sent("planer_gate") == [(near(109.3), False)]


@pytest.mark.parametrize(
    ("cut", "phase"), [(70.0, Phase.SHUTTING_OFF), (85.0, Phase.SPINNING_DOWN)]
)
def test_reload_in_shutoff_delay_or_spin_down_goes_on_counting(
    cut: float, phase: Phase
) -> None:
    bench = planer_runs()
    bench.read(60.0, "planer", 10.0)
    bench.run_to(cut)
    assert bench.sequence.phase is phase
    memory = save(bench.shop, bench.now)
    after = field_bench(now=cut + 1.0)
    after.devices = bench.devices
    restore(after.shop, memory, cut + 1.0, elapsed=1.0)
    after.read(cut + 1.0, "planer", 10.0)
    after.power_up()
    after.run_to(200.0)
    off = [(near(79.0), False)] if phase is Phase.SHUTTING_OFF else []
    assert after.sent(COLLECTOR) == off
    assert after.sent("planer_gate") == [(near(99.3, within=0.01), False)]
