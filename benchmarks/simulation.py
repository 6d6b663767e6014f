"""How long a simulated week takes: 12 machines, 500,000 readings.

    .venv/bin/python -m benchmarks.simulation           # what was measured
    .venv/bin/python -m benchmarks.simulation --check   # exit code 1 above 10 s

Everything is invented, and the same every time.
"""

from collections.abc import Sequence
from itertools import pairwise
from random import Random
import sys
from time import perf_counter, process_time

from custom_components.gatewright.core.calibration.history import Reading
from custom_components.gatewright.core.calibration.learner import learn
from custom_components.gatewright.core.config import (
    CollectorConfig,
    GateConfig,
    MachineConfig,
    SystemConfig,
    Thresholds,
)
from custom_components.gatewright.core.simulation.simulation import (
    Recording,
    complete,
    simulate,
)

MACHINES = 12
READINGS = 500_000
WEEK = 7 * 86_400.0
TARGET = 10.0
"""The limit in s of one core for a week."""

DAYS = 6
"""Working days in the week."""


def busy_shop() -> SystemConfig:
    """Return a shop in which every machine has its own gate."""
    return SystemConfig(
        collector=CollectorConfig(
            name="Collector",
            shutoff_delay=8.0,
            spin_down=12.0,
            rest=30.0,
            starts_per_hour=20.0,
        ),
        gates=tuple(
            GateConfig(gate_id=f"gate_{n}", name=f"Gate {n}", travel=3.0)
            for n in range(MACHINES)
        ),
        machines=tuple(
            MachineConfig(
                machine_id=f"machine_{n}",
                name=f"Machine {n}",
                gates=(f"gate_{n}",),
                levels=Thresholds(start=150.0, stop=60.0),
                hold=10.0 if n % 3 == 0 else 0.0,
            )
            for n in range(MACHINES)
        ),
    )


def busy_week(readings: int = READINGS, seed: int = 7) -> Recording:
    """Return a week of cuts, each machine's plug reporting every second while it runs."""
    random = Random(seed)  # noqa: S311 - simulated noise
    each = readings // MACHINES
    return Recording(
        begins=0.0,
        ends=WEEK,
        readings={
            f"machine_{n}": tuple(_readings(random, each)) for n in range(MACHINES)
        },
    )


def _readings(random: Random, count: int) -> Sequence[Reading]:
    """Return cuts of 5 to 90 s spread over the working days, as a plug reports them."""
    free = random.uniform(250.0, 900.0)
    reported: list[Reading] = [(0.0, 2.0)]
    pause = DAYS * 10 * 3600.0 / (count / 48.0)
    day, at = 0, 8 * 3600.0
    while len(reported) < count:
        for _ in range(random.randint(5, 90)):
            reported.append(
                (at, round(random.gauss(free * random.uniform(1, 2), 9.0), 1))
            )
            at += random.uniform(0.98, 1.02)
        reported.append((at, round(random.uniform(1.5, 2.5), 1)))
        at += random.uniform(0.1, 1.9) * max(5.0, pause - 48.0)
        if at > day * 86_400.0 + 18 * 3600.0:
            day = (day + 1) % DAYS
            at = max(at, day * 86_400.0 + 8 * 3600.0)
    return sorted(reported[:count])


def main() -> int:
    """Print what was measured; return 1 where it took too long and that was asked."""
    system, recording = busy_shop(), busy_week()
    count = sum(len(readings) for readings in recording.readings.values())
    looks: list[float] = [perf_counter()]
    began = process_time()
    simulated = complete(
        simulate(system, recording, power=1500.0),
        lambda _: looks.append(perf_counter()),
    )
    spent = process_time() - began
    longest = max(after - before for before, after in pairwise(looks))
    figures = simulated.figures
    began = process_time()
    learned = learn(recording.readings["machine_0"], "W", recording.ends)
    learning = process_time() - began
    sys.stdout.write(
        f"readings              {count}\n"
        f"simulated in          {spent:.2f} s of one core\n"
        f"looks at the progress {len(looks) - 1}, at most {longest:.3f} s apart\n"
        f"cuts                  {sum(m.cuts for m in figures.machines.values())}\n"
        f"collector             {figures.starts} starts, "
        f"{figures.on_time / 3600:.1f} h\n"
        f"coverage              {figures.collected_share:.3f}\n"
        f"one machine learned   {learning:.2f} s ({learned.found[-1].typical:g} W)\n"
    )
    return int("--check" in sys.argv and spent > TARGET)


if __name__ == "__main__":
    sys.exit(main())
