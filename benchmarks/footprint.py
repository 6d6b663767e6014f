"""What Gatewright costs a small computer, beside Home Assistant without it.

    .venv/bin/python -m benchmarks.footprint            # the table
    .venv/bin/python -m benchmarks.footprint --check    # exit code 1 where a goal is missed
    .venv/bin/python -m benchmarks.footprint --hours 1  # a shorter day of the large shop

One run, in one process: a busy hour of ten machines (`busy_hour.py`) with Gatewright, with
a full past, with the automations that an owner would write instead, and with none of
them but the same switching; then set-up, memory and a day of a large shop (`hub.py`,
`soak.py`); and how much of the cards a dashboard loads.

Bytes are what the process hands to the system, files and database together. Times are
processor time of the event loop's thread: other work on the machine doesn't count. The
interpreter's own collections of garbage are left out of a step and printed beside it:
how long one takes depends on everything that Home Assistant holds.
"""

# First of all, as there: lets a clock that is moved by hand reach Home Assistant's own.
from .busy_hour import (  # isort: skip
    COLLECTOR,
    HOUR,
    Hour,
    Shop as BusyShop,
    plug,
    relay,
    simulate,
)

import argparse
import asyncio
from asyncio.events import Handle
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, timedelta
import gc
import gzip
import json
import logging
from pathlib import Path
import re
import sys
from tempfile import TemporaryDirectory
from time import perf_counter, thread_time
import tracemalloc
from typing import Any, Final
from unittest.mock import patch

from homeassistant.setup import async_setup_component

from custom_components.gatewright.const import DOMAIN

from .fake_shop import gatewright, shop
from .soak import growth, soak

COMPONENT: Final = Path(__file__).parents[1] / "custom_components/gatewright"
FRONTEND: Final = COMPONENT / "frontend"

MACHINES, CUTS = 10, 12
RUNS, DAYS = 2_000, 365
"""A full past."""
LARGE, HUGE = 100, 1_000
"""Machines of the shops whose memory and set-up are measured."""

MOST_BYTES = 1.25
MOST_ROWS = 1_500
MOST_REWRITES = 60
MOST_MEMORY = 100.0
MOST_GROWTH = 0.01
LONGEST_STEP = 0.050
LONGEST_SETUP = 0.1
MOST_OF_CARDS = 45_000

_IMPORTED = re.compile(
    r"""^(?:import|export)\b[^"';]*?["'](\./[^"']+)["']""", re.MULTILINE
)


# Bytes and rows ----------------------------------------------------------------------


async def automations(made: BusyShop) -> None:
    """Set up what an owner would write: start and stop for each machine."""
    sensors = ", ".join(f"states('{plug(n)}')" for n in range(made.machines))
    none_runs = f"{{{{ [{sensors}] | map('float', 0) | select('gt', 60) | list | count == 0 }}}}"
    config: list[dict[str, Any]] = []
    for number in range(made.machines):
        on = [
            {"action": "input_boolean.turn_on", "target": {"entity_id": part}}
            for part in (relay(number), COLLECTOR)
        ]
        off: list[dict[str, Any]] = [
            {"condition": "template", "value_template": none_runs},
            *(
                {"action": "input_boolean.turn_off", "target": {"entity_id": part}}
                for part in (COLLECTOR, relay(number))
            ),
        ]
        for alias, way, actions in (("Start", "above", on), ("Stop", "below", off)):
            trigger: dict[str, Any] = {
                "trigger": "numeric_state",
                "entity_id": plug(number),
                way: 150 if way == "above" else 60,
            }
            if way == "below":
                # Not as a delay among the actions: the hour's clock waits for those.
                trigger["for"] = {"seconds": 8}
            config.append(
                {
                    "id": f"{alias}_{number}",
                    "alias": f"{alias} {number}",
                    "triggers": trigger,
                    "actions": actions,
                }
            )
    assert await async_setup_component(made.hass, "automation", {"automation": config})


def full_past(folder: Path, like: Path) -> None:
    """Put 2,000 runs and a year of days into Home Assistant's files, made of one hour's."""
    name = f"{DOMAIN}.system.upkeep"
    kept = json.loads((like / name).read_text())
    past = kept["data"]
    runs = past["record"]
    past["record"] = [
        {**runs[n % len(runs)], "began": (at := 1.76e9 + 3e4 * n), "ended": at + 40.0}
        for n in range(RUNS)
    ]
    (day,) = past["calendar"]["days"].values()
    first = date(2025, 11, 24)
    past["calendar"]["days"] = {
        (first + timedelta(days=n)).isoformat(): day for n in range(DAYS)
    }
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(json.dumps(kept))


@dataclass(frozen=True, slots=True)
class Hours:
    """The same hour, five times."""

    first: Hour
    later: Hour
    """With a full past."""
    instead: Hour
    """With the owner's automations."""
    called: Hour
    """With nothing but the calls that switch the same as in the first."""
    without: Hour
    """With nothing but the same switching, as by hand."""

    def ratio(self, hour: Hour) -> float:
        """Return how much an hour writes, in hours without anything."""
        return hour.handed / self.without.handed


def hours() -> Hours:
    """Simulate the hours."""
    with TemporaryDirectory() as one, TemporaryDirectory() as two:
        first = simulate(one, MACHINES, CUTS)
        full_past(Path(two) / ".storage", Path(one) / ".storage")
        later = simulate(two, MACHINES, CUTS)
    with TemporaryDirectory() as one, TemporaryDirectory() as two:
        instead = simulate(one, MACHINES, CUTS, instead=automations)
        without = simulate(two, MACHINES, CUTS, replayed=first.switched)
    with TemporaryDirectory() as one:
        called = simulate(one, MACHINES, CUTS, replayed=first.switched, called=True)
    return Hours(first, later, instead, called, without)


def rewrites(hour: Hour) -> int:
    """Return how often a file of Gatewright was written as a whole."""
    return sum(key.startswith(DOMAIN) for key, _ in hour.files)


# Set-up and memory ---------------------------------------------------------------------


@dataclass(slots=True)
class Steps:
    """Processor time of the event loop's steps, without collections of garbage [s]."""

    longest: float = 0.0
    collected: float = 0.0
    """The longest collection of garbage."""
    alone: float = 0.0
    """One of all that Home Assistant holds before."""
    _began: float = 0.0
    _collecting: float = field(default=0.0, repr=False)

    @contextmanager
    def watched(self) -> Iterator[None]:
        """Look at every step meanwhile."""
        run = Handle._run  # noqa: SLF001 - every step goes through here

        def timed(handle: Handle) -> None:
            began, collecting = thread_time(), self._collecting
            run(handle)
            took = thread_time() - began - (self._collecting - collecting)
            self.longest = max(self.longest, took)

        gc.callbacks.append(self._collect)
        try:
            with patch.object(Handle, "_run", timed):
                yield
        finally:
            gc.callbacks.remove(self._collect)

    def _collect(self, phase: str, _info: dict[str, int]) -> None:
        if phase == "start":
            self._began = thread_time()
        else:
            took = thread_time() - self._began
            self._collecting += took
            self.collected = max(self.collected, took)


async def set_up(machines: int) -> tuple[Steps, float]:
    """Return the steps of a set-up, and its processor time in s."""
    steps = Steps()
    async with shop(machines) as made:
        gc.collect()
        began = thread_time()
        gc.collect()
        steps.alone = thread_time() - began
        with steps.watched():
            began = thread_time()
            await gatewright(made)
            took = thread_time() - began
    return steps, took


@dataclass(frozen=True, slots=True)
class Held:
    """What each machine and its gate hold."""

    memory: float
    """In KiB."""
    own: float
    """Objects of our modules that a collection of garbage looks at."""
    others: float
    """Those that Home Assistant and its libraries made for them."""


async def held(machines: int) -> Held:
    """Return what each of some machines holds, with its gate."""
    async with shop(machines) as made:
        # What is imported and cached for good is none of theirs.
        await gatewright(made)
    async with shop(machines) as made:
        tracemalloc.start()
        before = tracemalloc.get_traced_memory()[0]
        await gatewright(made)
        gc.collect()
        memory = tracemalloc.get_traced_memory()[0] - before
        made_in = [
            traced[0].filename
            for found in gc.get_objects()
            if (traced := tracemalloc.get_object_traceback(found)) is not None
        ]
        tracemalloc.stop()
    own = sum(name.startswith(str(COMPONENT)) for name in made_in)
    return Held(
        memory / 1024 / machines, own / machines, (len(made_in) - own) / machines
    )


# Cards -------------------------------------------------------------------------------

PAGE = ("gatewright.js",)
"""What every page of Home Assistant loads."""
FIRST_VIEW = (*PAGE, "dashboard.js", "status-card.js", "day-card.js")
"""And what the dashboard that makes itself fetches for its first view."""
ALL_CARDS = (*FIRST_VIEW, "map-card.js", "alarms-card.js", "record-card.js")
"""And for the other views, but for the plan's editor."""


def loaded(*entries: str) -> set[Path]:
    """Return the modules that a page loads, but for what is imported later."""
    found: set[Path] = set()
    waiting = [FRONTEND / entry for entry in entries]
    while waiting:
        module = waiting.pop().resolve()
        if module not in found:
            found.add(module)
            names = _IMPORTED.findall(module.read_text("utf-8"))
            waiting += [module.parent / name for name in names]
    return found


def texts(language: str, category: str = "config_panel") -> bytes:
    """Return a category of texts as a page gets it: by default what every card needs."""
    file = COMPONENT / "translations" / f"{language}.json"
    flat: dict[str, str] = {}
    waiting = [(f"component.{DOMAIN}", json.loads(file.read_text("utf-8")), category)]
    while waiting:
        path, tree, only = waiting.pop()
        for key, value in tree.items():
            if only not in ("", key):
                continue
            if isinstance(value, str):
                flat[f"{path}.{key}"] = value
            else:
                waiting.append((f"{path}.{key}", value, ""))
    return json.dumps(flat, ensure_ascii=False, separators=(",", ":")).encode()


def compressed(entries: Iterable[str], language: str) -> int:
    """Return the compressed bytes of some modules, with all that they import, and of their texts."""
    modules = b"".join(module.read_bytes() for module in sorted(loaded(*entries)))
    return len(gzip.compress(modules, 9)) + len(gzip.compress(texts(language), 9))


# The table ---------------------------------------------------------------------------


@dataclass(slots=True)
class Table:
    """What was measured, with its goals."""

    rows: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)

    def add(self, what: str, value: float, most: float, how: str = "{:.2f}") -> None:
        """Add a figure with the goal that it is to stay under."""
        if value > most:
            self.missed.append(what)
        mark = " (missed)" if value > most else ""
        self.rows.append(f"| {what} | {how.format(value)}{mark} | {how.format(most)} |")

    def tell(self, what: str, value: str) -> None:
        """Add a figure without a goal."""
        self.rows.append(f"| {what} | {value} | |")


def measure(day: float) -> Table:
    """Measure everything; `day` is how many hours the large shop works."""
    table = Table()
    worked = hours()
    whole = "times the bytes without Gatewright"
    table.add(f"busy hour, the first: {whole}", worked.ratio(worked.first), MOST_BYTES)
    table.add(f"with a full past: {whole}", worked.ratio(worked.later), MOST_BYTES)
    table.tell(
        f"with an owner's automations instead: {whole}",
        f"{worked.ratio(worked.instead):.2f}",
    )
    table.tell(
        f"with nothing but its calls of services: {whole}",
        f"{worked.ratio(worked.called):.2f}",
    )
    table.tell("without: MiB", f"{worked.without.handed / 2**20:.1f}")
    for name, hour in (("first", worked.first), ("full past", worked.later)):
        table.add(f"rows of states, {name}", hour.recorded, MOST_ROWS, "{:.0f}")
        table.add(
            f"whole files written, {name}", rewrites(hour), MOST_REWRITES, "{:.0f}"
        )
        table.tell(f"appended to journals, {name}: KiB", f"{hour.appended / 1024:.0f}")
    table.tell("rows of states, automations", f"{worked.instead.recorded}")
    steps, took = asyncio.run(set_up(HUGE))
    table.add(
        "1,000 machines: longest step [ms]", steps.longest * 1e3, LONGEST_STEP * 1e3
    )
    table.tell(
        "and longest collection of garbage, times Home Assistant's before",
        f"{steps.collected / steps.alone:.2f}",
    )
    table.tell("and all of it [s]", f"{took:.1f}")
    _, took = asyncio.run(set_up(MACHINES))
    table.add("10 machines: set-up [s]", took, LONGEST_SETUP)
    each = asyncio.run(held(LARGE))
    table.add("100 machines: KiB each, with gate", each.memory, MOST_MEMORY, "{:.0f}")
    table.tell("and objects in collections of garbage, ours", f"{each.own:.0f}")
    table.tell("and Home Assistant's", f"{each.others:.0f}")
    for language in ("en", "de", "fr"):
        table.add(
            f"cards of the dashboard's first view, {language}: bytes",
            compressed(FIRST_VIEW, language),
            MOST_OF_CARDS,
            "{:.0f}",
        )
        for what, entries in (
            ("of that on every page", PAGE),
            ("all views but the plan's", ALL_CARDS),
        ):
            size = compressed(entries, language)
            table.tell(f"{what}, {language}: bytes", f"{size}")
        size = len(gzip.compress(texts(language, "issues"), 9))
        table.tell(f"words of alarms while one stands, {language}: bytes", f"{size}")
    if day:
        looks, _, _ = asyncio.run(soak(int(day * HOUR)))
        grown, what = growth(looks), f"100 machines, {day:g} h: growth"
        table.add(f"{what} of memory", grown.memory, MOST_GROWTH, "{:.3f}")
        table.tell(f"{what} of what is in use", f"{grown.blocks:.3f}")
    return table


def main() -> int:
    """Print the table; return 1 where a goal is missed and that was asked."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument(
        "--hours", type=float, default=24.0, help="0 leaves the day out"
    )
    parser.add_argument("--check", action="store_true")
    asked = parser.parse_args()
    logging.disable(logging.WARNING)
    began = perf_counter()
    table = measure(asked.hours)
    print("| what | measured | at most |\n| --- | --- | --- |")
    print("\n".join(table.rows))
    print(f"\n{perf_counter() - began:.0f} s")
    for missed in table.missed:
        print(f"missed: {missed}")
    return int(asked.check and bool(table.missed))


if __name__ == "__main__":
    sys.exit(main())
