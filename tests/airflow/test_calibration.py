"""Fitting the shop: compared with SciPy, and with shops whose faults are known."""

from dataclasses import replace
from math import pi
from random import Random

from hypothesis import given, settings, strategies as st
import numpy as np
import pytest
from scipy.optimize import least_squares

from custom_components.gatewright.core.airflow import (
    AirflowError,
    Calibration,
    DuctSystem,
    Network,
    Sample,
    calibrate,
    calibrated,
    flow_by_hood_suction,
    flow_by_velocity,
    loss_breakdown,
    robust,
    solve,
)
from custom_components.gatewright.core.airflow.robust import fit
from custom_components.gatewright.core.airflow.units import INCH
from tests.airflow.reference_shop import MACHINES, reference_shop

NAMES = [row[0] for row in MACHINES]
SCALES = dict(zip(NAMES, (1.3, 0.9, 1.0, 1.2, 1.6, 1.1, 0.8, 1.4), strict=True))
FAN = 0.85


def real(fan: float = FAN) -> Network:
    """Return the real shop: a weaker fan, branches with other resistances."""
    return calibrated(Network(reference_shop()), fan, SCALES)


def gauge(network: Network, noise: float = 0.0) -> list[Sample]:
    """Read the suction gauge with each machine's gate open in turn."""
    random = Random(7)
    return [
        Sample(
            gates=frozenset({f"{name}_gate"}),
            suction=solve(network, {f"{name}_gate"}).suction
            * (1.0 + random.gauss(0.0, noise)),
        )
        for name in NAMES
    ]


def port(network: Network, name: str, off: float = 0.0) -> Sample:
    flow = solve(network, {f"{name}_gate"}).flow_of(name)
    return Sample(
        gates=frozenset({f"{name}_gate"}), pickup=name, flow=flow * (1.0 + off)
    )


def flow_errors(found: Calibration, really: Network) -> list[float]:
    """Return the relative errors of computed flows after calibration."""
    entered = Network(reference_shop())
    scales = {name: scale.value for name, scale in found.branches.items()}
    fitted = calibrated(entered, found.fan.value, scales)
    return [
        solve(fitted, {f"{name}_gate"}).flow_of(name)
        / solve(really, {f"{name}_gate"}).flow_of(name)
        - 1.0
        for name in NAMES
    ]


def test_a_gauge_and_one_port_settle_it() -> None:
    """Flows within 6 % where they were up to 20 % off as entered; 2 % in the middle."""
    really = real()
    entered = Network(reference_shop())
    off = [
        solve(entered, {f"{n}_gate"}).flow_of(n)
        / solve(really, {f"{n}_gate"}).flow_of(n)
        for n in NAMES
    ]
    assert max(off) > 1.15
    samples = [*gauge(really, 0.01), port(really, "planer"), port(really, "lathe")]
    found = calibrate(entered, samples)
    errors = sorted(map(abs, flow_errors(found, really)))
    assert errors[-1] < 0.06
    assert errors[len(errors) // 2] < 0.03
    assert found.fan.value == pytest.approx(FAN, abs=0.03)
    assert found.error_after < 0.4 * found.error_before
    for name, scale in found.branches.items():
        assert abs(scale.value / SCALES[name] - 1.0) < 3.0 * scale.error + 0.05


def test_the_gauge_alone_is_less_sure_and_says_so() -> None:
    really = real()
    entered = Network(reference_shop())
    alone = calibrate(entered, gauge(really))
    with_ports = calibrate(
        entered, [*gauge(really), *(port(really, name) for name in NAMES)]
    )
    assert alone.fan.error > 1.5 * with_ports.fan.error
    # The stated error is right: the fan lies within two of its uncertainties.
    assert abs(alone.fan.value / FAN - 1.0) < 2.0 * alone.fan.error
    assert max(map(abs, flow_errors(with_ports, really))) < 0.01


def test_a_slip_of_the_pen_is_found_out() -> None:
    really = real()
    entered = Network(reference_shop())
    ports = [port(really, name) for name in NAMES]
    spoiled = [*gauge(really), *ports[:-1], port(really, NAMES[-1], off=1.0)]
    found = calibrate(entered, spoiled)
    assert [s.doubtful for s in found.samples] == [False] * 15 + [True]
    assert max(map(abs, flow_errors(found, really)[:-1])) < 0.03


def test_a_shop_that_is_as_entered_keeps_its_figures() -> None:
    entered = Network(reference_shop())
    found = calibrate(entered, gauge(entered))
    assert found.fan.value == pytest.approx(1.0, abs=1e-3)
    assert all(
        scale.value == pytest.approx(1.0, abs=1e-3) for scale in found.branches.values()
    )
    assert found.error_before == pytest.approx(0.0, abs=1e-9)


def test_scales_stay_within_their_bounds() -> None:
    entered = Network(reference_shop())
    dead = calibrate(entered, [Sample(gates={"lathe_gate"}, suction=40.0)])
    assert 0.5 <= dead.fan.value <= 1.5
    assert 0.25 <= dead.branches["lathe"].value <= 6.0


def test_scaled_networks_are_whole() -> None:
    """Suction, flow and breakdown go together, and the fan's loss is what it gives."""
    network = real()
    solution = solve(network, {"planer_gate"}, tolerance=1e-9)
    steps = loss_breakdown(solution, "planer")
    assert steps[-1].total == pytest.approx(0.0, abs=0.01)
    plain = Network(reference_shop())
    assert solution.flow < solve(plain, {"planer_gate"}).flow
    # A fan scaled by hand gives the same.
    by_hand = scaled_by_hand(reference_shop(), FAN)
    same = solve(Network(by_hand).adjusted(scales=SCALES), {"planer_gate"})
    assert same.flow == pytest.approx(solution.flow, rel=1e-6)
    assert solve(plain.adjusted(fan=1.0), {"planer_gate"}).flow == pytest.approx(
        solve(plain, {"planer_gate"}).flow
    )


def scaled_by_hand(system: DuctSystem, share: float) -> DuctSystem:
    points = tuple((q, p * share) for q, p in system.fan.points)
    return replace(system, fan=replace(system.fan, points=points))


def test_readings_at_a_port() -> None:
    """Velocity times area; and what a manometer behind the hood means."""
    network = Network(reference_shop())
    area = pi / 4 * (4 * INCH) ** 2
    assert flow_by_velocity(network, "lathe", 20.0) == pytest.approx(20.0 * area)
    solution = solve(network, {"lathe_gate"})
    suction = solution.hood_suction("lathe")
    flow = flow_by_hood_suction(network, "lathe", suction)
    assert flow == pytest.approx(solution.flow_of("lathe"))


@pytest.mark.parametrize(
    "samples", [[], [Sample(gates={"lathe_gate"})], [Sample(gates=(), suction=-4.0)]]
)
def test_refusals(samples: list[Sample]) -> None:
    with pytest.raises(AirflowError) as caught:
        calibrate(Network(reference_shop()), samples)
    assert caught.value.code == "no_reading"


# The least squares themselves, beside SciPy's -----------------------------------------


def line(x: np.ndarray, a: float, b: float) -> np.ndarray:
    return a * np.exp(-b * x)


@given(
    a=st.floats(0.5, 3.0),
    b=st.floats(0.1, 2.0),
    outlier=st.floats(-2.0, 2.0),
    seed=st.integers(0, 1000),
)
@settings(max_examples=30, deadline=None)
def test_against_scipy(a: float, b: float, outlier: float, seed: int) -> None:
    """Huber's loss with bounds: the same cost, or lower, as SciPy's own."""
    random = np.random.default_rng(seed)
    x = np.linspace(0.0, 3.0, 12)
    y = line(x, a, b) + random.normal(0.0, 0.02, 12)
    y[4] += outlier

    def residuals(v: object) -> np.ndarray:
        one, other = np.asarray(v, dtype=float)
        left: np.ndarray = (y - line(x, one, other)) / 0.02
        return left

    low, high, start = [0.1, 0.01], [2.5, 3.0], [1.0, 0.5]
    ours = fit(lambda v: [float(r) for r in residuals(v)], start, low, high)
    theirs = least_squares(
        residuals, start, bounds=(low, high), loss="huber", f_scale=2.0
    )
    # SciPy's cost with f_scale C is C^2 / 2 rho((r/C)^2), the same as Huber's loss.
    assert ours.cost <= theirs.cost * (1 + 1e-3) + 1e-6
    assert ours.values == pytest.approx(theirs.x, rel=2e-2, abs=2e-3)


def test_deviations_are_those_of_the_textbook() -> None:
    """Of a straight line: the roots of the diagonal of (J'J)^-1, by NumPy."""
    x = np.arange(6.0)
    y = 2.0 + 0.5 * x
    found = fit(
        lambda v: [float(r) for r in (y - v[0] - v[1] * x)],
        [0.0, 0.0],
        [-9.0, -9.0],
        [9.0, 9.0],
    )
    jacobian = np.column_stack([np.ones(6), x])
    expected = np.sqrt(np.diag(np.linalg.inv(jacobian.T @ jacobian)))
    assert found.values == pytest.approx((2.0, 0.5), abs=1e-6)
    assert found.deviations == pytest.approx(expected, rel=1e-6)
    assert found.weights == (1.0,) * 6


def test_linear_equations_against_numpy() -> None:
    random = np.random.default_rng(1)
    for n in (1, 2, 5, 9):
        matrix = random.normal(size=(n, n))
        right = random.normal(size=n)
        ours = robust.solve(matrix.tolist(), right.tolist())
        assert ours == pytest.approx(np.linalg.solve(matrix, right), rel=1e-8)


def test_a_start_outside_its_bounds() -> None:
    with pytest.raises(AirflowError) as caught:
        fit(list, [5.0], [0.0], [1.0])
    assert caught.value.code == "bounds"
