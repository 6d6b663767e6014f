"""What is proposed, how sure it is, and when nothing is proposed."""

import math
from random import Random

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.calibration.confirm_times import (
    start_confirm,
    stop_confirm,
    thresholds,
)
from custom_components.gatewright.core.calibration.cost import cost_of_start_confirm
from custom_components.gatewright.core.calibration.distribution import SCALES
from custom_components.gatewright.core.calibration.history import Reading
from custom_components.gatewright.core.calibration.learner import (
    Confidence,
    Learned,
    LevelRole,
    Remark,
    learn,
)
from custom_components.gatewright.core.calibration.levels import Unlearned
from custom_components.gatewright.core.config import threshold_problems

from .catalog import CHARGER, LAMP, SANDER, SAW
from .traces import DAY, Habit, Lamp, Motor, Plug, make_trace


def learned_of(motor: Motor, plug: Plug, **more: object) -> Learned:
    trace = make_trace(motor, plug, **more)  # type: ignore[arg-type]
    return learn(trace.history, "W", trace.until)


def remarks(learned: Learned) -> dict[Remark, float]:
    assert learned.proposal is not None
    return {note.remark: note.value for note in learned.proposal.notes}


def bouts(low: float, high: float, count: int, lasts: float) -> list[Reading]:
    """Return runs at one level, ten minutes apart, a reading every second."""
    readings: list[Reading] = [(0.0, low)]
    for number in range(count):
        at = 600.0 * (number + 1)
        readings += [(at + n, high + 0.1 * (n % 3)) for n in range(int(lasts))]
        readings.append((at + lasts, low))
    return readings


# Known truth


def test_levels_of_a_saw_are_found() -> None:
    learned = learned_of(SAW, Plug(), days=3.0)
    idle, running = learned.found
    assert idle.role is LevelRole.IDLE
    assert idle.typical == pytest.approx(3.0, abs=0.2)
    assert running.role is LevelRole.RUNNING
    assert running.low == pytest.approx(620, rel=0.1)
    assert 620 < running.typical < 1850
    proposal = learned.proposal
    assert proposal is not None
    assert proposal.confidence is Confidence.CLEAR
    assert proposal.ratio == pytest.approx(620 / 3, rel=0.2)
    assert remarks(learned) == {
        Remark.STANDS_OUT: proposal.ratio,
        Remark.HALVES_AGREE: 60,
        Remark.AVERAGES: 1,
    }
    assert proposal.held_out is not None
    assert proposal.held_out.holds
    assert learned.pace is not None
    assert learned.pace.median == pytest.approx(1.0, abs=0.03)
    assert learned.observed == pytest.approx(3 * DAY)
    assert threshold_problems("saw", proposal.levels) == []


def test_standby_is_shown_apart_from_idle() -> None:
    learned = learned_of(
        Motor(free=400, work=900),
        Plug(),
        lamps=(Lamp(draws=20, stays=30_000, times=1.5),),
        days=4.0,
        seed=3,
    )
    assert [level.role for level in learned.found] == [
        LevelRole.IDLE,
        LevelRole.STANDBY,
        LevelRole.RUNNING,
    ]
    assert learned.found[1].typical == pytest.approx(20, rel=0.05)


def test_what_else_is_on_the_outlet_is_said() -> None:
    learned = learned_of(SANDER, Plug(), lamps=(CHARGER,), days=4.0)
    assert learned.proposal is not None
    assert learned.proposal.confidence is Confidence.FAIR
    assert learned.proposal.levels.stop > 64
    assert remarks(learned)[Remark.OTHER_LOAD] == pytest.approx(60, rel=0.1)


def test_a_lamp_alone_is_not_trusted_to_be_a_machine() -> None:
    learned = learned_of(
        Motor(free=10, work=10),
        Plug(),
        habit=Habit(runs=0.0),
        lamps=(LAMP,),
        days=8.0,
    )
    assert learned.proposal is not None
    assert learned.proposal.confidence is Confidence.POOR
    assert remarks(learned)[Remark.MIGHT_BE_A_LIGHT] == pytest.approx(50, rel=0.3)


def test_a_fan_that_never_rests_is_not_the_machine() -> None:
    learned = learned_of(
        SAW,
        Plug(interval=10),
        lamps=(Lamp(draws=200, stays=50_000, times=5),),
        days=6.0,
        seed=2,
    )
    assert learned.proposal is not None
    assert learned.proposal.levels.stop > 200


def test_a_low_level_beside_a_high_one_is_mentioned() -> None:
    """A machine that idles low for a minute and works far above that."""
    readings: list[Reading] = [(0.0, 1.0)]
    for number in range(30):
        at = 900.0 * (number + 1)
        readings += [(at + n, 60.0 + n % 2) for n in range(40)]
        readings += [(at + 40 + n, 400.0 + n % 3) for n in range(40)]
        readings.append((at + 80, 1.0))
    learned = learn(readings, "W", 30_000.0)
    assert learned.proposal is not None
    assert learned.proposal.levels.start < 60
    assert remarks(learned)[Remark.PART] == pytest.approx(400, rel=0.05)
    assert learned.proposal.confidence is Confidence.FAIR


def test_a_plug_too_slow_for_the_cuts_says_so() -> None:
    readings: list[Reading] = [(0.0, 0.0)]
    for number in range(40):
        readings += [
            (1000.0 * (number + 1), 800.0 + number),
            (1000.0 * (number + 1) + 3, 0.0),
        ]
    learned = learn(readings, "W", 50_000.0)
    assert learned.proposal is not None
    assert learned.proposal.confidence is Confidence.POOR
    assert Remark.SINGLE_READINGS in remarks(learned)
    assert learned.proposal.levels.start_confirm == 0.0


def test_spikes_and_dips_are_counted_and_outlasted() -> None:
    learned = learned_of(
        SAW, Plug(interval=2, spikes=1, spike=9000, zeros=20), days=4.0, seed=1
    )
    assert learned.proposal is not None
    assert remarks(learned)[Remark.SPIKES] > 50
    assert remarks(learned)[Remark.DIPS] > 5
    assert 2.0 < learned.proposal.levels.start_confirm <= 2.5
    assert learned.proposal.levels.stop_confirm >= 2.5


@pytest.mark.parametrize(("count", "lasts"), [(1, 300.0), (3, 30.0), (2, 12.0)])
def test_little_to_go_by_makes_it_less_sure(count: int, lasts: float) -> None:
    learned = learn(bouts(2.0, 700.0, count, lasts), "W", 8000.0)
    assert learned.proposal is not None
    assert learned.proposal.runs == count
    assert remarks(learned)[Remark.FEW_RUNS] == count
    assert (Remark.LITTLE_RUN_TIME in remarks(learned)) is (count * lasts < 60)
    sure = learned.proposal.confidence
    assert sure is (Confidence.POOR if count == 1 else Confidence.FAIR)


def test_amperes_have_their_own_scale() -> None:
    readings = [(at, None if v is None else v / 230) for at, v in bouts(5, 900, 6, 60)]
    learned = learn(readings, "A", 8000.0)
    assert learned.proposal is not None
    assert 0.1 < learned.proposal.levels.start < 3.9
    with pytest.raises(KeyError):
        learn(readings, "VA", 8000.0)


def test_a_clamp_put_on_backwards_is_read_all_the_same() -> None:
    readings = bouts(5, 900, 6, 60)
    turned = [(at, None if v is None else -v) for at, v in readings]
    assert learn(turned, "W", 8000.0) == learn(readings, "W", 8000.0)


# What a history cannot tell


@pytest.mark.parametrize(
    ("history", "until", "why"),
    [
        ([], 1e5, Unlearned.NO_READINGS),
        ([(0.0, None), (10.0, math.nan), (20.0, math.inf)], 1e5, Unlearned.NO_READINGS),
        (
            [(float(n), 5.0 + 400 * (n % 2)) for n in range(60)],
            60.0,
            Unlearned.TOO_SHORT,
        ),
        ([(0.0, 1.0), (500.0, 600.0), (900.0, 1.0)], 1e5, Unlearned.TOO_FEW_READINGS),
        ([(0.0, 3.4)], 1e6, Unlearned.ONE_LEVEL),
        (
            [(60.0 * n, 900.0 + n % 7) for n in range(3000)],
            180_000.0,
            Unlearned.ONE_LEVEL,
        ),
        (
            [(60.0 * n, 0.5 + 5.5 * (n % 40 > 20)) for n in range(999)],
            6e4,
            Unlearned.NO_RUNS,
        ),
    ],
)
def test_a_history_that_cannot_tell_is_refused(
    history: list[Reading], until: float, why: Unlearned
) -> None:
    learned = learn(history, "W", until)
    assert learned.refusal is why
    assert learned.proposal is None
    assert bool(learned.picture) is (why is not Unlearned.NO_READINGS)


def test_a_few_spikes_are_no_runs() -> None:
    trace = make_trace(
        Motor(free=10, work=10, standby=2.0),
        Plug(spikes=0.04, spike=3000),
        habit=Habit(runs=0.0),
        days=4.0,
        seed=1,
    )
    assert learn(trace.history, "W", trace.until).refusal in {
        Unlearned.NO_RUNS,
        Unlearned.ONE_LEVEL,
    }


def test_a_fan_without_a_machine_is_no_machine() -> None:
    """Ten hours on, two hours off, day and night."""
    readings = [(600.0 * n, 200.0 + n % 7 if n % 72 < 60 else 1.0) for n in range(1500)]
    assert learn(readings, "W", 900_000.0).refusal is Unlearned.NO_RUNS


@pytest.mark.parametrize(("low", "high"), [(0, 3.2), (1, 3), (0, 2), (2, 3.5)])
@pytest.mark.parametrize("seed", range(4))
def test_a_smear_without_a_gap_is_refused(low: float, high: float, seed: int) -> None:
    """A load that takes every value alike, as a heater with a dimmer does."""
    random = Random(seed)
    history = [(30.0 * n, 10 ** random.uniform(low, high)) for n in range(4000)]
    assert learn(history, "W", 120_000.0).refusal in {
        Unlearned.OVERLAPPING,
        Unlearned.NO_RUNS,
    }


def test_a_lamp_that_draws_as_much_as_the_machine_leaves_doubt() -> None:
    learned = learned_of(
        Motor(free=95, work=110), Plug(), lamps=(Lamp(draws=100),), days=5.0, seed=6
    )
    assert learned.proposal is None or (
        learned.proposal.confidence is not Confidence.CLEAR
    )


# What is always so


readings = st.lists(
    st.tuples(
        st.floats(0, 2 * DAY),
        st.one_of(
            st.none(), st.floats(), st.floats(0, 3000), st.sampled_from([0.0, 700.0])
        ),
    ),
    max_size=80,
)


@given(readings, st.sampled_from(["W", "A"]), st.one_of(st.none(), st.just(2 * DAY)))
def test_whatever_was_recorded_gives_levels_that_work_or_a_reason(
    history: list[Reading], unit: str, until: float | None
) -> None:
    learned = learn(history, unit, until)
    assert (learned.proposal is None) is (learned.refusal is not None)
    if learned.proposal is not None:
        levels = learned.proposal.levels
        assert threshold_problems("machine", levels) == []
        assert learned.proposal.rest_high < levels.stop
        assert levels.start < learned.proposal.work_low
        assert learned.proposal.runs >= 1


@given(
    st.floats(1, 1e4),
    st.floats(1.3, 1e4),
    st.sampled_from(sorted(SCALES)),
    st.booleans(),
)
def test_thresholds_lie_between_rest_and_work(
    rest: float, ratio: float, unit: str, averaging: bool
) -> None:
    start, stop = thresholds(rest, rest * ratio, SCALES[unit], averaging=averaging)
    assert rest < stop < start < rest * ratio


def test_no_start_waits_unless_that_is_proven() -> None:
    cuts = [20.0, 30.0, 8.0, 60.0] * 5
    assert start_confirm(cuts, ([], [])) == 0.0
    # A false start or two are spared the cuts their delay.
    assert start_confirm(cuts, ([2.0] * 2, [2.0] * 3)) == 0.0
    # Often enough, they cost more than that delay: 20 cuts late by 2.5 s, or 50 times 5 s.
    assert start_confirm(cuts, ([2.0] * 25, [2.0] * 25)) == 2.5
    # But no cut is lost for it, nor is the wait longer than half of one.
    assert start_confirm([3.0, *cuts], ([2.0] * 25, [2.0] * 25)) == 0.0
    assert start_confirm(cuts, ([10.0] * 250, [10.0] * 250)) == 0.0
    assert start_confirm([], ([2.0] * 25, [2.0] * 25)) == 0.0
    # What happened in one half of the time only proves nothing.
    assert start_confirm(cuts, ([], [2.0] * 50)) == 0.0


@given(
    st.lists(st.floats(0.5, 300), max_size=30),
    st.lists(st.floats(0.5, 60), max_size=30),
    st.lists(st.floats(0.5, 60), max_size=30),
)
def test_a_wait_before_a_start_costs_less_than_none_and_loses_no_run(
    runs: list[float], first: list[float], second: list[float]
) -> None:
    wait = start_confirm(runs, (first, second))
    odd = [*first, *second]
    assert cost_of_start_confirm(wait, runs, odd) <= cost_of_start_confirm(
        0.0, runs, odd
    )
    assert all(lasts > wait for lasts in runs)


def test_a_stop_waits_through_a_machine_s_own_rhythm() -> None:
    assert stop_confirm([], 1.0) == 4.0
    assert stop_confirm([], 10.0) == 12.0
    assert stop_confirm([9.0], 1.0) == pytest.approx(10.4)
    drum = [8.0, 12.0, 9.0, 11.0] * 10
    assert stop_confirm([], 1.0, drum) == 13.0
    # Cuts with pauses of all lengths are no rhythm: the hold is for those.
    assert stop_confirm([], 1.0, [*drum[:12], 40.0, 90.0, 400.0, 45.0, 70.0]) == 4.0
    assert stop_confirm([], 1.0, drum[:9]) == 4.0


# The corners of the search


def test_nothing_above_a_handful_of_watts_is_work() -> None:
    """Half a minute at 500 W that nothing repeats does not make 5 W a level of work."""
    readings = [(30.0 * n, 1.0 + 4.0 * (n % 60 > 40)) for n in range(2000)]
    assert learn(readings, "W", 60_000.0).refusal is Unlearned.NO_RUNS


def test_levels_too_close_for_two_thresholds_are_refused() -> None:
    """Rest reaches up to 480 W, and work begins at 500 W."""
    random = Random(2)
    readings = [
        (
            5.0 * n,
            random.uniform(500, 1200) if n % 100 > 80 else random.uniform(300, 480),
        )
        for n in range(8000)
    ]
    assert learn(readings, "W", 40_000.0).refusal is Unlearned.OVERLAPPING


def test_a_slow_sweep_through_all_values_is_refused() -> None:
    readings = [
        (5.0 * n, 200.0 * 10 ** (0.5 + 0.5 * math.sin(n / 60.0))) for n in range(9000)
    ]
    assert learn(readings, "W", 45_000.0).refusal is Unlearned.OVERLAPPING


def test_two_levels_joined_by_a_slow_ramp_are_refused() -> None:
    up = [300.0 * 1.02**n for n in range(70)]
    cycle = [300.0] * 200 + up + [1200.0] * 60 + up[::-1]
    readings = [(5.0 * n, cycle[n % len(cycle)] + n % 3) for n in range(8000)]
    assert learn(readings, "W", 40_000.0).refusal is Unlearned.OVERLAPPING


def test_what_two_readings_make_is_no_run_but_is_outlasted() -> None:
    readings = bouts(2.0, 700.0, 12, 60.0)
    for number in range(40):
        at = 10_000.0 + 500.0 * number
        readings += [(at, 690.0), (at + 1.0, 705.0), (at + 2.0, 2.0)]
    learned = learn(readings, "W", 40_000.0)
    assert learned.proposal is not None
    assert learned.proposal.runs == 12
    assert remarks(learned)[Remark.SPIKES] == 40
    assert learned.proposal.levels.start_confirm == 2.5


@pytest.mark.parametrize("count", [5, 90])
def test_lone_readings_of_a_slow_plug_are_short_runs(count: int) -> None:
    random = Random(3)
    readings: list[Reading] = [(0.0, 2.0)]
    for number in range(20):
        at = 1000.0 * (number + 1)
        readings += [(at + 10 * n, random.uniform(600, 900)) for n in range(12)]
        readings.append((at + 120, 2.0))
    for number in range(count):
        at = 30_000.0 + 300.0 * number
        readings += [(at, random.uniform(650, 850)), (at + 10, 2.0)]
    learned = learn(readings, "W", 200_000.0)
    assert learned.proposal is not None
    assert learned.proposal.runs == 20
    assert remarks(learned)[Remark.DOUBTFUL] == count
    assert learned.proposal.levels.start_confirm == 0.0


def test_thresholds_without_room_are_not_rounded() -> None:
    start, stop = thresholds(1055.0, 1055.0 * 1.31, SCALES["W"])
    assert 1055.0 < stop < start < 1055.0 * 1.31
    assert stop == 1055.0 * 1.31**0.35
