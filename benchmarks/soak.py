"""A day of readings at 100 machines, one a second each, through Home Assistant at full speed.

    .venv/bin/python -m benchmarks.soak                 # 86,400 s, 8,640,000 readings
    .venv/bin/python -m benchmarks.soak --hours 1 --check

Between two readings of the same second the event loop gets its turn; the longest time
between two turns is how long anything else in Home Assistant has to wait. Every simulated
minute one machine starts and another stops, with noise on every reading.

Memory is what the system has given to the process. The C library keeps an arena for each
thread that Home Assistant works in, and none of them gives back all that was in use once:
the blocks that Python has in use say what is really kept, and so does the memory with one
arena for all threads (`MALLOC_ARENA_MAX=1` in the environment).
"""

import argparse
import asyncio
from dataclasses import dataclass
import gc
import logging
from pathlib import Path
from random import Random
import resource
import sys
from time import perf_counter, thread_time

from .fake_shop import Shop, gatewright, shop

MACHINES = 100
MOST_LAG = 0.05
"""The longest accepted time in s that the event loop is busy at a stretch."""
MOST_GROWTH = 0.02
"""The largest accepted growth of memory from the first hour to the last."""
HOUR = 3600
LOOK = 600
"""Simulated seconds between two looks at the memory."""


@dataclass(frozen=True, slots=True)
class MemoryLook:
    """What the process holds at an instant."""

    memory: float
    """Resident memory in MiB."""
    blocks: int
    """Blocks that Python has in use, garbage left out."""


def look() -> MemoryLook:
    """Return what the process holds now."""
    gc.collect()
    return MemoryLook(memory(), sys.getallocatedblocks())


@dataclass(frozen=True, slots=True)
class Growth:
    """What was added from the end of the first hour to the last look, as a share."""

    memory: float
    blocks: float


def growth(looks: list[MemoryLook]) -> Growth:
    """Return how much a day added."""
    settled, last = looks[min(HOUR // LOOK - 1, len(looks) - 1)], looks[-1]
    return Growth(
        last.memory / settled.memory - 1.0, last.blocks / settled.blocks - 1.0
    )


def memory() -> float:
    """Return the resident memory of this process in MiB."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    return pages * resource.getpagesize() / 2**20


class Ticker:
    """Notes the longest time without a turn for anything else.

    `longest` is by the clock; `busiest` by the work done in it, which other programs on
    the same computer don't lengthen.
    """

    def __init__(self) -> None:
        self.longest = self.busiest = 0.0
        self._last, self._work = perf_counter(), thread_time()
        self._stopped = False

    async def run(self) -> None:
        """Take a turn whenever there is one."""
        while not self._stopped:
            now, work = perf_counter(), thread_time()
            self.longest = max(self.longest, now - self._last)
            self.busiest = max(self.busiest, work - self._work)
            self._last, self._work = now, work
            await asyncio.sleep(0)

    def skip(self) -> None:
        """Leave out what was since the last turn."""
        self._last, self._work = perf_counter(), thread_time()

    def stop(self) -> None:
        """End with the next turn."""
        self._stopped = True


async def read_a_day(made: Shop, seconds: int, ticker: Ticker) -> list[MemoryLook]:
    """Send the readings; return what is held at every look."""
    random = Random(11)  # noqa: S311 - simulated noise
    running: set[int] = set()
    looks = []
    for second in range(seconds):
        if second % 60 == 0:
            running.symmetric_difference_update({random.randrange(MACHINES)})
        for number in range(MACHINES):
            watts = 1400.0 if number in running else 4.0
            made.read(number, round(watts * random.uniform(0.9, 1.1), 1))
            if number % 10 == 9:
                await asyncio.sleep(0)
        if second % LOOK == LOOK - 1:
            looks.append(look())
            # The look itself is none of the hub's work.
            ticker.skip()
    return looks


async def soak(seconds: int) -> tuple[list[MemoryLook], Ticker, float]:
    """Return what is held at every look, the turns, and the time taken in s."""
    async with shop(MACHINES) as made:
        await gatewright(made)
        # Permanent objects are left out of every later collection.
        gc.collect()
        gc.freeze()
        ticker = Ticker()
        ticking = asyncio.create_task(ticker.run())
        began = perf_counter()
        looks = await read_a_day(made, seconds, ticker)
        took = perf_counter() - began
        ticker.stop()
        await ticking
        return looks, ticker, took


def main() -> int:
    """Print the measurements; return 1 if a goal is missed and that was asked."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--hours", type=float, default=24.0)
    parser.add_argument("--check", action="store_true")
    asked = parser.parse_args()
    logging.disable(logging.WARNING)
    seconds = int(asked.hours * 3600)
    looks, ticker, took = asyncio.run(soak(seconds))
    grown = growth(looks)
    for hour, held in enumerate(looks[HOUR // LOOK - 1 :: HOUR // LOOK], 1):
        print(f"after {hour:2} h      {held.memory:.1f} MiB, {held.blocks} blocks")
    print(
        f"readings        {seconds * MACHINES} in {took:.0f} s\n"
        f"after the first hour  memory {grown.memory:+.1%}, blocks in use {grown.blocks:+.1%}\n"
        f"longest wait    {ticker.longest * 1000:.1f} ms, {ticker.busiest * 1000:.1f} ms of it at work"
    )
    missed = ticker.busiest > MOST_LAG or grown.memory > MOST_GROWTH
    return int(asked.check and missed)


if __name__ == "__main__":
    sys.exit(main())
