"""A year of a busy shop through the core: how many hours of work in a second.

    .venv/bin/python -m benchmarks.year

The week of `benchmarks.simulation`, 52 times over; every plug reports every second while
its machine runs. Everything is invented, and the same every time.
"""

import sys
from time import process_time

from custom_components.gatewright.core.simulation.simulation import complete, simulate

from .simulation import WEEK, busy_shop, busy_week

WEEKS = 52
READINGS = 50_000
"""In a week: every plug reports once in ten seconds."""


def main() -> int:
    """Print what was measured."""
    system = busy_shop()
    spent = 0.0
    starts = readings = 0
    for week in range(WEEKS):
        recording = busy_week(READINGS, seed=week)
        readings += sum(len(reported) for reported in recording.readings.values())
        began = process_time()
        simulated = complete(simulate(system, recording, power=1500.0))
        spent += process_time() - began
        starts += simulated.figures.starts
    hours = WEEKS * WEEK / 3600.0
    print(
        f"a year of       {readings} readings, {starts} starts of the collector\n"
        f"simulated in    {spent:.1f} s of one core: {hours / spent:.0f} hours in a second"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
