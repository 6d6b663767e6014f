"""Kills Home Assistant at random instants of a session: nothing stays unserved, little is lost."""

import asyncio
from collections.abc import AsyncIterator
from dataclasses import dataclass
import json
import logging
import math
import os
from pathlib import Path
from random import Random
from typing import Any

import pytest

from custom_components.gatewright.runtime.journal import ENDING, caught_up
from demo.hub import Hub
from demo.shop_floor import ShopFloor, Truth

from .floor import working_shop

_LOGGER = logging.getLogger(__name__)

LONG = bool(os.environ.get("GATEWRIGHT_LONG"))
KILLS, SEED = (50, 50) if LONG else (2, 24)
"""In the normal run: one kill while machines are served, and one on the way to rest."""

WORKED = ("Table saw", "Planer", "Jointer", "Band saw", "Miter saw")
"""The session's machines: covers, valves, a bare solenoid, and limit switches."""

SLACK = 1.5
"""How much later than computed something may happen on a busy computer [s]."""
FORGOTTEN = 30.0
"""How much of a run may be missing in the ledger [s]: it's written that often."""
UNWRITTEN = 5.0
"""How old a phase may be that is not on the disk [s]: it is written after a second, and a busy disk takes its time."""

CHANGES: dict[str, Any] = {
    "collector": {"coast": 2.0, "spin_up": 1.0},
    "machines": {"drum_sander": {"meter": {"late": 0.0}}},
}


@dataclass(frozen=True, slots=True)
class Kill:
    """One kill: the state just before, and just after Home Assistant ran again."""

    before: Truth
    after: Truth
    served: frozenset[str]
    """The machines served according to Gatewright, and in truth."""
    saved: dict[str, float]
    """How long each machine had run, according to the files [s]."""
    unwritten: float
    """How old the oldest phase was that had been shown and wasn't on the disk [s]."""

    @property
    def away(self) -> float:
        """How long Home Assistant was down [s]."""
        return self.after.now - self.before.now


class Session:
    """A working session with its kills, all from one seed."""

    def __init__(self, floor: ShopFloor, seed: int) -> None:
        """Start the session."""
        self.floor = floor
        self.random = Random(seed)
        self.kills: list[Kill] = []

    @property
    def hub(self) -> Hub:
        """Return the Home Assistant to kill."""
        return self.floor.hub

    async def work(self) -> None:
        """Let people work for a moment: they turn machines on and off at will."""
        random, floor = self.random, self.floor
        for name in random.sample(WORKED, random.randint(1, 2)):
            await floor.run(name, seconds=random.uniform(2.0, 20.0))
            await asyncio.sleep(random.uniform(0.0, 2.0))
        if random.random() < 0.35:
            # Sometimes everything is turned off, and the kill comes on the way to rest, or at rest.
            for name in WORKED:
                await floor.stop(name)
            await asyncio.sleep(random.uniform(0.0, 13.0))
        else:
            await asyncio.sleep(random.uniform(0.0, 4.0))

    async def kill(self) -> None:
        """Kill Home Assistant, and start it again."""
        floor = self.floor
        before = await floor.truth()
        standing = before["standing"]["machines"]
        served = frozenset(
            name
            for name in WORKED
            if floor.state("collecting", name) == "on"
            and standing[floor.machine_keys[name]]["air"]
            and standing[floor.machine_keys[name]]["running"]
        )
        shown = {
            part: (floor.state("phase", part), before.now - floor.since("phase", part))
            for part in ("", *WORKED)
        }
        self.hub.kill()
        await floor.leave()
        kept = self._kept()
        saved = {
            name: kept["ledger"]["machines"]
            .get(floor.part_id(name), {})
            .get("run_time", 0.0)
            for name in WORKED
        }
        phases = {"": kept["phase"]} | {
            name: kept["machines"][floor.part_id(name)]["phase"] for name in WORKED
        }
        unwritten = max(
            (age for part, (phase, age) in shown.items() if phase != phases[part]),
            default=0.0,
        )
        await asyncio.sleep(self.random.uniform(0.0, 1.5))
        await self.hub.start()
        await floor.enter()
        after = await floor.truth()
        self.kills.append(Kill(before, after, served, saved, unwritten))

    def _kept(self) -> dict[str, Any]:
        """Read the system's memory, as the next process will."""
        storage = self.hub.directory.path / ".storage"
        memory = storage / f"gatewright.{self.floor.entry_id}"
        whole = json.loads(memory.read_text("utf-8"))["data"]
        kept, sound = caught_up(memory.with_name(f"{memory.name}{ENDING}"), whole)
        assert sound
        return kept


@pytest.fixture
async def floor(tmp_path: Path) -> AsyncIterator[ShopFloor]:
    """Set Gatewright up in its own Home Assistant."""
    async with working_shop(tmp_path / "hub", CHANGES) as floor:
        yield floor


async def test_kills_at_random_instants(floor: ShopFloor) -> None:
    session = Session(floor, SEED)
    keys = floor.machine_keys
    gap = loss = -math.inf
    lost: list[float] = []
    for number in range(KILLS):
        await session.work()
        await session.kill()
        kill = session.kills[-1]
        # Until everything in progress is confirmed, however the kill caught it.
        await asyncio.sleep(1.0)
        truth = await floor.truth()
        for name in WORKED:
            key = keys[name]
            lacked = truth.machine(key, "without_air") - kill.before.machine(
                key, "without_air"
            )
            if name in kill.served:
                assert lacked <= kill.away, (number, name, lacked)
                lost.append(lacked)
            # Waits that would have happened anyway, and the time without Home Assistant.
            longest = kill.away + 1.0 + floor.slowest(name, starting=True) + SLACK
            assert lacked <= longest, (number, name, lacked, kill.away)
            gap = max(gap, lacked - kill.away)
        for name in WORKED:
            forgotten = _forgotten(session, name)
            assert forgotten <= FORGOTTEN, (number, name, forgotten)
            loss = max(loss, forgotten)
        assert kill.unwritten <= UNWRITTEN, (number, kill.unwritten)
        _LOGGER.info(
            "kill %d: away for %.1f s; no phase older than %.1f s forgotten; up to now "
            "%.1f s of a run forgotten, dust collection lost for up to %.1f s",
            number + 1,
            kill.away,
            kill.unwritten,
            loss,
            max(lost, default=0.0),
        )
        # The collector starts while its gate opens; it never pulls hard against closed gates.
        assert truth["strained"] == 0, number

    for name in WORKED:
        await floor.stop(name)
    await floor.until("phase", "idle", timeout=40)
    for gate in floor.gate_keys:
        await floor.until("gate", "closed", gate)
    truth = await floor.truth()
    standing = truth["standing"]
    assert not standing["collector"]["relay"]
    assert not standing["collector"]["turning"]
    assert all(position == 0 for position in standing["gates"].values())
    assert floor.state("problem") == "off"
    assert all(floor.state("phase", name) == "idle" for name in floor.machine_names)
    assert truth["strained"] == 0
    waits = max(truth.machine(keys[name], "longest_without_air") for name in WORKED)
    away = max(kill.away for kill in session.kills)
    _LOGGER.info(
        "%d kills; %d times a machine at work had its air, %d times it lost it, for "
        "up to %.1f s; "
        "down for up to %.1f s; longest wait for air %.1f s, up to %.1f s longer "
        "than the downtime; at most %.1f s of a run forgotten; no phase older than "
        "%.1f s forgotten; %d motor starts",
        KILLS,
        len(lost),
        sum(lacked > 0 for lacked in lost),
        max(lost, default=0.0),
        away,
        waits,
        gap,
        loss,
        max(kill.unwritten for kill in session.kills),
        truth["motor_starts"],
    )


def _forgotten(session: Session, name: str) -> float:
    """Return how much of a machine's running before the last kill is missing in the ledger [s].

    Running while Home Assistant was down doesn't count: nobody saw it.
    """
    key = session.floor.machine_keys[name]
    kill = session.kills[-1]
    ran = kill.before.machine(key, "running")
    recorded = kill.saved[name]
    if len(session.kills) > 1:
        last = session.kills[-2]
        ran -= last.after.machine(key, "running")
        recorded -= last.saved[name]
    return ran - recorded
