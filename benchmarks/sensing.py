"""Tries the learner on recorded plugs: python -m benchmarks.sensing FOLDER [--check].

Each half of a record (cut so that each has half of the runs) is learned from and judged
by the other half, for every sort of reporting. Beside it stand a fixed threshold of
100 W / 50 W, and the threshold that hindsight finds best on the half that is judged.
A half with fewer than two runs of a reporting interval is too little to learn from: what
it leads to is shown apart. Where nothing is proposed, a machine gets the usual levels.
The folder is described in `plug_folder.py`, and where such records can be had in README.
"""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
import sys
from time import process_time

from custom_components.gatewright.core.calibration.drift import check_drift
from custom_components.gatewright.core.calibration.history import Interval, Reading
from custom_components.gatewright.core.calibration.learner import (
    Confidence,
    Learned,
    learn,
)
from custom_components.gatewright.core.config import Thresholds
from custom_components.gatewright.core.kinds import LEVEL_DEFAULTS
from custom_components.gatewright.core.units import HOUR
from tests.calibration.plugs import SORTS, Sort

from .plug_folder import Recorded, read_folder
from .plug_score import Score, score

FIXED = Thresholds(
    start=LEVEL_DEFAULTS["W"][0], stop=LEVEL_DEFAULTS["W"][1], start_confirm=0.0
)
"""The plain threshold, 100 W and 50 W; a machine without a result gets it."""

FEWEST_RUNS = 2
MOST_MISSED = 0.0
MOST_FALSE_PER_100_H = 1.0
LEAST_FOUND = 0.99
LEAST_FOUND_OF_PARTS = 0.90
MOST_LATE = 1.0
MOST_DRIFTING = 1 / 40
MOST_SECONDS = 10.0
CHANGES = 1_400_000


@dataclass(kw_only=True)
class Trial:
    """One machine under one kind of reporting, both halves together."""

    recorded: Recorded
    sort: Sort
    interval: float
    learned: list[Learned] = field(default_factory=list)
    enough: list[bool] = field(default_factory=list)
    ours: Score = field(default_factory=Score)
    scarce: Score = field(default_factory=Score)
    by_half: list[Score] = field(default_factory=list)
    fixed: Score = field(default_factory=Score)
    best: Score = field(default_factory=Score)
    drifted: int = 0


def halves(recorded: Recorded) -> tuple[Interval, Interval]:
    """Return two parts of the time with half of the runs each."""
    runs = sorted([*recorded.ran, *recorded.lone])
    middle = recorded.until / 2.0
    if len(runs) > 1:
        before, after = runs[len(runs) // 2 - 1], runs[len(runs) // 2]
        middle = (before[1] + after[0]) / 2.0
    return (0.0, middle), (middle, recorded.until)


def part_of(reports: Sequence[Reading], part: Interval) -> list[Reading]:
    """Return the reports of a part, as a recorder would return them."""
    begin, end = part
    before = [value for at, value in reports if at <= begin]
    inside = [(at, value) for at, value in reports if begin < at < end]
    return [(begin, before[-1] if before else None), *inside]


def hindsight(
    recorded: Recorded,
    reports: Sequence[Reading],
    interval: float,
    part: Interval,
    stop_confirm: float,
) -> Score:
    """Return the score of the best threshold on a part, chosen with its truth."""
    top = max((v for _, v in part_of(reports, part) if v is not None), default=0.0)
    tried = []
    level = 8.0
    while level < top:
        levels = Thresholds(
            start=level, stop=0.6 * level, start_confirm=0.0, stop_confirm=stop_confirm
        )
        tried.append(score(levels, recorded, reports, interval, part))
        level *= 1.3
    if not tried:
        return score(FIXED, recorded, reports, interval, part)
    return min(tried, key=lambda s: (s.missed + s.false_starts, -s.share))


def trial(recorded: Recorded, sort: Sort, *, beside: bool = True) -> Trial:
    """Learn from each half and judge by the other."""
    reports = sort.report(recorded.readings, recorded.until)
    interval = sort.interval or recorded.interval
    result = Trial(recorded=recorded, sort=sort, interval=interval)
    first, second = halves(recorded)
    for known, unseen in ((first, second), (second, first)):
        learned = learn(part_of(reports, known), "W", known[1])
        proposal = learned.proposal
        levels = proposal.levels if proposal else FIXED
        mine = score(levels, recorded, reports, interval, unseen)
        shown = [
            run
            for run in recorded.ran
            if known[0] <= run[0] < known[1] and run[1] - run[0] >= interval
        ]
        result.learned.append(learned)
        result.by_half.append(mine)
        result.enough.append(len(shown) >= FEWEST_RUNS)
        if not result.enough[-1]:
            result.scarce.add(mine)
            continue
        result.ours.add(mine)
        if proposal is not None:
            drift = check_drift(levels, part_of(reports, unseen), "W", unseen[1])
            result.drifted += drift.due
        if beside:
            settle = max(4.0, 1.2 * interval)
            plain = replace(FIXED, stop_confirm=settle)
            result.fixed.add(score(plain, recorded, reports, interval, unseen))
            result.best.add(hindsight(recorded, reports, interval, unseen, settle))
    return result


def failures(result: Trial, number: int) -> list[str]:
    """Return the goals that one half misses."""
    half = result.by_half[number]
    least = LEAST_FOUND_OF_PARTS if result.recorded.sort == "multi" else LEAST_FOUND
    failed = []
    if half.missed:
        failed.append(f"{half.missed} of {half.runs} missed")
    if half.false_starts > max(0.0, half.hours / 100.0):
        failed.append(f"{half.false_starts} false")
    if half.share < least:
        failed.append(f"{100 * half.share:.1f} % found")
    if half.lateness > MOST_LATE:
        failed.append(f"{half.lateness:.1f} intervals late")
    return failed


def describe(result: Trial, number: int) -> str:
    """Return a short description of what was learned from one half."""
    learned = result.learned[number]
    proposal = learned.proposal
    if proposal is None:
        return f"nothing ({learned.refusal})"
    levels = proposal.levels
    return (
        f"{levels.start:g}/{levels.stop:g} W {levels.start_confirm:g}/"
        f"{levels.stop_confirm:g} s {proposal.confidence}"
    )


def row(name: str, total: Score) -> str:
    """Return one line of the table."""
    return (
        f"{name:34} {total.runs:5} {total.missed:6} {total.false_starts:5} "
        f"{total.false_per_100_hours:6.2f} {100 * total.share:7.2f} "
        f"{100 * total.real_share:7.2f} {total.lateness:6.2f}"
    )


HEAD = (
    f"{'':34} {'runs':>5} {'missed':>6} {'false':>5} {'/100 h':>6} {'found %':>7} "
    f"{'of all':>7} {'late':>6}"
)


def report(trials: Sequence[Trial], *, every: bool) -> list[str]:
    """Print the tables; return the goals that are missed."""
    missed: list[str] = []
    print(HEAD)
    for sort in SORTS:
        mine = [each for each in trials if each.sort is sort]
        if mine:
            missed += report_sort(sort, mine)
    print()
    for each in trials:
        for number in (0, 1):
            missed += report_half(each, number, every=every)
    return missed


def report_sort(sort: Sort, mine: Sequence[Trial]) -> list[str]:
    """Print the results of a kind of reporting; return the goals that it misses."""
    ours, fixed, best, scarce = Score(), Score(), Score(), Score()
    for each in mine:
        ours.add(each.ours)
        fixed.add(each.fixed)
        best.add(each.best)
        scarce.add(each.scarce)
    judged = [
        learned
        for one in mine
        for learned, enough in zip(one.learned, one.enough, strict=True)
        if enough
    ]
    sure = [each.proposal.confidence for each in judged if each.proposal is not None]
    drifted = sum(one.drifted for one in mine)
    print(row(sort.name, ours))
    print(row("    fixed 100 W / 50 W", fixed))
    print(row("    best by hindsight", best))
    if scarce.runs:
        print(row("    too little to learn from", scarce))
    counts = ", ".join(f"{sure.count(each)} {each}" for each in Confidence)
    print(
        f"    {counts}, {len(judged) - len(sure)} without a proposal; "
        f"drift told of {drifted} of {len(sure)} unchanged halves"
    )
    return list(goals(sort, ours, drifted, len(sure)))


def report_half(one: Trial, number: int, *, every: bool) -> list[str]:
    """Print the results of learning from one half; return the goals that it misses."""
    failed = failures(one, number)
    proposal = one.learned[number].proposal
    clear = proposal is not None and proposal.confidence is Confidence.CLEAR
    enough = one.enough[number]
    if failed or every:
        remark = "  SAID CLEAR" if clear and failed else ""
        if failed and not enough:
            remark += "  (too little to learn from)"
        print(
            f"{one.recorded.name:34} {one.sort.name:32} "
            f"{describe(one, number):44} {', '.join(failed)}{remark}"
        )
    where = f"{one.recorded.name}, {one.sort.name}"
    missed = []
    if clear and failed:
        missed.append(f"clear, but {', '.join(failed)}: {where}")
    share = one.by_half[number].share
    if enough and one.recorded.sort == "multi" and share < LEAST_FOUND_OF_PARTS:
        missed.append(f"{100 * share:.1f} % found of motor and heater: {where}")
    return missed


def goals(sort: Sort, ours: Score, drifted: int, judged: int) -> Iterator[str]:
    """Yield the goals that a kind of reporting misses."""
    if ours.missed > MOST_MISSED * ours.runs:
        yield f"{sort.name}: {ours.missed} of {ours.runs} runs missed"
    if ours.false_per_100_hours > MOST_FALSE_PER_100_H:
        yield f"{sort.name}: {ours.false_per_100_hours:.1f} false starts in 100 h"
    if ours.share < LEAST_FOUND:
        yield f"{sort.name}: {100 * ours.share:.1f} % of the running time found"
    if ours.lateness > MOST_LATE:
        yield f"{sort.name}: found {ours.lateness:.1f} intervals late"
    if drifted > MOST_DRIFTING * judged:
        yield f"{sort.name}: drift told of {drifted} of {judged} unchanged halves"


def speed(recorded: Sequence[Recorded]) -> float:
    """Return the processor time in s for this many changes of one machine."""
    longest = max(recorded, key=lambda each: len(each.readings))
    history: list[Reading] = []
    begins = 0.0
    while len(history) < CHANGES:
        history += [(begins + at, value) for at, value in longest.readings]
        begins += longest.until + HOUR
    before = process_time()
    learn(history[:CHANGES], "W", begins)
    return process_time() - before


def main(arguments: Sequence[str]) -> int:
    """Run it; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--check", action="store_true", help="fail on a missed goal")
    parser.add_argument("--every", action="store_true", help="show every machine")
    parser.add_argument("--only", default="", help="machines whose name contains this")
    parser.add_argument("--quick", action="store_true", help="the learner alone")
    options = parser.parse_args(arguments)
    recorded = [
        each for each in read_folder(options.folder) if options.only in each.name
    ]
    lone = {each.name: len(each.lone) for each in recorded if each.lone}
    print(f"{len(recorded)} machines, {sum(len(r.ran) for r in recorded)} runs")
    print(f"lone readings left out: {sum(lone.values())} {lone}")
    few = [each.name for each in recorded if len(each.ran) < 2]
    print(f"not judged, with fewer than two runs: {few}\n")
    recorded = [each for each in recorded if len(each.ran) > 1]
    trials = [
        trial(each, sort, beside=not options.quick)
        for sort in SORTS
        for each in recorded
    ]
    missed = report(trials, every=options.every)
    seconds = speed(recorded)
    print(f"\n{CHANGES:,} changes learned from in {seconds:.1f} s of processor time")
    if seconds > MOST_SECONDS:
        missed.append(f"{seconds:.1f} s for {CHANGES:,} changes")
    for goal in missed:
        print(f"MISSED {goal}")
    return 1 if options.check and missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
