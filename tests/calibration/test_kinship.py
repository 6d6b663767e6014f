"""The relation of a level to another: inrush, another part, or independent; and certainty."""

import pytest

from custom_components.gatewright.core.calibration.certain_level import certain_level
from custom_components.gatewright.core.calibration.history import LevelStep
from custom_components.gatewright.core.calibration.learner import (
    Confidence,
    Learned,
    Remark,
    learn,
)

from .catalog import (
    CHARGER,
    LONG_RUNS,
    SAW,
    SHORT_CUTS,
    SMALL,
    WASHER,
    Case,
    reported_cases,
)
from .traces import Lamp, Plug


def learned_of(case: Case, seed: int = 1) -> Learned:
    trace = case.trace(seed)
    return learn(trace.history, case.unit, trace.until)


def remarks(learned: Learned) -> dict[Remark, float]:
    assert learned.proposal is not None
    return {note.remark: note.value for note in learned.proposal.notes}


def test_a_small_motor_s_inrush_is_not_its_work() -> None:
    learned = learned_of(Case(name="", motor=SMALL, habit=LONG_RUNS))
    proposal = learned.proposal
    assert proposal is not None
    assert proposal.levels.start < 100
    assert proposal.work_low == pytest.approx(132, rel=0.1)
    assert proposal.run_time > 1000


def test_a_heater_beside_a_motor_is_said_and_the_motor_is_found() -> None:
    learned = learned_of(Case(name="", motor=WASHER, habit=LONG_RUNS))
    assert learned.proposal is not None
    assert learned.proposal.levels.start < 40
    assert remarks(learned)[Remark.PART] == pytest.approx(2000, rel=0.05)
    assert Remark.OTHER_LOAD not in remarks(learned)
    assert learned.proposal.confidence is Confidence.FAIR


def test_a_charger_beside_a_saw_is_none_of_its_parts() -> None:
    learned = learned_of(Case(name="", motor=SAW, lamps=(CHARGER,), days=4.0))
    assert learned.proposal is not None
    assert learned.proposal.levels.stop > 66
    assert remarks(learned)[Remark.OTHER_LOAD] == pytest.approx(60, rel=0.15)
    assert Remark.PART not in remarks(learned)


def test_short_cuts_beside_a_light_are_found_on_a_slow_plug() -> None:
    case = Case(
        name="",
        motor=SAW,
        plug=Plug(interval=10),
        habit=SHORT_CUTS,
        lamps=(Lamp(draws=60, stays=6000, times=3),),
        days=4.0,
    )
    learned = learned_of(case, 2)
    assert learned.proposal is not None
    assert learned.proposal.levels.stop > 70
    assert learned.proposal.levels.start < 620
    assert learned.proposal.levels.start_confirm == 0.0


def test_averages_at_the_ends_of_runs_do_not_raise_the_rest() -> None:
    averaging = next(
        case for case in reported_cases() if case.name == "a press, averaged over 30 s"
    )
    learned = learned_of(averaging)
    assert learned.proposal is not None
    assert learned.proposal.rest_high < 15
    assert learned.proposal.levels.start < 150


# Certainty


RUNS = [(1000.0 * n, 1000.0 * n + 60.0) for n in range(1, 8)]


def stays_with(elsewhere: float, peak: float = 900.0) -> list[LevelStep]:
    found = [LevelStep(0.0, elsewhere, 990.0)]
    for number, (first, last) in enumerate(RUNS):
        found.append(LevelStep(first, peak if number == 3 else 900.0, last - first))
        found.append(LevelStep(last, 2.0, 930.0))
    return found


def certain(
    stays: list[LevelStep], runs: list[tuple[float, float]] = RUNS
) -> float | None:
    return certain_level(stays, runs, 100.0, 900.0, 150.0, 1.0)


def test_a_certain_level_lies_above_all_that_was_no_run_and_within_every_run() -> None:
    assert certain(stays_with(2.0)) == 150.0
    assert certain(stays_with(300.0)) == pytest.approx(390.0)
    assert certain(stays_with(800.0)) is None
    # One run stayed lower: what lies below the certain level would have to wait.
    assert certain(stays_with(2.0, peak=140.0)) == pytest.approx(126.0)
    assert certain(stays_with(2.0, peak=105.0)) is None
    assert certain(stays_with(2.0), RUNS[:4]) is None


def test_a_guess_is_never_certain() -> None:
    light = Case(name="", motor=SAW, habit=SHORT_CUTS, plug=Plug(interval=30), days=4.0)
    proposal = learned_of(light).proposal
    assert proposal is not None
    assert proposal.confidence is Confidence.POOR
    assert proposal.certain_level is None
    clear = learned_of(Case(name="", motor=SAW, days=3.0)).proposal
    assert clear is not None
    assert clear.confidence is Confidence.CLEAR
    assert clear.levels.start <= (clear.certain_level or 0.0) < 620
