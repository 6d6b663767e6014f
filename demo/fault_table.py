"""Measures in how many seconds each fault raises its alarm: `python -m demo.fault_table`.

Every fault is injected into the virtual workshop of a real Home Assistant, with the
demo's settings except the few named here. The rows are printed as a Markdown table.
"""

import argparse
import asyncio
from collections.abc import Awaitable, Callable
import contextlib
from dataclasses import dataclass
from pathlib import Path
import tempfile
import time
from typing import Any

from .custom_components.virtual_workshop.layouts import build_layout
from .forms import Form
from .hub import Hub
from .hub_directory import prepare
from .newcomer import Newcomer
from .shop_floor import ShopFloor

DROPOUT = 8.0
"""The dropout time of a machine [s]."""
STALE_AFTER = 15.0
"""How long the reading of a running machine may stay unrenewed [s]."""
CHANGES: dict[str, Any] = {"collector": {"coast": 3.0, "spin_up": 1.0}}

COLLECTOR = "collector"
SITE = "site"

type Act = Callable[[ShopFloor], Awaitable[None]]


def starts(machine: str) -> Act:
    """Turn a machine on."""
    return lambda floor: floor.run(machine)


def stops(machine: str) -> Act:
    """Turn a machine off."""
    return lambda floor: floor.stop(machine)


async def fills(floor: ShopFloor) -> None:
    """Fill the bin."""
    await floor.fill_bin(95)


@dataclass(frozen=True, slots=True)
class Row:
    """One fault: the part and the fault, or an action instead.

    `running` is the machine that is served before, `then` what exposes the fault: the
    seconds count from there. `within` is the longest wait for an alarm [s].
    """

    part: str
    fault: str
    running: str | None = None
    then: Act | None = None
    within: float = 90.0


ROWS = (
    Row("planer_gate", "gate_stuck", then=starts("Planer")),
    Row("planer_gate", "gate_slow", then=starts("Planer"), within=40),
    Row("planer_gate", "gate_unpowered", then=starts("Planer")),
    Row("planer_gate", "command_error", then=starts("Planer")),
    Row("planer_gate", "command_timeout", then=starts("Planer")),
    Row("planer_gate", "command_hang", then=starts("Planer")),
    Row("planer_gate", "command_lost", then=starts("Planer")),
    Row("planer_gate", "command_late", then=starts("Planer"), within=40),
    Row("planer_gate", "command_bounce", then=starts("Planer"), within=15),
    Row(COLLECTOR, "command_error", then=starts("Planer")),
    Row(COLLECTOR, "command_lost", then=starts("Planer")),
    Row(COLLECTOR, "breaker_tripped", running="Planer"),
    Row(COLLECTOR, "motor_cutout", running="Planer"),
    Row(COLLECTOR, "contactor_welded", running="Planer", then=stops("Planer")),
    Row(COLLECTOR, "contactor_welded_hidden", running="Planer", then=stops("Planer")),
    Row(COLLECTOR, "collector_offline", running="Planer", within=75),
    Row(COLLECTOR, "collector_offline", running="Planer", then=stops("Planer")),
    Row(COLLECTOR, "collector_offline", then=starts("Planer")),
    Row("table_saw", "plug_offline", running="Table saw"),
    Row("table_saw", "plug_unknown", running="Table saw"),
    Row("table_saw", "plug_volts", running="Table saw"),
    Row("table_saw", "plug_unit", running="Table saw", within=20),
    Row("table_saw", "plug_negative", running="Table saw", within=20),
    Row("table_saw", "plug_false_zero", running="Table saw", within=15),
    Row("table_saw", "plug_silent", running="Table saw"),
    Row("table_saw", "plug_frozen", running="Table saw", then=stops("Table saw")),
    Row("shop_vacuum", "contact_lost", running="Shop vacuum"),
    Row(SITE, "air_supply_low", running="Planer"),
    Row(SITE, "filter_clogged", running="Planer"),
    Row(SITE, "bin full", running="Planer", then=fills),
    Row(SITE, "smoke", running="Planer"),
    Row(SITE, "mains_out", running="Planer", within=150),
)


class Measurement:
    """Injects one fault after the other."""

    def __init__(self, floor: ShopFloor) -> None:
        self._floor = floor

    async def shorten(self) -> None:
        """Shorten the table saw's limits, which would take minutes."""
        floor = self._floor
        form = await Form.change_part(
            floor.client,
            floor.entry_id,
            "machine",
            floor.part_id("Table saw"),
            "detection",
        )
        await form.fill(grace=DROPOUT, silence=STALE_AFTER / 60)

    async def dock(self) -> None:
        """Connect the shop vacuum's hose."""
        floor = self._floor
        key = floor.machine_keys["Shop vacuum"]
        await floor.client.call(
            "virtual_workshop.attach_machine", machine=key, attached=True
        )
        await asyncio.sleep(1)

    async def measure(self, row: Row) -> None:
        """Inject a fault, wait for its alarm, repair it, and print the result."""
        floor = self._floor
        if row.running is not None:
            await floor.run(row.running)
            await floor.until("collecting", "on", row.running)
            await asyncio.sleep(2)
        before = await floor.truth()
        if row.fault != "bin full":
            await floor.break_part(row.part, row.fault)
        if row.then is not None:
            if row.fault != "bin full":
                await asyncio.sleep(1)
            began = time.monotonic()
            await row.then(floor)
        else:
            began = time.monotonic()
        seconds: dict[str, float] = {}
        with contextlib.suppress(TimeoutError):
            await floor.client.states.until(lambda: bool(self._alarms()), row.within)
        # Other consequences of the same cause come a moment later.
        until = time.monotonic() + 1.5
        while True:
            for alarm in self._alarms():
                seconds.setdefault(alarm, time.monotonic() - began)
            if time.monotonic() > until:
                break
            await asyncio.sleep(0.05)
        truth = await floor.truth()
        seen = [
            f"{part} {what}"
            for at, part, what in truth["happenings"]
            if at >= before.now and "broken" not in what
        ]
        standing = truth["standing"]
        collector = standing["collector"]
        seen.append(
            f"relay {'on' if collector['relay'] else 'off'}, "
            f"{'turning' if collector['turning'] else 'standing'}"
        )
        alarms = (
            ", ".join(f"{alarm} {at:.1f}" for alarm, at in seconds.items()) or "none"
        )
        cleared = await self._clear()
        print(
            f"| {row.part} {row.fault} | {row.running or 'at rest'} | {alarms} | "
            f"{cleared} | {'; '.join(seen)} |",
            flush=True,
        )

    def _alarms(self) -> list[str]:
        problem = self._floor.own("problem")
        return list(self._floor.client.states.attribute(problem, "alarms") or ())

    async def _clear(self) -> str:
        """Remove all faults; return in how many seconds the alarms were cleared."""
        floor = self._floor
        await floor.client.call("virtual_workshop.mend")
        await floor.fill_bin(0)
        began = time.monotonic()
        await asyncio.sleep(0.5)
        for issue in await floor.client.issues("gatewright"):
            if issue["is_fixable"]:
                await (await Form.repair(floor.client, issue)).fill()
        try:
            await floor.until("problem", "off", timeout=20)
            cleared = f"{time.monotonic() - began:.1f}"
        except TimeoutError:
            cleared = f"stands: {', '.join(self._alarms())}"
        for machine in floor.machine_keys:
            await floor.stop(machine)
        await floor.until("phase", "idle", timeout=60)
        await floor.until("problem", "off", timeout=90)
        for gate in floor.gate_keys:
            await floor.until("gate", "closed", gate, 40)
        # An alarm that returns isn't cleared at once; each row has to start anew.
        await floor.client.reload_entry(floor.entry_id)
        await floor.until("phase", "idle", timeout=40)
        return cleared


async def _main(rows: list[Row]) -> None:
    layout = build_layout(CHANGES)
    with tempfile.TemporaryDirectory() as path:
        directory = prepare(Path(path) / "hub", workshop=CHANGES)
        hub = Hub(directory)
        async with hub:
            floor = ShopFloor(hub, layout)
            try:
                await floor.enter()
                await floor.until_measured()
                newcomer = Newcomer(floor.client, lambda _: None)
                await floor.learn(await newcomer.set_up(layout.collector.coast))
                await floor.until("phase", "idle", timeout=40)
                measurement = Measurement(floor)
                await measurement.dock()
                if any(row.part == "table_saw" for row in rows):
                    await measurement.shorten()
                print("| fault | before | alarm after (s) | cleared (s) | seen |")
                print("| --- | --- | --- | --- | --- |", flush=True)
                for row in rows:
                    try:
                        await measurement.measure(row)
                    except TimeoutError as err:
                        print(f"| {row.part} {row.fault} | | {err} | | |", flush=True)
            finally:
                await floor.leave()
        for entry in hub.troubles():
            print(entry.level, entry.logger, entry.text)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "faults", nargs="*", help="only these faults, or those of these parts"
    )
    chosen = set(parser.parse_args().faults)
    asyncio.run(
        _main([row for row in ROWS if not chosen or chosen & {row.fault, row.part}])
    )
