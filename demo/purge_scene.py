"""Two machines that collect their own dust and only need a purge step afterwards.

A carving machine has an extractor of its own, with a drop box below its cyclone. A
vacuum robot empties itself into the floor sweep when it docks. Neither needs the
collector while it works.
"""

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from .forms import Form, FormError
from .newcomer import CARVING_MACHINE_KEY, FLOOR_SWEEP, SHUTOFF_DELAY
from .play import Play
from .shop_floor import ShopFloor

CARVING_MACHINE: Final = "Carving machine"
ROBOT: Final = "Vacuum robot"

DROP_BOX_PURGE: Final = 5.0
"""How long the drop box is emptied [s]."""
DOCK_PURGE: Final = 6.0
"""How long the robot is emptied [s]."""

WORKSHOP: Final[Mapping[str, Any]] = {
    "machines": {
        CARVING_MACHINE_KEY: {
            "name": CARVING_MACHINE,
            "area": "Bench room",
            "standby": 8.0,
            "idle": 700.0,
            "work": 1600.0,
            "inrush": 2200.0,
            "dust": 0.01,
        }
    }
}
"""The virtual workshop's machine for it."""

_ROBOT_ENTITY: Final = "vacuum.shop_robot"

CONFIGURATION: Final = """\
input_boolean:
  robot_is_out:
template:
  - vacuum:
      - name: Shop robot
        unique_id: shop_robot
        default_entity_id: vacuum.shop_robot
        state: "{{ 'cleaning' if is_state('input_boolean.robot_is_out', 'on') else 'docked' }}"
        start:
          - action: input_boolean.turn_on
            target: {entity_id: input_boolean.robot_is_out}
        return_to_base:
          - action: input_boolean.turn_off
            target: {entity_id: input_boolean.robot_is_out}
"""
"""The robot: a real one would come from its own integration."""

_WORK: Final = 6.0
"""How long each of them works [s]."""
_SLACK: Final = 4.0
"""How much longer than its step and the shut-off delay a gate may collect: the impeller
spins down, and the computer is busy [s]."""
_PATIENCE: Final = 40.0
"""How long everything may take to come to rest [s]."""


@dataclass(frozen=True, slots=True)
class _Scene:
    """One of the two: its name, how it starts and stops, and what is emptied."""

    title: str
    machine: str
    gate: str
    purge: float
    begin: str
    end: str
    start: Callable[[ShopFloor], Awaitable[Any]]
    stop: Callable[[ShopFloor], Awaitable[Any]]


SCENES: Final = (
    _Scene(
        "11. A drop box is emptied into the main",
        CARVING_MACHINE,
        "Drop box gate",
        DROP_BOX_PURGE,
        "carve something; the machine has an extractor of its own",
        "the carving is done",
        lambda floor: floor.run(CARVING_MACHINE),
        lambda floor: floor.stop(CARVING_MACHINE),
    ),
    _Scene(
        "12. A vacuum robot docks, and is emptied",
        ROBOT,
        f"{FLOOR_SWEEP} gate",
        DOCK_PURGE,
        "send the vacuum robot round",
        "send the robot back to its dock",
        lambda floor: floor.client.call("vacuum.start", _ROBOT_ENTITY),
        lambda floor: floor.client.call("vacuum.return_to_base", _ROBOT_ENTITY),
    ),
)


async def add_machines(floor: ShopFloor, tell: Callable[[str], None]) -> None:
    """Add both as machines without dust collection while they run, and with a purge step."""
    client, entry_id = floor.client, floor.entry_id
    sensors = {CARVING_MACHINE: floor.reading(CARVING_MACHINE), ROBOT: _ROBOT_ENTITY}
    for scene in SCENES:
        gates = [floor.part_id(scene.gate)]
        form = await Form.add_part(client, entry_id, "machine")
        await form.fill(
            name=scene.machine,
            sensor=sensors[scene.machine],
            gates=gates,
            find_levels=False,
        )
        _expect(form, "create_entry")
        await floor.learn(entry_id)
        await _change(
            floor,
            scene.machine,
            "afterwards",
            needs_air=False,
            clearing_1_gates=gates,
            clearing_1_time=scene.purge,
        )
    # On its way back it isn't done yet.
    states = ["cleaning", "returning"]
    await _change(floor, ROBOT, "detection", running_states=states)
    tell("added a carving machine and a vacuum robot, which are emptied afterwards")


async def _change(floor: ShopFloor, machine: str, page: str, **answers: Any) -> None:
    form = await Form.change_part(
        floor.client, floor.entry_id, "machine", floor.part_id(machine), page
    )
    await form.fill(**answers)
    _expect(form, "reconfigure_successful")


def _expect(form: Form, end: str) -> None:
    if form.step != end:
        raise FormError(f"The form ends with {form.step}, not with {end}")


async def empty_afterwards(play: Play) -> None:
    """Play both scenes; raises `TimeoutError` where one gets stuck."""
    for scene in SCENES:
        await _play(play, scene)


async def _play(play: Play, scene: _Scene) -> None:
    floor, key = play.floor, play.floor.gate_keys[scene.gate]
    play.timeline.title(scene.title)
    await play.until("phase", "idle", timeout=_PATIENCE)
    before = await floor.truth()
    play.say(scene.begin)
    await scene.start(floor)
    await play.until("phase", "running", scene.machine)
    await play.pause(_WORK)
    working = await floor.truth()
    play.check(
        not working.motor_commands("on", before.now) and not working.opened(before.now),
        "While it works, the collector stays off and every gate closed",
    )
    play.say(scene.end)
    await scene.stop(floor)
    await play.until("phase", "purging", scene.machine)
    await play.until("phase", "idle", scene.machine)
    await play.until("phase", "idle", timeout=_PATIENCE)
    after = await floor.truth()
    pulled = after["gates"][key]["air"] - before["gates"][key]["air"]
    play.check(
        scene.purge - 0.1 <= pulled <= scene.purge + SHUTOFF_DELAY + _SLACK,
        f"It was emptied for {pulled:.1f} s",
        f"{scene.purge:g} s were asked for",
    )
    play.only_opened([scene.gate], after, before.now, f"The {scene.machine.lower()}")
    play.check(
        after["motor_starts"] - before["motor_starts"] == 1,
        "The collector started once for it",
    )
    play.breathed(before, after)
