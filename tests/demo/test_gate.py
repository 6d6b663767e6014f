"""Gates: travel, feedback, and faults."""

from typing import Any

import pytest

from demo.custom_components.virtual_workshop.model.faults import Fault
from demo.custom_components.virtual_workshop.model.gate import Gate
from demo.custom_components.virtual_workshop.model.layout import SITE
from demo.custom_components.virtual_workshop.model.world import World

from .yard import small_world, wait


def feedback(world: World, key: str) -> tuple[Any, int]:
    """Return an actuator's feedback: position and direction."""
    gate = world.gates[key]
    return gate.reported_position(world.now), gate.reported_direction(world.now)


def test_motor_gate_needs_its_latency_and_its_travel() -> None:
    world = small_world()
    world.command_gate("cover", 1.0)
    wait(world, 0.4)
    assert feedback(world, "cover") == (0.0, 0)
    wait(world, 1.6)
    assert feedback(world, "cover") == (pytest.approx(0.5), 1)
    wait(world, 1.5)
    assert feedback(world, "cover") == (1.0, 0)
    assert world.gates["cover"].moves == 1


def test_gate_stops_half_way_and_goes_back() -> None:
    world = small_world()
    world.command_gate("valve", 1.0)
    wait(world, 2.0)
    world.command_gate("valve", 0.0)
    wait(world, 0.5)
    # It kept opening until the new command arrived.
    assert feedback(world, "valve") == (pytest.approx(2 / 3), -1)
    wait(world, 2.0)
    assert feedback(world, "valve") == (0.0, 0)


def test_gate_is_stopped() -> None:
    world = small_world()
    world.command_gate("cover", 1.0)
    wait(world, 2.0)
    world.stop_gate("cover")
    wait(world, 10)
    assert feedback(world, "cover") == (pytest.approx(0.5), 0)


def test_solenoid_reports_its_relay_and_not_its_slide() -> None:
    world = small_world()
    world.command_gate("solenoid", 1.0)
    wait(world, 0.6)
    gate = world.gates["solenoid"]
    assert gate.relay.reported(world.now)
    assert gate.position(world.now) < 0.1
    wait(world, 3)
    assert gate.is_open(world.now)
    world.command_gate("solenoid", 0.0)
    wait(world, 4)
    assert gate.is_shut(world.now)


def test_stuck_motor_pushes_and_gives_up() -> None:
    world = small_world()
    world.break_part("valve", Fault.GATE_STUCK)
    world.command_gate("valve", 1.0)
    wait(world, 15)
    assert feedback(world, "valve") == (0.0, 1)
    wait(world, 10)
    assert feedback(world, "valve") == (0.0, 0)
    world.mend_part("valve")
    wait(world, 10)
    assert feedback(world, "valve") == (0.0, 0)
    world.command_gate("valve", 1.0)
    wait(world, 4)
    assert feedback(world, "valve") == (1.0, 0)


def test_stuck_gate_goes_on_when_it_is_mended_in_time() -> None:
    world = small_world()
    world.break_part("valve", Fault.GATE_STUCK)
    world.command_gate("valve", 1.0)
    wait(world, 5)
    world.mend_part("valve", Fault.GATE_STUCK)
    wait(world, 3)
    assert feedback(world, "valve") == (1.0, 0)


def test_stuck_solenoid_never_gives_up() -> None:
    world = small_world()
    world.break_part("solenoid", Fault.GATE_STUCK)
    world.command_gate("solenoid", 1.0)
    wait(world, 600)
    gate = world.gates["solenoid"]
    assert gate.is_shut(world.now)
    world.mend_everything()
    wait(world, 3)
    assert gate.is_open(world.now)


def test_gate_that_jams_in_motion_stays_where_it_is() -> None:
    world = small_world()
    world.command_gate("cover", 1.0)
    wait(world, 2)
    world.break_part("cover", Fault.GATE_STUCK)
    wait(world, 60)
    assert feedback(world, "cover") == (pytest.approx(0.5), 0)


def test_slow_gate_needs_four_times_as_long() -> None:
    world = small_world()
    world.break_part("cover", Fault.GATE_SLOW)
    world.command_gate("cover", 1.0)
    wait(world, 0.5 + 11.9)
    assert feedback(world, "cover")[1] == 1
    wait(world, 0.2)
    assert feedback(world, "cover") == (1.0, 0)


def test_gate_without_power_stops_and_hears_nothing() -> None:
    world = small_world()
    world.command_gate("cover", 1.0)
    wait(world, 2)
    world.break_part("cover", Fault.GATE_UNPOWERED)
    world.command_gate("cover", 0.0)
    wait(world, 60)
    world.mend_part("cover")
    wait(world, 60)
    assert feedback(world, "cover") == (pytest.approx(0.5), 0)


def test_solenoid_goes_where_its_relay_says_when_its_power_returns() -> None:
    world = small_world()
    world.command_gate("solenoid", 1.0)
    wait(world, 2)
    world.break_part("solenoid", Fault.GATE_UNPOWERED)
    wait(world, 60)
    assert not world.gates["solenoid"].is_open(world.now)
    world.mend_part("solenoid")
    wait(world, 3)
    assert world.gates["solenoid"].is_open(world.now)


def test_pneumatic_gate_needs_air_and_the_others_do_not() -> None:
    world = small_world()
    world.break_part(SITE, Fault.AIR_SUPPLY_LOW)
    world.command_gate("solenoid", 1.0)
    world.command_gate("cover", 1.0)
    wait(world, 20)
    assert world.gates["solenoid"].is_shut(world.now)
    assert world.gates["cover"].is_open(world.now)
    world.mend_part(SITE)
    wait(world, 3)
    assert world.gates["solenoid"].is_open(world.now)


def test_gate_is_moved_by_hand_and_hears_the_next_command() -> None:
    world = small_world()
    for key in ("hand", "cover"):
        world.move_gate_by_hand(key, 1.0)
    wait(world, 3)
    assert world.gates["hand"].is_open(world.now)
    assert feedback(world, "cover") == (1.0, 0)
    world.command_gate("cover", 0.0)
    wait(world, 4)
    assert feedback(world, "cover") == (0.0, 0)


def test_hand_on_a_solenoid_does_not_change_its_relay() -> None:
    world = small_world()
    world.move_gate_by_hand("solenoid", 1.0)
    wait(world, 3)
    gate = world.gates["solenoid"]
    assert gate.is_open(world.now)
    assert not gate.relay.reported(world.now)


@pytest.mark.parametrize("key", ["cover", "valve"])
def test_bouncing_motor_gate(key: str) -> None:
    world = small_world()
    world.break_part(key, Fault.COMMAND_BOUNCE)
    world.command_gate(key, 1.0)
    seen = []
    for _ in range(4):
        wait(world, 0.5)
        seen.append(feedback(world, key))
    assert seen == [(1.0, 0), (0.0, 0), (0.0, 0), (0.0, 0)]
    assert world.gates[key].position(world.now) == pytest.approx(0.5)
    wait(world, 4)
    assert feedback(world, key) == (1.0, 0)


def test_bouncing_solenoid() -> None:
    world = small_world()
    world.break_part("solenoid", Fault.COMMAND_BOUNCE)
    world.command_gate("solenoid", 1.0)
    gate: Gate = world.gates["solenoid"]
    seen = []
    for _ in range(6):
        wait(world, 1)
        seen.append(gate.relay.reported(world.now))
    assert seen == [False, False, False, False, False, True]
    assert gate.is_open(world.now)
