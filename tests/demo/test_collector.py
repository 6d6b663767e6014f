"""The collector: spin-up, spin-down, power, bin, and its faults."""

import pytest

from demo.custom_components.virtual_workshop.model.faults import Fault
from demo.custom_components.virtual_workshop.model.layout import COLLECTOR, SITE
from demo.custom_components.virtual_workshop.model.world import World

from .yard import small_world, wait


def running_world() -> World:
    """Return a workshop whose collector runs at full speed with one gate open."""
    world = small_world()
    world.move_gate_by_hand("cover", 1.0)
    world.command_collector(on=True)
    wait(world, 10)
    return world


def test_impeller_spins_up_and_coasts() -> None:
    world = small_world()
    fan = world.collector
    world.command_collector(on=True)
    wait(world, 0.4)
    assert not fan.powered
    wait(world, 2.1)
    assert fan.speed(world.now) == pytest.approx(0.5)
    assert not fan.moves_air(world.now)
    wait(world, 2.0)
    assert fan.speed(world.now) == 1.0
    world.command_collector(on=False)
    wait(world, 0.5 + 9.9)
    assert fan.turning(world.now)
    wait(world, 0.2)
    assert not fan.turning(world.now)
    assert fan.starts == 1


def test_half_a_spin_up_coasts_half_as_long() -> None:
    world = small_world()
    world.command_collector(on=True)
    wait(world, 2.0)
    world.command_collector(on=False)
    wait(world, 0.5)
    assert world.collector.speed(world.now) == pytest.approx(0.5)
    wait(world, 5.0)
    assert not world.collector.turning(world.now)


def test_start_while_coasting_is_another_start() -> None:
    world = running_world()
    world.command_collector(on=False)
    wait(world, 5.5)
    world.command_collector(on=True)
    wait(world, 0.5)
    assert world.collector.speed(world.now) == pytest.approx(0.45)
    wait(world, 4)
    assert world.collector.speed(world.now) == 1.0
    assert world.truth.motor_starts == 2


def test_draw_has_inrush_and_falls_with_all_gates_closed() -> None:
    world = small_world()
    assert world.collector_draw() == world.layout.collector.standby
    world.command_collector(on=True)
    wait(world, 0.5)
    assert world.collector_draw() == pytest.approx(8000)
    wait(world, 5)
    assert world.collector_draw() == pytest.approx(1000)
    world.move_gate_by_hand("cover", 1.0)
    world.move_gate_by_hand("valve", 1.0)
    wait(world, 5)
    assert world.collector_draw() == pytest.approx(2000)


def test_tripped_breaker_leaves_the_relay_on_without_draw() -> None:
    world = running_world()
    world.break_part(COLLECTOR, Fault.BREAKER_TRIPPED)
    assert world.collector.relay.reported(world.now)
    assert world.collector_draw() == 0.0
    wait(world, 11)
    assert not world.collector.turning(world.now)
    world.mend_part(COLLECTOR)
    # The relay is still on: with the breaker back the motor starts, and that counts.
    assert world.collector.powered
    assert world.truth.motor_starts == 2


def test_cut_out_motor_drops_its_relay_and_it_does_not_hold() -> None:
    world = running_world()
    world.break_part(COLLECTOR, Fault.MOTOR_CUTOUT)
    assert not world.collector.relay.reported(world.now)
    world.command_collector(on=True)
    wait(world, 1.0)
    assert world.collector.relay.reported(world.now)
    assert not world.collector.powered
    wait(world, 1.0)
    assert not world.collector.relay.reported(world.now)
    world.mend_part(COLLECTOR)
    world.command_collector(on=True)
    wait(world, 1.0)
    assert world.collector.powered


def test_welded_contactor_says_that_it_stays_on() -> None:
    world = running_world()
    world.break_part(COLLECTOR, Fault.CONTACTOR_WELDED)
    world.command_collector(on=False)
    world.switch_collector_by_hand(on=False)
    wait(world, 30)
    assert world.collector.relay.reported(world.now)
    assert world.collector.powered
    world.mend_part(COLLECTOR)
    world.command_collector(on=False)
    wait(world, 1)
    assert not world.collector.powered


def test_hidden_weld_reports_off_and_draws_on() -> None:
    world = small_world()
    world.break_part(COLLECTOR, Fault.CONTACTOR_WELDED_HIDDEN)
    # A weld needs a contact that has closed.
    assert not world.collector.powered
    world.command_collector(on=True)
    wait(world, 5)
    world.command_collector(on=False)
    wait(world, 30)
    assert not world.collector.relay.reported(world.now)
    assert world.collector_draw() > 900
    world.mend_part(COLLECTOR)
    assert not world.collector.powered
    wait(world, 10)
    assert not world.collector.turning(world.now)


def test_power_cut_stops_everything_and_the_contactor_stays_off() -> None:
    world = running_world()
    world.run_machine("saw", 1.0)
    world.break_part(SITE, Fault.MAINS_OUT)
    assert not world.collector.powered
    assert not world.machines["saw"].running
    wait(world, 20)
    world.mend_part(SITE)
    wait(world, 5)
    assert not world.collector.powered
    assert not world.machines["saw"].running


def test_bin_fills_with_what_is_really_carried_away() -> None:
    world = small_world()
    world.run_machine("saw", 0.5)
    wait(world, 20)
    assert world.collector.bin_level == 0.0
    world.move_gate_by_hand("cover", 1.0)
    world.command_collector(on=True)
    wait(world, 0.5 + 0.8 * 4)
    assert world.collector.bin_level == pytest.approx(0.0)
    wait(world, 100)
    assert world.collector.bin_level == pytest.approx(50)


def test_bin_is_full_at_its_mark_and_that_is_an_event() -> None:
    world = running_world()
    world.set_bin(85)
    world.run_machine("saw", 1.0)
    wait(world, 1.0)
    assert not world.collector.bin_is_full
    event = world.next_event()
    assert event is not None
    assert event == pytest.approx(world.now + 4.0)
    world.advance(event)
    assert world.collector.bin_is_full


def test_hand_at_the_device_is_quicker_than_home_assistant() -> None:
    world = small_world()
    world.switch_collector_by_hand(on=True)
    wait(world, 0.2)
    assert world.collector.powered


def test_filter_pressure_follows_the_air() -> None:
    world = running_world()
    fan = world.collector
    clean = fan.filter_pressure(world.now, world.opening(), clogged=False)
    assert clean == pytest.approx(350)
    assert fan.filter_pressure(world.now, 1.0, clogged=True) == pytest.approx(1400)
    assert fan.filter_pressure(world.now, 0.0, clogged=False) < 50


def test_bouncing_relay() -> None:
    world = small_world()
    world.break_part(COLLECTOR, Fault.COMMAND_BOUNCE)
    world.command_collector(on=True)
    seen = []
    for _ in range(6):
        wait(world, 0.95)
        seen.append(world.collector.relay.reported(world.now))
    assert seen == [True, False, False, False, False, True]
    assert world.truth.motor_starts == 1
