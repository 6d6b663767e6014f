"""Faults put into the shop, and whether the readings tell them."""

from dataclasses import replace

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.airflow import (
    CAUSES,
    AirflowError,
    Filter,
    Finding,
    Network,
    Pickup,
    Solution,
    System,
    diagnose,
)
from custom_components.gatewright.airflow.diagnosis import implied_flow
from tests.airflow.shops import FAN, shop

GATES = {"planer_gate"}


def faulty(system: System, speed: float = 1.0) -> Solution:
    """Return what a shop with a fault really does."""
    return Network(system).solve(GATES, speed=speed)


def blocked() -> Solution:
    system = shop()
    return faulty(
        replace(
            system,
            ducts=tuple(
                replace(d, extra_k=12.0) if d.id == "far" else d for d in system.ducts
            ),
        )
    )


def leaking() -> Solution:
    """Return the shop with a clean-out left open on the main."""
    system = shop()
    hole = Pickup(id="hole", duct="main", entry_k=1.8)
    return faulty(replace(system, pickups=(*system.pickups, hole)))


def weak() -> Solution:
    return faulty(shop(), speed=0.75)


def loaded() -> Solution:
    return faulty(shop(filter=Filter.from_point(0.3, 200.0, loading=6.0)))


def torn() -> Solution:
    return faulty(shop(filter=Filter.from_point(0.3, 100.0)))


@pytest.mark.parametrize(
    ("fault", "with_filter", "with_flow", "finding"),
    [
        (blocked, False, False, Finding.BLOCKED),
        (blocked, True, False, Finding.BLOCKED),
        (blocked, True, True, Finding.BLOCKED),
        (leaking, True, False, Finding.LEAK),
        (leaking, False, True, Finding.LEAK),
        (weak, True, False, Finding.WEAK_FAN),
        (weak, False, True, Finding.WEAK_FAN),
        (loaded, True, False, Finding.FILTER_LOADED),
        (loaded, True, True, Finding.FILTER_LOADED),
        (torn, True, True, Finding.FILTER_PASSES),
        (torn, True, False, Finding.FILTER_PASSES),
    ],
)
def test_faults(
    fault: object, with_filter: bool, with_flow: bool, finding: Finding
) -> None:
    assert callable(fault)
    really: Solution = fault()
    found = diagnose(
        Network(shop()),
        GATES,
        suction=really.suction,
        filter_difference=really.filter_pressure if with_filter else None,
        flow=really.flow if with_flow else None,
    )
    assert found.findings == (finding,)
    assert found.causes == CAUSES[finding]
    assert found.solution.flow != pytest.approx(really.flow, rel=1e-3)


def test_a_leak_and_a_weak_fan_look_the_same_to_one_gauge() -> None:
    for fault in (leaking, weak):
        found = diagnose(Network(shop()), GATES, suction=fault().suction)
        assert found.findings == (Finding.LEAK, Finding.WEAK_FAN)
        assert found.causes == (*CAUSES[Finding.LEAK], *CAUSES[Finding.WEAK_FAN])


@given(error=st.floats(-0.1, 0.1))
def test_a_healthy_shop(error: float) -> None:
    network = Network(shop())
    solution = network.solve(GATES)
    found = diagnose(
        network,
        GATES,
        suction=solution.suction * (1 + error),
        filter_difference=solution.filter_pressure,
        flow=solution.flow,
    )
    assert found.findings == (Finding.AS_EXPECTED,)
    assert found.suction_ratio == pytest.approx(1 + error)
    assert found.filter_ratio == pytest.approx(1.0)
    assert found.flow_ratio == pytest.approx(1.0)
    assert found.loading == pytest.approx(1.0)
    assert found.causes == ()


def test_flow_implied_by_the_suction() -> None:
    """Higher up its curve the fan moves less; the flow can be read off the suction."""
    network = Network(shop())
    solution = network.solve(GATES)
    same = implied_flow(solution, solution.suction)
    assert same == pytest.approx(solution.flow, rel=1e-6)
    really = blocked()
    found = diagnose(network, GATES, suction=really.suction)
    assert found.implied_flow == pytest.approx(really.flow, rel=0.05)
    assert found.suction_ratio is not None
    assert found.suction_ratio > 1.15
    assert found.filter_ratio is None
    assert found.loading is None
    # More than the fan can give at any flow.
    high = diagnose(network, GATES, suction=4000.0)
    assert high.implied_flow is None
    assert (
        diagnose(network, GATES, suction=really.suction, speed=0.9).solution.speed
        == 0.9
    )


def test_loading_of_the_filter() -> None:
    network = Network(shop())
    really = loaded()
    both = diagnose(
        network, GATES, filter_difference=really.filter_pressure, flow=really.flow
    )
    assert both.loading == pytest.approx(6.0)
    assert both.findings == (Finding.FILTER_LOADED,)
    by_suction = diagnose(
        network,
        GATES,
        suction=really.suction,
        filter_difference=really.filter_pressure,
    )
    assert by_suction.loading == pytest.approx(6.0, rel=0.02)
    alone = diagnose(network, GATES, filter_difference=really.filter_pressure)
    assert alone.findings == (Finding.FILTER_LOADED,)
    assert alone.loading is not None
    assert alone.loading < 6.0


def readings(flow: float | None, through: float | None) -> tuple[Finding, ...]:
    """Return the findings of readings as shares of what is expected, no suction."""
    network = Network(shop())
    solution = network.solve(GATES)
    return diagnose(
        network,
        GATES,
        flow=None if flow is None else flow * solution.flow,
        filter_difference=(
            None if through is None else through * solution.filter_pressure
        ),
    ).findings


def test_without_a_suction_gauge() -> None:
    assert readings(1.0, None) == (Finding.AS_EXPECTED,)
    assert readings(1.3, None) == (Finding.LEAK,)
    assert readings(0.6, None) == (Finding.BLOCKED, Finding.WEAK_FAN)
    assert readings(None, 1.0) == (Finding.AS_EXPECTED,)
    assert readings(None, 2.0) == (Finding.FILTER_LOADED,)
    assert readings(None, 0.5) == (
        Finding.BLOCKED,
        Finding.WEAK_FAN,
        Finding.FILTER_PASSES,
    )
    assert readings(1.0, 0.5) == (Finding.FILTER_PASSES,)


def test_readings_that_cannot_be() -> None:
    network = Network(shop())
    solution = network.solve(GATES)
    both_high = diagnose(
        network, GATES, suction=1.4 * solution.suction, flow=1.4 * solution.flow
    )
    assert both_high.findings == (Finding.IMPLAUSIBLE,)
    wrong_way = diagnose(network, GATES, suction=-500.0)
    assert wrong_way.findings == (Finding.IMPLAUSIBLE,)
    assert wrong_way.causes == ("sensor", "fan_data")
    still = diagnose(network, GATES, flow=0.0, filter_difference=0.0)
    assert still.findings == (Finding.BLOCKED, Finding.WEAK_FAN)


def test_every_finding_has_its_causes() -> None:
    assert set(CAUSES) == set(Finding)


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: diagnose(Network(shop()), GATES), "no_reading"),
        (
            lambda: diagnose(Network(shop(filter=None)), GATES, filter_difference=1.0),
            "no_filter",
        ),
        (lambda: diagnose(Network(shop()), (), suction=1.0), "no_flow"),
    ],
)
def test_refusals(call: object, code: str) -> None:
    assert callable(call)
    with pytest.raises(AirflowError) as caught:
        call()
    assert caught.value.code == code


def test_without_a_filter() -> None:
    network = Network(shop(filter=None, fan=FAN))
    solution = network.solve(GATES)
    found = diagnose(network, GATES, suction=solution.suction)
    assert found.findings == (Finding.AS_EXPECTED,)
