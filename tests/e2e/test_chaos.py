"""A real Home Assistant in which anything may happen: in the end everything is at rest and repaired."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
import contextlib
import logging
import os
from pathlib import Path
from random import Random
import time
from typing import Any

import pytest

from demo.custom_components.virtual_workshop.model.faults import POSSIBLE, Fault, Part
from demo.custom_components.virtual_workshop.model.layout import (
    COLLECTOR,
    SITE,
    GateKind,
    MeterKind,
)
from demo.forms import Form
from demo.hub_socket import CommandError
from demo.shop_floor import ShopFloor

from .floor import working_shop

LONG = bool(os.environ.get("GATEWRIGHT_LONG"))
DURATION = 600.0 if LONG else 12.0
"""How long anything may happen [s]."""
SEED = 7

MOVABLE = ("Orbital sander", "Shop vacuum")
PATIENCE = 150.0
"""How long a repaired alarm may stay active [s]: a minute of quiet, and the retries of a gate."""

CHANGES: dict[str, Any] = {
    "collector": {"coast": 2.0, "spin_up": 1.0},
    "machines": {"drum_sander": {"meter": {"late": 0.0}}},
}

_LOGGER = logging.getLogger(__name__)


class Chaos:
    """Random events, in an order that follows from a seed."""

    def __init__(self, floor: ShopFloor, seed: int) -> None:
        """Start with a workshop at rest."""
        self.floor = floor
        self.random = Random(seed)
        self.happened: list[str] = []
        self._calls: set[asyncio.Task[None]] = set()

    async def step(self) -> None:
        """Let one thing happen, and some time pass."""
        happening: Callable[[], Awaitable[str]] = self.random.choices(
            [
                self._start,
                self._stop,
                self._break,
                self._mend,
                self._hand,
                self._ask,
                self._reload,
                self._remove,
            ],
            [5, 4, 4, 3, 2, 3, 1, 1],
        )[0]
        self.happened.append(await happening())
        await asyncio.sleep(self.random.uniform(0.1, 2.0))

    async def _start(self) -> str:
        machine = self.random.choice(list(self.floor.machine_keys))
        if self.random.random() < 0.3:
            await self.floor.cut(machine, 3, 1.0, 1.5)
        else:
            await self.floor.run(machine, load=self.random.uniform(0, 100))
        return f"{machine} runs"

    async def _stop(self) -> str:
        machine = self.random.choice(list(self.floor.machine_keys))
        await self.floor.stop(machine)
        return f"{machine} stops"

    async def _break(self) -> str:
        part, faults = self.random.choice(self._breakable())
        fault = self.random.choice(sorted(faults))
        await self.floor.break_part(part, fault)
        return f"{part}: {fault}"

    def _breakable(self) -> list[tuple[str, frozenset[Fault]]]:
        layout = self.floor.layout
        kinds = {
            key: POSSIBLE[Part.HAND_GATE if gate.kind is GateKind.HAND else Part.GATE]
            for key, gate in layout.gates.items()
        }
        for key, machine in layout.machines.items():
            clamp = machine.meter_kind is MeterKind.CLAMP
            kinds[key] = POSSIBLE[Part.CLAMP if clamp else Part.PLUG]
            if machine.movable:
                kinds[key] |= POSSIBLE[Part.MOVABLE]
        kinds[COLLECTOR] = POSSIBLE[Part.COLLECTOR]
        kinds[SITE] = POSSIBLE[Part.SITE]
        return list(kinds.items())

    async def _mend(self) -> str:
        truth = await self.floor.truth()
        broken = sorted(truth["standing"]["faults"])
        if not broken:
            return "nothing to mend"
        part = self.random.choice(broken)
        await self.floor.mend(part)
        if part == SITE:
            await self._reset()
        return f"{part} is mended"

    async def _hand(self) -> str:
        floor, random = self.floor, self.random
        match random.randrange(3):
            case 0:
                on = random.random() < 0.5
                await self._act("switch_collector", on=on)
                return f"the collector is switched {'on' if on else 'off'} by hand"
            case 1:
                gate = random.choice(list(floor.gate_keys.values()))
                position = random.choice([0, 40, 100])
                await self._act("move_gate", gate=gate, position=position)
                return f"{gate} is moved to {position}% by hand"
            case _:
                machine = random.choice(MOVABLE)
                connected = random.random() < 0.6
                key = floor.machine_keys[machine]
                await self._act("attach_machine", machine=key, attached=connected)
                return f"{machine} is {'at' if connected else 'de'}tached"

    async def _ask(self) -> str:
        """Request something of Gatewright, without waiting for the answer."""
        floor, random = self.floor, self.random
        machine = random.choice(floor.machine_names)
        gate = random.choice(list(floor.gate_keys))
        key, part, actions = random.choice(
            [
                ("request", machine, ("switch.turn_on", "switch.turn_off")),
                ("collector", "", ("switch.turn_on", "switch.turn_off")),
                ("automatic", "", ("switch.toggle", "switch.turn_on")),
                ("start_block", "", ("switch.toggle", "switch.turn_off")),
                ("gate", gate, ("cover.open_cover", "cover.close_cover")),
            ]
        )
        action = random.choice(actions)
        call = asyncio.create_task(self.call(action, key, part))
        self._calls.add(call)
        call.add_done_callback(self._calls.discard)
        return f"{action} {key} {part}".strip()

    async def _reload(self) -> str:
        await self.floor.client.reload_entry(self.floor.entry_id)
        return "Gatewright is reloaded"

    async def _remove(self) -> str:
        """Remove an entity from Home Assistant, like a tidying owner, and let it come back."""
        floor = self.floor
        own = self.random.random() < 0.5
        domain = "gatewright" if own else "virtual_workshop"
        ids = sorted((await floor.client.entity_ids(domain)).values())
        removed = self.random.sample(ids, 2)
        for entity_id in removed:
            await floor.client.socket.command(
                "config/entity_registry/remove", entity_id=entity_id
            )
        await asyncio.sleep(self.random.uniform(0.1, 1.5))
        await self._reload_all(domain)
        return f"{' and '.join(removed)} are removed, and come back"

    async def _reload_all(self, domain: str) -> None:
        client = self.floor.client
        for entry in await client.entries(domain):
            await client.reload_entry(entry["entry_id"])

    async def call(self, action: str, key: str, part: str = "") -> None:
        """Call an action on one of Gatewright's entities; it may be refused."""
        with contextlib.suppress(CommandError):
            await self.floor.client.call(action, self.floor.own(key, part))

    async def _act(self, action: str, **data: Any) -> None:
        await self.floor.client.call(f"virtual_workshop.{action}", **data)

    async def _reset(self) -> None:
        """Reset a fire alarm shutdown in the repairs."""
        client = self.floor.client
        for issue in await client.issues("gatewright"):
            if issue["translation_key"] == "alarm_fire_shutdown":
                await (await Form.repair(client, issue)).fill()

    async def calm(self) -> None:
        """Repair everything, stop everything, and withdraw every request."""
        floor = self.floor
        await floor.client.call("virtual_workshop.mend")
        await floor.fill_bin(0)
        for machine, key in floor.machine_keys.items():
            await floor.stop(machine)
            if machine in MOVABLE:
                await self._act("attach_machine", machine=key, attached=False)
        for gate in floor.layout.gates.values():
            if gate.kind is GateKind.HAND:
                await self._act("move_gate", gate=gate.key, position=0)
        await self._reload_all("virtual_workshop")
        await floor.until_measured()
        await self._reset()
        await self.call("switch.turn_off", "start_block")
        await self.call("switch.turn_on", "automatic")
        for machine in floor.machine_names:
            await self.call("switch.turn_off", "request", machine)
        await self.call("switch.turn_off", "collector")
        if self._calls:
            await asyncio.wait(self._calls)
        await floor.until("phase", "idle", timeout=PATIENCE)

    async def closed(self) -> None:
        """Close the gates that were left open, and retry those that were given up."""
        floor = self.floor
        for action, state in (
            ("cover.open_cover", "open"),
            ("cover.close_cover", "closed"),
        ):
            moved = [
                name
                for name, key in floor.gate_keys.items()
                if floor.layout.gates[key].kind is not GateKind.HAND
            ]
            for gate in moved:
                await self.call(action, "gate", gate)
            for gate in moved:
                await floor.until("gate", state, gate, 40)


@pytest.fixture
async def floor(tmp_path: Path) -> AsyncIterator[ShopFloor]:
    """Set Gatewright up in its own Home Assistant."""
    hub = working_shop(tmp_path / "hub", CHANGES, warned=True, written=False)
    async with hub as floor:
        yield floor


async def test_anything_may_happen(floor: ShopFloor) -> None:
    chaos = Chaos(floor, SEED)
    ends = time.monotonic() + DURATION
    while time.monotonic() < ends:
        await chaos.step()

    await chaos.calm()
    await chaos.closed()
    said = "\n".join(chaos.happened)
    try:
        await floor.until("problem", "off", timeout=PATIENCE)
    except TimeoutError:
        problem = floor.own("problem")
        left = floor.client.states.attribute(problem, "messages")
        pytest.fail(f"{left} is left of:\n{said}")
    await floor.until("phase", "idle")
    standing = (await floor.truth())["standing"]
    assert not standing["collector"]["relay"], said
    assert not standing["collector"]["turning"], said
    assert all(position == 0 for position in standing["gates"].values()), said
    assert all(floor.state("phase", name) == "idle" for name in floor.machine_names)
    # Nothing moves any more.
    before = await floor.truth()
    await asyncio.sleep(3)
    truth = await floor.truth()
    assert list(truth.orders(before.now)) == [], said

    # It still works.
    await floor.run("Table saw")
    await floor.until("collecting", "on", "Table saw")
    await floor.stop("Table saw")
    await floor.until("phase", "idle", timeout=40)
    assert await floor.client.issues("gatewright") == []
    _LOGGER.info(
        "%d things happened in %.0f s; then all was at rest, without an alarm",
        len(chaos.happened),
        DURATION,
    )
