"""Machines: power, operators that follow a plan, and power cuts."""

import pytest

from demo.custom_components.virtual_workshop.model.faults import Fault
from demo.custom_components.virtual_workshop.model.layout import SITE
from demo.custom_components.virtual_workshop.model.world import World, WorldError

from .yard import small_world, wait


def running(world: World, key: str) -> bool:
    """Return whether a machine really runs."""
    return world.machines[key].running


def test_draw_follows_switch_inrush_and_load() -> None:
    world = small_world()
    assert world.machine_draw("saw") == 2.0
    world.run_machine("saw", 0.0)
    assert world.machine_draw("saw") == 4000.0
    wait(world, 0.6)
    assert world.machine_draw("saw") == 500.0
    world.run_machine("saw", 1.0)
    # More load is no new start.
    assert world.machine_draw("saw") == 1500.0
    assert world.machines["saw"].starts == 1
    world.stop_machine("saw")
    assert world.machine_draw("saw") == 2.0


def test_machine_runs_for_some_seconds() -> None:
    world = small_world()
    world.run_machine("saw", 1.0, seconds=5.0)
    wait(world, 4.9)
    assert running(world, "saw")
    wait(world, 0.2)
    assert not running(world, "saw")
    assert world.truth.machines["saw"].running == pytest.approx(5.0)


def test_operator_makes_cuts() -> None:
    world = small_world()
    world.work_machine("saw", [(4.0, 1.0), (6.0, None), (4.0, 1.0), (2.0, 0.0)])
    seen = []
    for _ in range(9):
        wait(world, 2.0)
        seen.append(round(world.machine_draw("saw")))
    # Looked at in the instant of each change: what is due has been done.
    assert seen == [1500, 2, 2, 2, 4000, 1500, 500, 2, 2]
    assert world.machines["saw"].starts == 2
    assert world.truth.machines["saw"].running == pytest.approx(10.0)


def test_stopping_ends_the_plan() -> None:
    world = small_world()
    world.work_machine("saw", [(4.0, 1.0), (6.0, None), (4.0, 1.0)])
    wait(world, 1.0)
    world.stop_machine("saw")
    wait(world, 60.0)
    assert world.truth.machines["saw"].running == pytest.approx(1.0)


def test_machine_stays_off_after_its_plug_was_off() -> None:
    world = small_world()
    world.run_machine("saw", 1.0)
    world.command_plug("saw", on=False)
    wait(world, 1.0)
    assert world.machine_draw("saw") == 0.0
    world.run_machine("saw", 1.0)
    assert not running(world, "saw")
    world.command_plug("saw", on=True)
    wait(world, 1.0)
    assert world.machine_draw("saw") == 2.0


def test_machine_without_no_volt_release_comes_back() -> None:
    world = small_world()
    world.run_machine("sander", 1.0)
    wait(world, 10)
    world.command_plug("sander", on=False)
    wait(world, 10)
    assert not running(world, "sander")
    world.command_plug("sander", on=True)
    wait(world, 1.0)
    assert running(world, "sander")
    assert world.machines["sander"].starts == 2


def test_clamp_has_no_relay_and_dies_with_the_mains() -> None:
    world = small_world()
    world.run_machine("lathe", 1.0)
    wait(world, 1.0)
    assert world.machine_draw("lathe") == 460.0
    world.break_part(SITE, Fault.MAINS_OUT)
    assert world.machine_draw("lathe") == 0.0


def test_a_fault_elsewhere_does_not_touch_a_running_machine() -> None:
    world = small_world()
    world.run_machine("saw", 1.0)
    wait(world, 5.0)
    world.break_part("cover", Fault.GATE_STUCK)
    world.break_part(SITE, Fault.SMOKE)
    assert world.machine_draw("saw") == 1500.0
    assert world.machines["saw"].starts == 1


def test_energy_adds_up() -> None:
    world = small_world()
    world.run_machine("saw", 1.0, seconds=10.0)
    wait(world, 20.0)
    drawn = 0.5 * 4000 + 9.5 * 1500 + 10 * 2
    assert world.machines["saw"].energy == pytest.approx(drawn)


def test_only_movable_machines_are_connected_and_disconnected() -> None:
    world = small_world()
    world.attach("sander", attached=True)
    assert world.machines["sander"].attached
    with pytest.raises(WorldError, match="not movable"):
        world.attach("saw", attached=False)


@pytest.mark.parametrize(
    "nonsense",
    [
        lambda world: world.run_machine("saww", 1.0),
        lambda world: world.stop_machine("cover"),
        lambda world: world.command_gate("saw", 1.0),
        lambda world: world.break_part("nothing", Fault.SMOKE),
        lambda world: world.break_part("saw", Fault.GATE_STUCK),
        lambda world: world.break_part("hand", Fault.COMMAND_LOST),
        lambda world: world.break_part("saw", Fault.CONTACT_LOST),
        lambda world: world.mend_part("nothing"),
    ],
)
def test_nonsense_is_refused(nonsense: object) -> None:
    assert callable(nonsense)
    world: World = small_world()
    with pytest.raises(WorldError):
        nonsense(world)
    assert world.faults == {}
