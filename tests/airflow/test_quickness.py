"""Quick enough to solve on every change of a gate; `benchmarks` has the figures.

The best of several tries is taken, which other load on the machine hardly touches.
"""

from collections.abc import Callable
from time import perf_counter

import pytest

from benchmarks.airflow import bare, shop
from custom_components.gatewright.airflow import Network, pairs
from tests.airflow import test_pandapipes


def best(call: Callable[[], object], tries: int) -> float:
    times: list[float] = []
    for _ in range(tries):
        start = perf_counter()
        call()
        times.append(perf_counter() - start)
    return min(times)


def every_gate(ducts: int) -> Callable[[], object]:
    network = Network(shop(ducts))
    gates = frozenset(network.gates)
    assert network.solve(gates).passes <= 6
    return lambda: network.solve(gates)


def test_twenty_ducts_and_two_hundred() -> None:
    """At most 0.5 ms, and no worse than in proportion."""
    small = best(every_gate(20), 200)
    large = best(every_gate(200), 50)
    assert small <= 0.5e-3
    assert large <= 10.0 * small


def test_all_pairs_of_twenty_machines() -> None:
    """190 assessments in 0.2 s; one at a time, so that nobody has to wait for all."""
    network = Network(shop(40))
    assert len(network.machines) == 20
    assert len(list(pairs(network))) == 190
    assert best(lambda: [result.ok for _, result in pairs(network)], 5) <= 0.2


def test_thirty_times_faster_than_pandapipes() -> None:
    system = bare(20)
    network = Network(system)
    net, inlet = test_pandapipes.build(system)
    theirs = best(lambda: test_pandapipes.run(net), 5)
    assert best(lambda: network.solve(()), 100) * 30.0 <= theirs
    # And the same answer.
    pressure = -float(net.res_junction["p_bar"].loc[inlet]) * 1e5
    assert network.solve(()).fan_pressure == pytest.approx(pressure, rel=5e-4)
