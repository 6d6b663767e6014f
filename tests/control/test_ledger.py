"""What the shop did: time, cuts, collected share."""

import json

import pytest

from custom_components.gatewright.core.control.ledger import (
    RUNS_COMPARED,
    FinishedRun,
    Ledger,
    MachineTotals,
    MachineUse,
    TimesToAir,
)

CUTS = MachineUse(in_use=True, is_collecting=True, at_rest=False)
STARVES = MachineUse(in_use=True, is_collecting=False, at_rest=False)
HOLDS = MachineUse(in_use=False, is_collecting=True, at_rest=False)
RESTS = MachineUse(in_use=False, is_collecting=False, at_rest=True)
LOCKED = MachineUse(in_use=True, is_collecting=False, at_rest=True)


def book(*looks: tuple[float, MachineUse | None], turning: bool = False) -> Ledger:
    """Return the ledger of a saw that was looked at; None: it was not among the busy."""
    made = Ledger()
    for now, use in looks:
        made.observe(now, turning=turning, uses={} if use is None else {"saw": use})
    return made


@pytest.mark.parametrize(
    ("looks", "expected"),
    [
        ([(0, RESTS), (10, CUTS), (40, RESTS)], (30.0, 30.0, 1, 1)),
        # A run is as many cuts as it takes until the machine comes to rest.
        (
            [(0, CUTS), (10, HOLDS), (20, CUTS), (25, HOLDS), (40, RESTS)],
            (15.0, 15.0, 1, 2),
        ),
        ([(0, CUTS), (10, None), (20, CUTS), (30, None)], (20.0, 20.0, 2, 2)),
        # Without dust collection the time counts, and the collected share shows it.
        ([(0, STARVES), (5, CUTS), (20, RESTS)], (20.0, 15.0, 1, 1)),
        # Under start block it is at rest as far as dust collection goes, and runs all the same.
        ([(0, CUTS), (5, LOCKED), (20, RESTS)], (20.0, 5.0, 1, 1)),
        # A clock that stands still or goes back books nothing.
        ([(10, CUTS), (10, CUTS), (5, CUTS), (15, RESTS)], (10.0, 10.0, 1, 1)),
    ],
)
def test_totals(
    looks: list[tuple[float, MachineUse | None]],
    expected: tuple[float, float, int, int],
) -> None:
    totals = book(*looks).of("saw")
    assert (
        totals.run_time,
        totals.collecting_time,
        totals.runs,
        totals.cuts,
    ) == expected


@pytest.mark.parametrize(
    ("run", "air", "collected_share"),
    [(0.0, 0.0, None), (10.0, 5.0, 0.5), (10.0, 11.0, 1.0)],
)
def test_collected_share(run: float, air: float, collected_share: float | None) -> None:
    assert (
        MachineTotals(run_time=run, collecting_time=air).collected_share
        == collected_share
    )


def test_finished_runs() -> None:
    made = book((0, STARVES), (2, CUTS), (10, HOLDS), (20, CUTS), (22, RESTS))
    run = FinishedRun(
        machine_id="saw",
        began=0.0,
        ended=22.0,
        run_time=12.0,
        collecting_time=10.0,
        cuts=2,
    )
    assert made.drain() == [run]
    assert made.drain() == []


def test_collector() -> None:
    made = Ledger()
    for now, turning in ((0, False), (10, True), (20, True), (25, False), (30, True)):
        made.observe(now, turning=turning, uses={})
    made.book(32.0)
    assert (made.collector.on_time, made.collector.starts) == (17.0, 2)


def test_another_process_goes_on_in_the_same_cut() -> None:
    before = book((0, STARVES), (10, CUTS), turning=True)
    kept = json.loads(json.dumps(before.save(30.0)))
    after = Ledger()
    after.restore(kept, 1000.0)
    # The time in between is booked to nobody.
    after.observe(1000.0, turning=True, uses={"saw": CUTS})
    after.observe(1010.0, turning=True, uses={"saw": RESTS})
    totals = after.of("saw")
    assert (totals.run_time, totals.collecting_time) == (40.0, 30.0)
    assert (totals.runs, totals.cuts) == (1, 1)
    assert (after.collector.on_time, after.collector.starts) == (40.0, 1)
    [run] = after.drain()
    assert (run.began, run.run_time, run.cuts) == (970.0, 40.0, 1)


def test_run_of_a_machine_that_is_gone_after_a_restart_ends() -> None:
    kept = book((0, CUTS), (10, HOLDS)).save(20.0)
    after = Ledger()
    after.restore(kept, 1000.0)
    after.observe(1000.0, turning=False, uses={})
    assert [run.cuts for run in after.drain()] == [1]


# Time to air --------------------------------------------------------------------


def sign(at: float, **how: bool) -> MachineUse:
    """Return a saw that gave its first sign at an instant."""
    return MachineUse(
        **({"in_use": True, "is_collecting": False, "at_rest": False} | how),
        first_sign=at,
    )


@pytest.mark.parametrize(
    ("looks", "time"),
    [
        # From the first reading, not from when the start was certain.
        (
            [
                (4, sign(4, in_use=False)),
                (5, sign(4)),
                (7.5, sign(4, is_collecting=True)),
            ],
            3.5,
        ),
        # Joined to a collector that collects there already, it has no time to wait.
        (
            [
                (4, sign(4, in_use=False, is_collecting=True)),
                (5, sign(4, is_collecting=True)),
            ],
            0.0,
        ),
        # Its gate came before the start was certain.
        (
            [
                (4, sign(4, in_use=False)),
                (4.25, sign(4, in_use=False, is_collecting=True)),
                (5, sign(4, is_collecting=True)),
            ],
            0.25,
        ),
        # What it had for a moment and lost again does not count.
        (
            [
                (4, sign(4, in_use=False, is_collecting=True)),
                (4.5, sign(4, in_use=False)),
                (5, sign(4)),
                (9, sign(4, is_collecting=True)),
            ],
            5.0,
        ),
        # The cut is over before it comes: it comes for the next one.
        (
            [
                (4, sign(4)),
                (6, MachineUse(in_use=False, is_collecting=False, at_rest=False)),
                (8, HOLDS),
            ],
            4.0,
        ),
        # A later cut of the same run changes nothing.
        ([(4, sign(4, is_collecting=True)), (9, HOLDS), (12, sign(12))], 0.0),
        # None came at all.
        ([(4, sign(4))], None),
        # It was found going: nobody saw it start.
        ([(4, STARVES), (9, CUTS)], None),
        # A person kept it away for a while: that is no figure of gates and motor.
        (
            [
                (4, sign(4)),
                (
                    5,
                    MachineUse(
                        in_use=True,
                        is_collecting=False,
                        at_rest=True,
                        first_sign=4,
                        served=False,
                    ),
                ),
                (90, sign(4, is_collecting=True)),
            ],
            None,
        ),
    ],
)
def test_time_to_air(
    looks: list[tuple[float, MachineUse | None]], time: float | None
) -> None:
    made = book(*looks, (200.0, RESTS))
    (run,) = made.drain()
    assert run.time_to_air == time
    assert made.times_to_air.latest("saw") == time
    assert made.times_to_air.recent("saw") == ([] if time is None else [time])


def test_time_to_air_is_told_while_the_run_goes_on() -> None:
    made = book((4, sign(4)), (8, sign(4, is_collecting=True)))
    assert made.times_to_air.latest("saw") == 4.0


def test_usual_time_to_air_is_that_of_the_last_runs() -> None:
    times = TimesToAir()
    assert (times.latest("saw"), times.usual("saw")) == (None, None)
    for time in (9.0,) * 20 + (None, 4.0, 5.0, 3.0, None) * 4:
        times.note("saw", time)
    assert times.usual("saw") == 4.0
    assert times.latest("saw") is None
    times.note("new saw", 8.0)
    times.adopt("saw", "new saw")
    times.adopt("nobody", "new saw")
    assert times.recent("new saw")[-2:] == [3.0, 8.0]
    again = TimesToAir()
    again.restore(json.loads(json.dumps(times.save())))
    assert again.save() == times.save()
    assert len(again.save()["new saw"]) == RUNS_COMPARED


def test_time_to_air_outlives_a_restart() -> None:
    looks = [(4.0, sign(4)), (8.0, sign(4, is_collecting=True))]
    kept = json.loads(json.dumps(book(*looks).save(20.0)))
    after = Ledger()
    after.restore(kept, 1000.0)
    after.observe(1000.0, turning=True, uses={"saw": CUTS})
    after.observe(1010.0, turning=True, uses={"saw": RESTS})
    assert [run.time_to_air for run in after.drain()] == [4.0]
    assert after.times_to_air.recent("saw") == [4.0]


def test_restart_before_dust_is_collected_leaves_no_time_to_air() -> None:
    kept = book((4.0, sign(4))).save(5.0)
    after = Ledger()
    after.restore(kept, 1000.0)
    after.observe(1000.0, turning=True, uses={"saw": sign(1000.0, is_collecting=True)})
    after.observe(1010.0, turning=True, uses={"saw": RESTS})
    assert [run.time_to_air for run in after.drain()] == [None]


def test_memory_of_the_first_version_is_read() -> None:
    kept = book((0, STARVES), (10, CUTS)).save(30.0)
    del kept["times_to_air"], kept["open"]["saw"]["time_to_air"]
    after = Ledger()
    after.restore(kept, 1000.0)
    after.observe(1000.0, turning=True, uses={"saw": RESTS})
    assert [run.time_to_air for run in after.drain()] == [None]
