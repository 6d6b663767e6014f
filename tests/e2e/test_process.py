"""Cases that need a real process: a kill, a restart, or a removal in the middle of work."""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from demo.custom_components.virtual_workshop.layouts import build_layout
from demo.hub import Hub
from demo.hub_directory import prepare
from demo.hub_states import PATIENCE
from demo.newcomer import Newcomer
from demo.shop_floor import ShopFloor, Truth

# A lighter impeller and faster gates than the demo's, and no late plug: these tests have to be fast.
CHANGES: dict[str, Any] = {
    "collector": {"coast": 2.0, "spin_up": 1.0},
    "gates": {"jointer_gate": {"travel": 1.0}, "planer_gate": {"travel": 1.0}},
    "machines": {"drum_sander": {"meter": {"late": 0.0}}},
}


@pytest.fixture
async def floor(tmp_path: Path) -> AsyncIterator[ShopFloor]:
    """Set Gatewright up in its own Home Assistant; at the end nothing may have gone wrong in it."""
    layout = build_layout(CHANGES)
    hub = Hub(prepare(tmp_path / "hub", workshop=CHANGES))
    async with hub:
        floor = ShopFloor(hub, layout)
        try:
            await floor.enter()
            await floor.until_measured()
            newcomer = Newcomer(floor.client, lambda _: None)
            await floor.learn(await newcomer.set_up(layout.collector.coast))
            await floor.until("phase", "idle")
            yield floor
        finally:
            await floor.leave()
        assert hub.troubles(all_starts=True) == []


def airless(truth: Truth, machine: str) -> float:
    """Return how long a machine has run unserved [s]."""
    return truth.machine(machine, "without_air")


async def until_registered(floor: ShopFloor) -> None:
    """Wait until Home Assistant has stored its entities, which takes ten seconds.

    After an earlier kill, it wouldn't recognize the workshop's plugs, whatever was set
    up with them.
    """
    written = floor.hub.directory.path / ".storage" / "core.entity_registry"
    known = ""
    async with asyncio.timeout(30 * PATIENCE):
        while '"gatewright"' not in known:
            await asyncio.sleep(0.2)
            known = written.read_text("utf-8") if written.exists() else ""


async def until_standing(floor: ShopFloor) -> Truth:
    """Wait until the impeller stands still; return the record until then."""
    turning = floor.seen("collector_impeller_turning")
    await floor.client.states.until_state(turning, "off", 20)
    return await floor.truth()


async def test_a_kill_while_a_machine_runs(floor: ShopFloor) -> None:
    await floor.run("Jointer")
    await floor.until("collecting", "on", "Jointer")
    recorded = await floor.run_time("Jointer")
    assert recorded > 0
    await until_registered(floor)
    # The system remembers what changed more than a second ago.
    await asyncio.sleep(1.5)
    before = await floor.truth()

    floor.hub.kill()
    await floor.leave()
    await asyncio.sleep(1)
    await floor.hub.start()
    await floor.enter()
    await floor.until("running", "on", "Jointer")
    await floor.until("collecting", "on", "Jointer")
    await asyncio.sleep(2)

    after = await floor.truth()
    assert airless(after, "jointer") == airless(before, "jointer")
    assert (
        after.machine("jointer", "running") > before.machine("jointer", "running") + 3
    )
    assert after["motor_starts"] == 1
    assert list(after.orders(before.now)) == []
    assert await floor.run_time("Jointer") >= recorded

    await floor.stop("Jointer")
    truth = await until_standing(floor)
    assert truth.motor_commands("off", before.now)
    await floor.until("phase", "idle")
    await floor.until("gate", "closed", "Jointer gate")
    truth = await floor.truth()
    assert truth["strained"] == 0
    assert truth["motor_starts"] == 1
    # It was the same cut in the same run, and the same start of the motor.
    assert await worked(floor, "Jointer") == (1, 1, 1)


async def worked(floor: ShopFloor, machine: str) -> tuple[int, int, int]:
    """Return a machine's runs and cuts, and the collector's starts, by the record."""
    found = await floor.record()
    spent = found["machines"][machine]
    return spent["runs"], spent["cuts"], found["collector"]["starts"]


async def test_a_restart_while_the_collector_runs_on(floor: ShopFloor) -> None:
    await floor.run("Planer", seconds=5)
    await floor.until("collecting", "on", "Planer")
    await floor.until("phase", "shutting_off")
    before = await floor.truth()
    assert before["standing"]["collector"]["relay"]

    await floor.leave()
    await floor.hub.restart()
    await floor.enter()
    await until_standing(floor)
    await floor.until("phase", "idle")
    await floor.until("gate", "closed", "Planer gate")

    truth = await floor.truth()
    assert len(truth.motor_commands("off", before.now)) == 1
    assert truth.opened(before.now) == {}
    assert truth["strained"] == 0
    assert truth["motor_starts"] == 1
    assert await worked(floor, "Planer") == (1, 1, 1)


async def test_a_system_is_disabled_and_removed_at_work(floor: ShopFloor) -> None:
    states, relay = floor.client.states, floor.seen("collector_relay")
    await floor.run("Jointer")
    await floor.until("collecting", "on", "Jointer")
    await _disable(floor, "user")
    await states.until_state(relay, "off", 10)
    truth = await until_standing(floor)
    # The collector is left off, and never with closed gates while its impeller turns.
    assert truth["standing"]["gates"]["jointer_gate"] == 1
    assert truth["strained"] == 0

    # Levels count, not crossings: the jointer still runs when the system comes back.
    await _disable(floor, None)
    await floor.until("collecting", "on", "Jointer")
    truth = await floor.truth()
    assert truth["motor_starts"] == 2
    assert truth["strained"] == 0

    hidden = await _hidden(floor)
    assert relay in hidden
    assert floor.seen("jointer_gate_actuator") in hidden
    await floor.client.remove_entry(floor.entry_id)
    await states.until_state(relay, "off", 10)
    truth = await until_standing(floor)
    assert truth["standing"]["gates"]["jointer_gate"] == 1
    assert truth["strained"] == 0
    assert await _hidden(floor) == set()
    assert await floor.client.entity_ids("gatewright") == {}
    assert await floor.client.entries("gatewright") == []
    storage = floor.hub.directory.path / ".storage"
    assert not list(storage.glob("gatewright*"))


async def _disable(floor: ShopFloor, by: str | None) -> None:
    await floor.client.socket.command(
        "config_entries/disable", entry_id=floor.entry_id, disabled_by=by
    )


async def _hidden(floor: ShopFloor) -> set[str]:
    return {
        entity["entity_id"]
        for entity in await floor.client.entities()
        if entity["hidden_by"] == "integration"
    }
