"""A plug's capabilities, the guided minute, and the check for drift."""

from dataclasses import replace
from random import Random

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.calibration.drift import Shift, check_drift
from custom_components.gatewright.core.calibration.guided_minute import learn_guided
from custom_components.gatewright.core.calibration.history import Reading
from custom_components.gatewright.core.calibration.learner import (
    Confidence,
    LevelRole,
    Remark,
    learn,
)
from custom_components.gatewright.core.calibration.levels import Unlearned
from custom_components.gatewright.core.calibration.reporting import (
    Advice,
    Pace,
    advise,
    first_cut_delay,
    pace_of,
)
from custom_components.gatewright.core.config import Thresholds

from .catalog import SANDER, SAW
from .score import score
from .traces import Motor, Plug, make_trace

# The pace of a plug


@given(st.floats(0.5, 60), st.integers(0, 1000))
def test_a_plug_at_a_beat_is_measured(interval: float, seed: int) -> None:
    random = Random(seed)
    readings: list[Reading] = [(0.0, 1.0)]
    at = 1000.0
    for _ in range(60):
        readings.append((at, 500.0 + random.random()))
        at += interval * random.uniform(0.95, 1.05)
    pace = pace_of([*readings, (at, 1.0)], 100.0)
    assert pace is not None
    assert pace.gaps == 59
    assert not pace.on_change
    assert pace.interval == pytest.approx(interval, rel=0.06)
    assert pace.typical_delay == pytest.approx(interval / 2, rel=0.06)
    assert pace.longest_delay == pytest.approx(interval, rel=0.06)


def test_a_start_is_noticed_as_late_as_the_pace_says() -> None:
    trace = make_trace(SAW, Plug(interval=10), days=6.0)
    pace = pace_of(trace.history, 150.0, trace.until)
    assert pace is not None
    delays = []
    for began, _ in trace.ran:
        shown = next((t for t, v in trace.history if t >= began and v and v > 150), 0.0)
        delays.append(shown - began)
    assert sum(delays) / len(delays) == pytest.approx(pace.typical_delay, rel=0.15)
    assert max(delays) <= 1.05 * pace.longest_delay


def test_a_plug_that_reports_on_change_is_known_by_its_uneven_gaps() -> None:
    random = Random(2)
    at, readings = 0.0, []
    for _ in range(200):
        readings.append((at, 500.0 + random.random()))
        at += random.choice([1.0, 1.0, 1.0, 12.0])
    pace = pace_of(readings, 100.0)
    assert pace is not None
    assert pace.on_change
    assert pace.interval == pace.median == 1.0
    assert pace.typical_delay == 0.5


def test_gaps_and_rest_are_no_intervals() -> None:
    running: list[Reading] = [(float(n), 500.0 + n) for n in range(10)]
    later: list[Reading] = [(5000.0 + n, 600.0 + n) for n in range(3)]
    away: list[Reading] = [(20.0, None)]
    pace = pace_of([*running, *away, *later], 100.0)
    assert pace is not None
    assert pace.gaps == 9 + 1  # Nothing ends the last reading.
    assert pace.p90 == 1.0
    assert pace_of(running[:5], 100.0) is None
    assert pace_of([(60.0 * n, n % 3) for n in range(50)], 100.0) is None


@pytest.mark.parametrize(
    ("interval", "expected"),
    [
        (1.0, ()),
        (4.5, (Advice.FIRST_CUT_UNPROTECTED, Advice.STOP_SETTLES_TOO_SOON)),
        (
            10.0,
            (
                Advice.FIRST_CUT_UNPROTECTED,
                Advice.STOP_SETTLES_TOO_SOON,
                Advice.SHORTEN_INTERVAL,
            ),
        ),
        (30.0, tuple(Advice)),
    ],
)
def test_advice_follows_from_the_interval(
    interval: float, expected: tuple[Advice, ...]
) -> None:
    pace = Pace(
        gaps=50,
        median=interval,
        p90=interval,
        shortest=interval,
        longest=interval,
        on_change=False,
    )
    levels = Thresholds(start=100, stop=50, start_confirm=1.0, stop_confirm=4.0)
    assert set(advise(pace, levels)) == set(expected)
    learned = replace(levels, stop_confirm=2 * interval)
    assert Advice.STOP_SETTLES_TOO_SOON not in advise(pace, learned)


# The guided minute


def minute(
    value: float, begins: float, lasts: float, beat: float = 1.0
) -> list[Reading]:
    count = int(lasts / beat)
    return [(begins + n * beat, value * (1 + 0.002 * (n % 5))) for n in range(count)]


def test_a_guided_minute_finds_thresholds_that_hold() -> None:
    on = [(60.0, 3.0), (72.0, 300.0), *minute(640.0, 73.0, 40.0)]
    learned = learn_guided(
        [(0.0, 3.0), (31.0, 3.1)], on, off_until=60.0, on_until=113.0
    )
    assert learned.proposal is not None
    # Nothing is held out that could prove it.
    assert learned.proposal.confidence is Confidence.FAIR
    assert learned.proposal.certain_level is None
    assert learned.proposal.levels.start == pytest.approx(150, rel=0.05)
    assert learned.proposal.levels.start_confirm == 0.0
    assert [level.role for level in learned.found] == [
        LevelRole.IDLE,
        LevelRole.RUNNING,
    ]
    assert learned.found[1].typical == pytest.approx(642, rel=0.01)
    assert learned.pace is not None
    assert learned.picture
    trace = make_trace(SAW, Plug(interval=2), days=3.0)
    assert score(learned.proposal.levels, trace).false_starts == 0
    assert score(learned.proposal.levels, trace).missed == 0


@pytest.mark.parametrize(
    ("off", "on", "until", "why"),
    [
        ([], minute(600, 60, 30), 90.0, Unlearned.NO_READINGS),
        ([(0.0, 2.0)], [(60.0, None)], 90.0, Unlearned.NO_READINGS),
        ([(0.0, 2.0)], [(60.0, 2.0), (70.0, 2.2)], 90.0, Unlearned.ONE_LEVEL),
        ([(0.0, 600.0)], minute(610, 60, 30), 90.0, Unlearned.ONE_LEVEL),
        ([(52.0, 2.0)], minute(600, 60, 30), 90.0, Unlearned.TOO_SHORT),
        ([(0.0, 2.0)], minute(600, 60, 30), 63.0, Unlearned.TOO_SHORT),
        ([(0.0, 0.3)], minute(7, 60, 30), 90.0, Unlearned.NO_RUNS),
    ],
)
def test_a_guided_minute_that_shows_nothing_is_refused(
    off: list[Reading], on: list[Reading], until: float, why: Unlearned
) -> None:
    on = [(at, value) for at, value in on if at < until]
    learned = learn_guided(off, on, off_until=60.0, on_until=until)
    assert learned.refusal is why
    assert learned.proposal is None


def test_a_guided_minute_says_how_sure_it_is() -> None:
    def sure(rest: float, work: float, lasts: float) -> tuple[Confidence, set[Remark]]:
        learned = learn_guided(
            [(0.0, rest)],
            minute(work, 60.0, lasts),
            off_until=60.0,
            on_until=60.0 + lasts,
        )
        assert learned.proposal is not None
        return learned.proposal.confidence, {n.remark for n in learned.proposal.notes}

    one = Remark.FEW_RUNS
    assert sure(2, 600, 30) == (Confidence.FAIR, {Remark.STANDS_OUT, one})
    assert sure(2, 600, 10) == (
        Confidence.FAIR,
        {Remark.STANDS_OUT, Remark.LITTLE_RUN_TIME, one},
    )
    assert sure(100, 200, 30) == (Confidence.FAIR, {Remark.CLOSE_LEVELS, one})
    assert sure(100, 145, 30) == (Confidence.POOR, {Remark.CLOSE_LEVELS, one})


# Drift


def test_levels_that_were_learned_have_not_drifted() -> None:
    trace = make_trace(SAW, Plug(), days=3.0, seed=1)
    proposal = learn(trace.history, "W", trace.until).proposal
    assert proposal is not None
    for seed in (2, 3):
        week = make_trace(SAW, Plug(), days=3.0, seed=seed)
        drift = check_drift(proposal.levels, week.history, "W", week.until)
        assert not drift.due
        assert drift.shifts == ()


CHANGES = [
    (Motor(free=155, work=500, standby=3), Plug(), Shift.WORK_FELL),
    (Motor(free=900, work=1850, standby=80), Plug(interval=3), Shift.REST_ROSE),
    (Motor(free=620, work=1850, standby=3), Plug(interval=15), Shift.REPORTS_SLOWER),
]


@pytest.mark.parametrize(("motor", "plug", "shift"), CHANGES)
def test_a_machine_that_changed_is_noticed(
    motor: Motor, plug: Plug, shift: Shift
) -> None:
    trace = make_trace(motor, plug, days=3.0)
    levels = Thresholds(start=150.0, stop=75.0)
    drift = check_drift(levels, trace.history, "W", trace.until)
    assert drift.due
    assert drift.shifts == (shift,)
    assert drift.learned.proposal is not None
    # What is suggested then stands, and nothing more is due.
    again = check_drift(
        drift.learned.proposal.levels, trace.history, "W", trace.until, standing=True
    )
    assert not again.due


def test_a_suggestion_does_not_come_and_go() -> None:
    trace = make_trace(Motor(free=190, work=500, standby=3), Plug(), days=3.0)
    levels = Thresholds(start=150.0, stop=75.0)
    assert not check_drift(levels, trace.history, "W", trace.until).due
    assert check_drift(levels, trace.history, "W", trace.until, standing=True).due


def test_a_machine_that_rested_changes_nothing() -> None:
    levels = Thresholds(start=150.0, stop=75.0)
    for standing in (False, True):
        drift = check_drift(levels, [(0.0, 3.0)], "W", 1e6, standing=standing)
        assert drift.due is standing
        assert drift.learned.refusal is Unlearned.ONE_LEVEL


def test_levels_close_together_are_not_nagged_about() -> None:
    trace = make_trace(
        replace(SANDER, standby=130.0, inrush=0.0),
        Plug(interval=3, noise=0.01),
        days=3.0,
    )
    proposal = learn(trace.history, "W", trace.until).proposal
    assert proposal is not None
    assert proposal.ratio < 1.5
    assert not check_drift(proposal.levels, trace.history, "W", trace.until).due


def test_a_plug_too_slow_to_show_a_pace_is_advised_against_all_the_same() -> None:
    """Its lone readings have to be waited for, and that takes the whole first cut."""
    patient = Thresholds(start=100.0, stop=50.0, start_confirm=31.0)
    assert first_cut_delay(None, patient) == 31.0
    assert advise(None, patient) == (
        Advice.FIRST_CUT_UNPROTECTED,
        Advice.SHORTEN_INTERVAL,
        Advice.USE_CURRENT_SWITCH,
    )
    assert advise(None, Thresholds(start=100.0, stop=50.0, start_confirm=1.0)) == ()
