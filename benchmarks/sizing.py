"""How long the sizing of a shop takes, and what it costs in solves.

    .venv/bin/python benchmarks/sizing.py           # prints the table
    .venv/bin/python benchmarks/sizing.py --check   # and fails where a target is missed

Times are of one core's processor, so that other load hardly counts. The shops are
invented ones of 20 machines along a main, some 40 segments, and seven sizes of pipe.
"""

import argparse
import pathlib
from random import Random
import sys
from time import process_time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent))

from custom_components.gatewright.core.airflow.sizing import (
    METRIC_SIZES,
    Rules,
    each_alone,
    size_ducts,
    together,
)
from custom_components.gatewright.core.airflow.sizing.problem import Plan
from custom_components.gatewright.core.airflow.sizing.search import Search
from custom_components.gatewright.core.airflow.sizing.trial import Trials
from tests.airflow.sized_shops import random_shop

LONGEST = 5.0
"""The limit in s of a core for sizing 40 segments with 7 sizes."""

WAYS = {
    "with its fan": Rules(sizes=METRIC_SIZES),
    "with its fan and bleed gates": Rules(sizes=METRIC_SIZES, bleed=True),
    "what a fan must do": Rules(sizes=METRIC_SIZES, fan=False),
    "balanced by gates": Rules(sizes=METRIC_SIZES, fan=False, balanced=True),
}


def main() -> int:
    """Measure, print, and return whether the targets are met."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--check", action="store_true", help="fail where a target is missed"
    )
    options = parser.parse_args()
    missed = 0
    for machines, seed in ((8, 1), (20, 3), (20, 4)):
        system = random_shop(Random(seed), machines)  # noqa: S311 - always the same shop
        alone = each_alone(system)
        names = [found.name for found in alone]
        pairs = [
            together(system, *names[i : i + 2]) for i in range(0, min(8, len(names)), 2)
        ]
        for what, sets in (("each alone", alone), ("and four pairs", (*alone, *pairs))):
            for way, rules in WAYS.items():
                plan = Plan(system, sets, rules)
                trials = Trials(plan)
                start = process_time()
                _, score = Search(trials).best()
                seconds = process_time() - start
                met = seconds <= LONGEST
                missed += not met
                sys.stdout.write(
                    f"{'ok    ' if met else 'MISSED'} {len(plan.segments):3d} segments, "
                    f"{what:14s} {way:29s} {seconds:6.2f} s {trials.solves:6d} solves, "
                    f"worst ratio {min(score.worst, rules.margin):.3f}, "
                    f"{score.power:6.0f} W\n"
                )
        start = process_time()
        found = size_ducts(system, alone)
        sys.stdout.write(
            f"       {len(found.diameters):3d} segments, each alone, with tables and what "
            f"would help: {process_time() - start:6.2f} s, "
            f"{len(found.remedies)} changes\n"
        )
    return 1 if missed and options.check else 0


if __name__ == "__main__":
    sys.exit(main())
