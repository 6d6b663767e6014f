"""Solving is fast enough for every change of a gate; `benchmarks` has the figures.

Times are processor time of this thread, the best of several, taken in turn with a
yardstick: a busy or slow machine slows both.
"""

from collections.abc import Callable
from time import thread_time

import pytest

from benchmarks.airflow import bare, shop
from custom_components.gatewright.core.airflow import Network, pairs, solve
from tests.airflow import test_pandapipes

type Call = Callable[[], object]

MILLISECOND = 3.5
"""Yardsticks in a millisecond of the machine on which the goals were set."""


def yardstick() -> float:
    """Do what takes 0.28 ms on that machine: 10,000 additions."""
    total = 0.0
    for number in range(10_000):
        total += number * 0.5
    return total


def times_slower(call: Call, than: Call, tries: int) -> float:
    """Return how many times the processor time of another call one takes."""
    best = [float("inf"), float("inf")]
    for _ in range(tries):
        for place, each in enumerate((call, than)):
            start = thread_time()
            each()
            best[place] = min(best[place], thread_time() - start)
    return best[0] / best[1]


def every_gate(ducts: int) -> Call:
    network = Network(shop(ducts))
    gates = frozenset(network.gates)
    assert solve(network, gates).passes <= 6
    return lambda: solve(network, gates)


def test_twenty_ducts_and_two_hundred() -> None:
    """At most 0.5 ms, and no worse than in proportion."""
    small = every_gate(20)
    assert times_slower(small, yardstick, 200) <= 0.5 * MILLISECOND
    assert times_slower(every_gate(200), small, 50) <= 10.0


def test_all_pairs_of_twenty_machines() -> None:
    """190 assessments in 0.2 s; one at a time, so that nobody has to wait for all."""
    network = Network(shop(40))
    assert len(network.machines) == 20
    assert len(list(pairs(network))) == 190

    def assess() -> list[bool]:
        return [result.ok for _, result in pairs(network)]

    assert times_slower(assess, yardstick, 5) <= 200.0 * MILLISECOND


def test_thirty_times_faster_than_pandapipes() -> None:
    system = bare(20)
    network = Network(system)
    net, inlet = test_pandapipes.build(system)

    def theirs() -> None:
        test_pandapipes.run(net)

    def ours() -> None:
        # A hundred at a time: the clock of a thread is not fine enough for one.
        for _ in range(100):
            solve(network, ())

    assert times_slower(theirs, ours, 5) >= 30.0 / 100.0
    # And the same answer.
    pressure = -float(net.res_junction["p_bar"].loc[inlet]) * 1e5
    assert solve(network, ()).fan_pressure == pytest.approx(pressure, rel=5e-4)
