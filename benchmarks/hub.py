"""What a shop costs Home Assistant, beside what an owner could write instead.

    .venv/bin/python -m benchmarks.hub              # what was measured
    .venv/bin/python -m benchmarks.hub --check      # exit code 1 where a goal is missed

All ways of `fake_shop` run in one process at once, each in its own Home Assistant. In every round
each of them takes the same starts in a row, the order changing. Times are the processor's,
of this thread: what else runs on the computer takes none of it.

What else runs takes the processor's caches, though. So of the starts of all rounds the
fastest counts (*warm*): it is the one that nothing disturbed. There are rounds until the
fastest of five rounds are alike for every way; on a busy computer that takes longer. The first start of a row comes
after another way's, as one in a workshop comes after minutes of something else; of those the
median counts, each beside the automations' of its round (*cold*).
"""

import argparse
import asyncio
from collections import defaultdict
from collections.abc import (
    AsyncIterator,
    Awaitable,
    Callable,
    Iterable,
    Mapping,
    Sequence,
)
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass
from functools import partial
import gc
from heapq import nsmallest
from itertools import batched, count, cycle, islice
import logging
from statistics import median
import sys
from time import perf_counter, thread_time
import tracemalloc

from homeassistant.core import Event, EventStateChangedData, callback

from .fake_shop import (
    COLLECTOR,
    Shop,
    automations,
    bare,
    gatewright,
    in_turn,
    listener,
    relay,
    shop,
)

SIZES = (10, 100, 1000)
MACHINES_USED = 10
"""Machines that start again and again, as many at every size."""

LEAST_ROUNDS = 20
MOST_ROUNDS = 400
IN_A_ROW = 6

ALIKE = 5
"""Rounds whose fastest have to be alike, lest the fastest of all was disturbed, too."""
MOST_APART = 1.05

IDLE_READINGS = 100

MOST_OF_AUTOMATIONS = 1.25
MOST_OF_A_LISTENER = 1.5

type Way = Callable[[Shop], Awaitable[object]]
type Rounds = Mapping[str, Sequence[float]]
"""The time in s that each way took, round by round."""

REACTING: Mapping[str, Way] = {
    "bare": bare,
    "in turn": in_turn,
    "automations": automations,
    "Gatewright at once": partial(gatewright, start_when="gate_opening"),
    "Gatewright in turn": gatewright,
}
CACHES = ("warm", "cold")
OURS = ("Gatewright at once", "Gatewright in turn")


async def _nothing(_made: Shop) -> None:
    """Serve no machine."""


IDLING: Mapping[str, Way] = {
    "unheard": _nothing,
    "listener": listener,
    "Gatewright": gatewright,
}


@asynccontextmanager
async def hubs(
    machines: int, ways: Mapping[str, Way]
) -> AsyncIterator[dict[str, Shop]]:
    """Run a Home Assistant for each way at once."""
    async with AsyncExitStack() as stack:
        made = {}
        for name, way in ways.items():
            made[name] = await stack.enter_async_context(shop(machines))
            await way(made[name])
        yield made


def fastest(rounds: Rounds, way: str) -> float:
    """Return the shortest time of one way in us."""
    return 1e6 * min(rounds[way])


def ratio(rounds: Rounds, way: str, beside: str) -> float:
    """Return how many times as long one way took as another, undisturbed."""
    return fastest(rounds, way) / fastest(rounds, beside)


def usual_ratio(rounds: Rounds, way: str, beside: str) -> float:
    """Return how many times as long one way took as another: the median of the rounds."""
    both = zip(rounds[way], rounds[beside], strict=True)
    return median(one / other for one, other in both)


def alike(rounds: Rounds) -> bool:
    """Whether the fastest of every way are no chance: some rounds had the like."""
    best = (nsmallest(ALIKE, times) for times in rounds.values())
    return all(times[-1] <= MOST_APART * times[0] for times in best)


async def take_turns(
    made: Mapping[str, Shop],
    turns: Iterable[int],
    most: int,
    take: Callable[[Shop, int], Awaitable[float]],
) -> tuple[Rounds, Rounds]:
    """Let every way take the same turns in rows, in changing order.

    Returns how long the first of each row took, and the fastest of the others. It ends
    when those are alike, after `most` rounds at the latest.
    """
    cold: dict[str, list[float]] = defaultdict(list)
    warm: dict[str, list[float]] = defaultdict(list)
    ways = list(made)
    rows = batched(turns, IN_A_ROW, strict=False)
    for done, row in enumerate(islice(rows, most)):
        if done >= LEAST_ROUNDS and alike(warm):
            break
        for way in ways:
            first, *others = [await take(made[way], number) for number in row]
            cold[way].append(first)
            warm[way].append(min(others))
        ways.append(ways.pop(0))
    return cold, warm


# What is measured ---------------------------------------------------------------------


async def reaction(made: Shop, number: int) -> float:
    """Return the time in s from a reading to both calls having been dispatched.

    Where the collector waits for its gate, that is the time from the reading to the
    gate's call and from the gate's report to the collector's, without what the gate
    takes to move. Then everything is brought back to rest.
    """
    gate_relay = relay(number)
    gc.collect(0)
    gc.disable()
    taken = await called(made, gate_relay, partial(made.read, number, 1400.0))
    if COLLECTOR not in made.dispatched:
        await made.settle()
        taken += await called(made, COLLECTOR, partial(made.report, gate_relay, "on"))
    gc.enable()
    await made.settle()
    made.report(gate_relay, "on")
    made.report(COLLECTOR, "on")
    await made.settle()
    made.read(number, 3.0)
    await made.settle()
    made.report(COLLECTOR, "off")
    await made.settle()
    made.report(gate_relay, "off")
    await made.settle()
    return taken


async def called(made: Shop, part: str, happen: Callable[[], None]) -> float:
    """Return the time in s from something that happens to the last call it leads to."""
    made.dispatched.clear()
    began = thread_time()
    happen()
    while part not in made.dispatched:
        made.called.clear()
        await made.called.wait()
    await asyncio.sleep(0)
    return max(made.dispatched.values()) - began


async def idle_reading(made: Shop, turn: int) -> float:
    """Return the time in s of one reading that changes nothing."""
    gc.collect(0)
    began = thread_time()
    for n in range(turn * IDLE_READINGS, (turn + 1) * IDLE_READINGS):
        made.read(n % made.machines, 3.0 + n % 7)
    await made.settle()
    return (thread_time() - began) / IDLE_READINGS


async def written(made: Shop) -> int:
    """Return how many states were written besides the plugs' own."""
    others: list[str] = []

    @callback
    def noted(event: Event[EventStateChangedData]) -> None:
        if not event.data["entity_id"].startswith("sensor.plug_"):
            others.append(event.data["entity_id"])

    stop = made.hass.bus.async_listen("state_changed", noted)
    for n in range(1_000):
        made.read(n % made.machines, 3.0 + n % 7)
    await made.settle()
    stop()
    return len(others)


@dataclass(frozen=True, slots=True)
class Size:
    """What was measured at one size of shop."""

    machines: int
    warm: Rounds
    cold: Rounds
    idle: Rounds
    states_written: int
    setup: float
    """Time in s to set the system up."""
    memory: float
    """Memory in KiB for each machine and its gate."""

    @property
    def row(self) -> list[str]:
        """What the table shows of it, in the order of `HEAD`."""
        return [
            str(self.machines),
            *(f"{beside:.2f}" for beside in self.beside_automations.values()),
            *(f"{fastest(self.warm, way):.0f}" for way in REACTING),
            f"{ratio(self.idle, 'Gatewright', 'listener'):.2f}",
            *(f"{fastest(self.idle, way):.1f}" for way in IDLING),
            str(self.states_written),
            f"{self.setup:.2f}",
            f"{self.memory:.0f}",
        ]

    @property
    def beside_automations(self) -> dict[str, float]:
        """How many times as long as the automations a start of each sort takes."""
        found = {}
        for way in OURS:
            found[f"{way}, warm"] = ratio(self.warm, way, "automations")
            found[f"{way}, cold"] = usual_ratio(self.cold, way, "automations")
        return found

    @property
    def missed(self) -> list[str]:
        """Which goals this size misses."""
        found = [
            f"{sort}: over {MOST_OF_AUTOMATIONS} x the automations"
            for sort, beside in self.beside_automations.items()
            if beside > MOST_OF_AUTOMATIONS
        ]
        if ratio(self.idle, "Gatewright", "listener") > MOST_OF_A_LISTENER:
            found.append(f"idle reading: over {MOST_OF_A_LISTENER} x a listener")
        if self.states_written:
            found.append(f"{self.states_written} states written")
        return [f"{self.machines} machines: {what}" for what in found]


HEAD = (
    "machines",
    *(f"{way}, {caches}: times the automations" for way in OURS for caches in CACHES),
    *(f"{way}, warm (us)" for way in REACTING),
    "idle reading: times a listener",
    *(f"idle: {way} (us)" for way in IDLING),
    "states written",
    "set-up (s)",
    "memory per machine (KiB)",
)


async def measure(machines: int, rounds: int) -> Size:
    """Measure one size."""
    used = list(range(0, machines, machines // MACHINES_USED))
    async with hubs(machines, REACTING) as made:
        # No gate was ever seen to open before its first start.
        await take_turns(made, used + used, rounds, reaction)
        cold, warm = await take_turns(made, cycle(used), rounds, reaction)
    async with hubs(machines, IDLING) as made:
        _, idle = await take_turns(made, count(), rounds, idle_reading)
        states = await written(made["Gatewright"])
    setup = await setting_up(machines)
    memory = await memory_of(machines)
    return Size(machines, warm, cold, idle, states, setup, memory)


async def setting_up(machines: int) -> float:
    """Return the time in s that a system takes to be set up."""
    async with shop(machines) as made:
        began = perf_counter()
        await gatewright(made)
        return perf_counter() - began


async def memory_of(machines: int) -> float:
    """Return the memory in KiB that a system takes for each machine and its gate."""
    async with shop(machines) as made:
        tracemalloc.start()
        before = tracemalloc.get_traced_memory()[0]
        await gatewright(made)
        gc.collect()
        taken = tracemalloc.get_traced_memory()[0] - before
        tracemalloc.stop()
    return taken / 1024 / machines


def main() -> int:
    """Measure all sizes, print the table, and say what is missed."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--machines", type=int, nargs="+", default=SIZES)
    parser.add_argument("--rounds", type=int, default=MOST_ROUNDS)
    asked = parser.parse_args()
    logging.disable(logging.WARNING)
    print("| " + " | ".join(HEAD) + " |\n" + "| --- " * len(HEAD) + "|")
    missed: list[str] = []
    for machines in asked.machines:
        size = asyncio.run(measure(machines, asked.rounds))
        print("| " + " | ".join(size.row) + " |", flush=True)
        missed += size.missed
    for goal in missed:
        print("missed:", goal)
    return 1 if asked.check and missed else 0


if __name__ == "__main__":
    sys.exit(main())
