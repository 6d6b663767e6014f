"""What the airflow asks of the sequence: gates opened beside, and a longer shut-off delay."""

from custom_components.gatewright.core.config import COLLECTOR
from custom_components.gatewright.core.control.enums import Phase

from .bench import Bench, near, resting_bench


def _planer_runs(bleed: frozenset[str] = frozenset()) -> Bench:
    bench = resting_bench()
    bench.sequence.bleed = bleed
    bench.read(10.0, "planer", 1450.0)
    bench.run_to(50.0)
    assert bench.sequence.phase is Phase.COLLECTING
    return bench


def test_a_bleed_gate_is_opened_beside_the_wanted_one_and_closed_with_it() -> None:
    bench = _planer_runs(frozenset({"tablesaw_gate"}))
    assert [target for _, target in bench.sent("tablesaw_gate")] == [True]
    bench.read(60.0, "planer", 8.0)
    bench.run_to(200.0)
    assert bench.sequence.phase is Phase.IDLE
    assert [target for _, target in bench.sent("tablesaw_gate")] == [True, False]


def test_a_bleed_gate_that_is_no_longer_needed_is_closed() -> None:
    bench = _planer_runs(frozenset({"tablesaw_gate"}))
    bench.sequence.bleed = frozenset()
    bench.shop.advance(bench.now)
    bench.run_to(90.0)
    assert bench.sequence.phase is Phase.COLLECTING
    assert [target for _, target in bench.sent("tablesaw_gate")] == [True, False]


def test_relief_alone_opens_nothing() -> None:
    bench = resting_bench()
    bench.sequence.bleed = frozenset({"tablesaw_gate"})
    bench.run_to(100.0)
    assert bench.sent("tablesaw_gate") == []
    assert bench.sent(COLLECTOR) == []


def test_nothing_waits_for_a_bleed_gate() -> None:
    plain = _planer_runs()
    bench = resting_bench()
    bench.devices["tablesaw_gate"].deaf = True
    bench.sequence.bleed = frozenset({"tablesaw_gate", "no such gate"})
    bench.read(10.0, "planer", 1450.0)
    bench.run_to(50.0)
    assert bench.sent(COLLECTOR) == plain.sent(COLLECTOR)


def test_the_shutoff_delay_is_as_long_as_the_ducts_need() -> None:
    bench = _planer_runs()
    bench.sequence.least_shutoff_delay = 40.0
    bench.read(60.0, "planer", 8.0)
    bench.run_to(200.0)
    # Stop confirmation and the usual shut-off delay of 15 s end at 79.
    assert bench.sent(COLLECTOR)[1] == (near(104.0, within=0.1), False)


def test_a_shorter_one_changes_nothing() -> None:
    bench = _planer_runs()
    bench.sequence.least_shutoff_delay = 1.0
    bench.read(60.0, "planer", 8.0)
    bench.run_to(200.0)
    assert bench.sent(COLLECTOR)[1] == (near(79.0), False)
