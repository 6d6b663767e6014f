"""The worksheet on a network: the way from wanted flows to the fan."""

from dataclasses import replace

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.gatewright.airflow import (
    AirflowError,
    Junction,
    Network,
    Outcome,
    design,
    solve,
)
from custom_components.gatewright.airflow.worksheet import (
    balance,
    corrected_flow,
    entry_coefficient,
    resultant_pressure,
)
from tests.airflow.shops import Case, cases, shop


def test_a_shop() -> None:
    network = Network(shop())
    wanted = {"saw_below": 0.11, "saw_above": 0.04, "planer": 0.22, "sander": 0.0}
    sheet = design(network, wanted)
    assert [line.duct for line in sheet.lines] == ["saw_drop", "middle"]
    at_saw = sheet.lines[0]
    assert at_saw.suctions.keys() == {"saw_below", "saw_above"}
    assert at_saw.governing == max(at_saw.suctions, key=at_saw.suctions.__getitem__)
    values = sorted(at_saw.suctions.values())
    assert at_saw.ratio == pytest.approx(values[1] / values[0])
    assert at_saw.outcome is balance(values[1], values[0])[1]
    # Only ever more than asked for, and the governing branch as asked for.
    for line in sheet.lines:
        for name, flow in line.flows.items():
            if name in wanted:
                assert flow >= wanted[name] * (1 - 1e-9)
        assert line.outcome in Outcome
    assert sheet.flow >= 0.37
    assert sheet.fan_pressure > 0
    # Without a collector's inlet the mean of what arrives is taken along.
    bare = design(Network(shop(inlet_diameter=None)), wanted)
    assert bare.flow == pytest.approx(sheet.flow)
    assert bare.suction <= sheet.suction


def test_one_pickup_needs_no_balance() -> None:
    # The sheet counts no static pressure as regained.
    network = Network(shop(regain=0.0))
    sheet = design(network, {"planer": 0.25})
    assert sheet.lines == ()
    solution = solve(network, {"planer_gate"}, flow=0.25, tolerance=1e-10)
    assert sheet.suction == pytest.approx(solution.suction, rel=1e-6)
    assert sheet.fan_pressure == pytest.approx(solution.fan_pressure, rel=1e-6)


@given(case=cases(most=15, junctions=(Junction.STATIC,), leaks=False))
@settings(max_examples=40)
def test_the_solved_flows_balance_on_the_sheet(case: Case) -> None:
    """Given the flows that the solver found, every junction is in balance already."""
    system = replace(case.system, regain=0.0)
    network = Network(system)
    solution = solve(network, case.open_gates, tolerance=1e-10)
    flows = dict(solution.pickups)
    if not flows:
        return
    sheet = design(network, flows)
    assert sheet.flow == pytest.approx(solution.flow, rel=1e-5)
    assert sheet.suction == pytest.approx(solution.suction, rel=1e-5)
    assert sheet.fan_pressure == pytest.approx(
        solution.fan_pressure, rel=1e-4, abs=0.01
    )
    assert all(line.ratio == pytest.approx(1.0, abs=1e-5) for line in sheet.lines)
    assert all(line.outcome is Outcome.ACCEPT for line in sheet.lines)


@given(ratio=st.floats(1.0, 2.0))
def test_thresholds_of_the_balance(ratio: float) -> None:
    """Below 1.05 accept, to 1.20 correct, above resize (ACGIH, memory)."""
    outcome = balance(ratio, 1.0)[1]
    if ratio < 1.05:
        assert outcome is Outcome.ACCEPT
    elif ratio <= 1.20:
        assert outcome is Outcome.CORRECT
    else:
        assert outcome is Outcome.RESIZE


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: design(Network(shop()), {"planer": 0.0}), "flow_range"),
        (lambda: design(Network(shop()), {"main": 0.1}), "unknown_element"),
        (lambda: design(Network(shop()), {"none": 0.1}), "unknown_element"),
        (lambda: balance(1.0, 2.0), "pressure_range"),
        (lambda: corrected_flow(1.0, 2.0, 0.0), "pressure_range"),
        (lambda: entry_coefficient(1.0, 0.0), "pressure_range"),
        (lambda: resultant_pressure((0.0, 1.0)), "flow_range"),
    ],
)
def test_refusals(call: object, code: str) -> None:
    assert callable(call)
    with pytest.raises(AirflowError) as caught:
        call()
    assert caught.value.code == code
