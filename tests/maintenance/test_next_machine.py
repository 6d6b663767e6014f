"""Which machine is most often next, and what an open idle position saves there."""

from dataclasses import replace

import pytest

from custom_components.gatewright.core.config import CollectorConfig, StartWhen
from custom_components.gatewright.core.statistics.next_machine import (
    NextMachine,
    most_often_next,
    saved_by_idling_open,
)
from custom_components.gatewright.core.statistics.runs import KeptRun
from tests.maintenance.kept_runs import kept_run

REST = 13.0
MACHINES = ("saw", "planer", "lathe")


def runs(*machines: str, gap: float = 60.0, lasts: float = 30.0) -> list[KeptRun]:
    """Return a run of each of these machines, with a gap between two of them."""
    return [
        kept_run(
            machine,
            began=number * (lasts + gap),
            ended=number * (lasts + gap) + lasts,
        )
        for number, machine in enumerate(machines)
    ]


def test_the_machine_that_most_often_begins() -> None:
    found = most_often_next(runs(*["saw"] * 12, *["planer"] * 8), REST, MACHINES)
    assert found == NextMachine(machine_id="saw", times=12, first_runs=20)


@pytest.mark.parametrize(
    "machines",
    [
        ["saw"] * 19,
        ["saw", "planer"] * 9,
        # Less than half of them are at one machine.
        ["saw"] * 9 + ["planer"] * 8 + ["lathe"] * 8,
        [],
    ],
)
def test_too_little_says_nothing(machines: list[str]) -> None:
    assert most_often_next(runs(*machines), REST, MACHINES) is None


def test_half_of_twenty_is_enough() -> None:
    found = most_often_next(runs(*["saw", "planer"] * 10), REST, MACHINES)
    assert found is not None
    assert (found.times, found.first_runs) == (10, 20)


def test_only_what_begins_after_a_rest_counts() -> None:
    """The planer follows the saw while the impeller still turns."""
    pairs = [
        run
        for number in range(20)
        for run in (
            kept_run("saw", began=number * 200.0, ended=number * 200.0 + 30),
            kept_run(
                "planer",
                began=number * 200.0 + 30 + REST - 1,
                ended=number * 200.0 + 120,
            ),
        )
    ]
    found = most_often_next(pairs, REST, MACHINES)
    assert found == NextMachine(machine_id="saw", times=20, first_runs=20)
    # Just rested is rested; they are as often then, and neither is more than half.
    found = most_often_next(pairs, REST - 1, MACHINES)
    assert found is not None
    assert found.first_runs == 40


def test_a_long_run_covers_those_within_it() -> None:
    long = kept_run("planer", began=-1.0, ended=10_000.0)
    within = runs(*["saw"] * 30)
    assert most_often_next([*within, long], REST, MACHINES) is None
    later = [replace(run, began=run.began + 20_000) for run in within]
    later = [replace(run, ended=run.ended + 20_000) for run in later]
    found = most_often_next([*within, long, *later], REST, MACHINES)
    assert found == NextMachine(machine_id="saw", times=30, first_runs=31)


def test_a_machine_that_is_gone_does_not_count() -> None:
    gone = runs(*["router"] * 30, *["saw"] * 20)
    found = most_often_next(gone, REST, MACHINES)
    assert found == NextMachine(machine_id="saw", times=20, first_runs=20)


def test_what_was_long_ago_does_not_count() -> None:
    found = most_often_next(runs(*["saw"] * 200, *["planer"] * 60), REST, MACHINES)
    assert found == NextMachine(machine_id="planer", times=60, first_runs=100)


@pytest.mark.parametrize(
    ("start_when", "start_delay", "stroke", "saved"),
    [
        # Worked by hand with a spin-up of 3 s: the collector collects 0.3 + 2.4 s after its command,
        # which comes at once where the gate is a third open within 1.5 s.
        (StartWhen.GATE_OPENING, 0.0, 0.5, 0.0),
        (StartWhen.GATE_OPENING, 0.0, 2.7, 0.0),
        (StartWhen.GATE_OPENING, 0.0, 3.6, 0.9),
        # A third open after 0.2 + 6 s: commanded at 4.7 s, it collects at 7.4 s; the gate isn't open
        # before 18 s.
        (StartWhen.GATE_OPENING, 0.0, 18.0, 15.3),
        (StartWhen.GATE_OPENING, 2.0, 3.6, 0.0),
        (StartWhen.GATE_OPENING, 2.0, 6.0, 1.3),
        (StartWhen.GATE_OPEN, 0.0, 0.5, 0.5),
        (StartWhen.GATE_OPEN, 0.0, 3.6, 3.6),
        (StartWhen.GATE_OPEN, 2.0, 3.6, 1.6),
        (StartWhen.GATE_OPEN, 5.0, 3.6, 0.0),
    ],
)
def test_what_a_gate_that_is_open_already_saves(
    start_when: StartWhen, start_delay: float, stroke: float, saved: float
) -> None:
    collector = CollectorConfig(name="", start_when=start_when, start_delay=start_delay)
    assert saved_by_idling_open(collector, 3.0, stroke) == pytest.approx(saved)
