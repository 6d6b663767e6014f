from itertools import pairwise

from hypothesis import given, strategies as st
import pytest
from scipy.interpolate import PchipInterpolator

from custom_components.gatewright.core.airflow.curve import Curve
from custom_components.gatewright.core.airflow.errors import AirflowError
from custom_components.gatewright.core.airflow.fan import GENERIC_SHAPE, Fan
from tests.airflow.shops import FAN

# Cengel and Cimbala, Table 14-1 (read): cfm and in. w.g. of a small centrifugal fan.
TABLE = [(0, 0.90), (250, 0.95), (500, 0.90), (750, 0.75), (1000, 0.40), (1200, 0.0)]


def test_generic_shape_is_the_published_table() -> None:
    for (flow, pressure), (cfm, inches) in zip(GENERIC_SHAPE, TABLE, strict=True):
        assert flow == pytest.approx(cfm / 1200)
        assert pressure == pytest.approx(inches / 0.95)
    # As printed, to three places.
    assert [round(p, 3) for _, p in GENERIC_SHAPE] == [
        0.947,
        1.0,
        0.947,
        0.789,
        0.421,
        0.0,
    ]


@given(
    steps=st.lists(
        st.tuples(st.floats(0.01, 2.0), st.floats(-3.0, 3.0)), min_size=1, max_size=8
    ),
    share=st.floats(0.0, 1.0),
)
def test_curve_is_scipys_monotone_cubic(
    steps: list[tuple[float, float]], share: float
) -> None:
    xs, ys = [0.0], [1.0]
    for width, rise in steps:
        xs.append(xs[-1] + width)
        ys.append(ys[-1] + rise)
    at = share * xs[-1]
    theirs = PchipInterpolator(xs, ys)
    value, slope = Curve(xs, ys).at(at)
    assert value == pytest.approx(float(theirs(at)), abs=1e-9)
    if 0.0 < at < xs[-1]:
        assert slope == pytest.approx(float(theirs.derivative()(at)), abs=1e-6)


def test_quadratic_fan_is_exact() -> None:
    fan = Fan.quadratic(2200.0, 2592.0)
    for flow in (0.0, 0.1, 0.5, 0.9):
        assert fan.pressure(flow) == pytest.approx(2200.0 - 2592.0 * flow**2, abs=1e-9)
    assert fan.free_flow == pytest.approx((2200.0 / 2592.0) ** 0.5)


def test_beyond_the_points() -> None:
    """Level below the first point, straight on beyond the last."""
    fan = Fan(points=((0.1, 1000.0), (0.2, 900.0), (0.3, 600.0)))
    assert fan.pressure(0.05) == fan.pressure(0.1) == 1000.0
    slope = fan.curve.end_slope
    assert slope <= (600.0 - 900.0) / 0.1
    assert fan.pressure(0.35) == pytest.approx(600.0 + 0.05 * slope)
    assert fan.pressure(fan.free_flow) == pytest.approx(0.0, abs=1e-9)
    assert fan.pressure(1.0) < 0.0


def test_free_air_flow_and_maximum_suction() -> None:
    parabola = Fan.from_free_air(0.5, 2000.0)
    assert parabola.kind == "static"
    assert parabola.pressure(0.0) == pytest.approx(2000.0)
    assert parabola.pressure(0.25) == pytest.approx(1500.0)
    assert parabola.pressure(0.5) == pytest.approx(0.0, abs=1e-9)
    generic = Fan.from_free_air(0.5, 2000.0, shape="generic")
    assert generic.peak == pytest.approx((0.5 * 250 / 1200, 2000.0))
    assert generic.free_flow == pytest.approx(0.5)
    # The measured shape promises about a third more where a collector works.
    working = 0.5 * 0.75
    ratio = generic.pressure(working) / parabola.pressure(working)
    assert 1.2 < ratio < 1.5


@given(speed=st.floats(0.2, 1.5), density=st.floats(0.8, 1.4), flow=st.floats(0.0, 0.8))
def test_fan_laws(speed: float, density: float, flow: float) -> None:
    """Q ~ N, p ~ rho N^2, W ~ rho N^3; as an argument and as a scaled fan alike."""
    fan = Fan(points=FAN.points, power=((0.0, 400.0), (0.4, 1200.0), (0.75, 1900.0)))
    ratio = density / fan.density
    rated = fan.pressure(flow)
    assert fan.pressure(flow * speed, speed=speed, density=density) == pytest.approx(
        rated * ratio * speed**2, abs=1e-6
    )
    scaled = fan.scaled(speed=speed, density=density)
    assert scaled.pressure(flow * speed) == pytest.approx(
        rated * ratio * speed**2, abs=1e-6
    )
    power = fan.shaft_power(flow)
    assert power is not None
    by_argument = fan.shaft_power(flow * speed, speed=speed, density=density)
    assert by_argument == pytest.approx(power * ratio * speed**3)
    assert scaled.shaft_power(flow * speed) == pytest.approx(power * ratio * speed**3)


def test_a_larger_wheel() -> None:
    """Q ~ D^3, p ~ D^2, W ~ D^5."""
    fan = Fan(points=FAN.points, kind="static", outlet_diameter=0.2, power=FAN.points)
    larger = fan.scaled(size=1.2)
    assert larger.points[1][0] == pytest.approx(fan.points[1][0] * 1.2**3)
    assert larger.points[1][1] == pytest.approx(fan.points[1][1] * 1.2**2)
    assert larger.power[1][1] == pytest.approx(fan.power[1][1] * 1.2**5)
    assert larger.outlet_diameter == pytest.approx(0.24)
    quadratic = Fan.quadratic(1000.0, 4000.0).scaled(speed=0.5)
    assert quadratic.pressure(0.1) == pytest.approx(250.0 - 4000.0 * 0.01)


def test_static_curve_with_an_outlet_regains_its_velocity_pressure() -> None:
    bare = Fan(points=FAN.points, kind="static")
    outlet = Fan(points=FAN.points, kind="static", outlet_diameter=0.16)
    total = Fan(points=FAN.points, outlet_diameter=0.16)
    flow = 0.4
    velocity = flow / (0.7853981634 * 0.16**2)
    assert outlet.pressure(flow) - bare.pressure(flow) == pytest.approx(
        0.6 * velocity**2
    )
    assert total.pressure(flow) == bare.pressure(flow)


def test_power_is_unknown_without_points() -> None:
    assert FAN.shaft_power(0.3) is None


@given(
    quadratic=st.floats(10.0, 1e7), linear=st.floats(0.0, 5000.0), guess=st.floats(0, 1)
)
def test_operating_point_lies_on_both(
    quadratic: float, linear: float, guess: float
) -> None:
    flow = FAN.operating_flow(quadratic, linear, guess)
    assert flow > 0.0
    assert FAN.pressure(flow) == pytest.approx(
        quadratic * flow**2 + linear * flow, rel=1e-6, abs=1e-3
    )


def test_of_several_crossings_the_largest_flow_counts() -> None:
    """A deep dip below the peak gives three; the outer one is the stable one."""
    fan = Fan(points=((0.0, 400.0), (0.2, 380.0), (0.5, 2000.0), (0.8, 0.0)))
    a, b = 200.0, 2300.0
    flows = [q / 1000 for q in range(1, 800)]
    signs = [fan.pressure(q) > a * q * q + b * q for q in flows]
    crossings = sum(one != other for one, other in pairwise(signs))
    assert crossings == 3
    flow = fan.operating_flow(a, b)
    assert flow > 0.5
    # Even where the search starts at one of the others.
    assert fan.operating_flow(a, b, 0.15) == pytest.approx(flow)
    # Or where the curve climbs more steeply than the system.
    assert fan.operating_flow(a, b, 0.35) == pytest.approx(flow)
    assert fan.crest == 0.5


def test_below_the_first_point() -> None:
    """Hardly any flow through a very tight system: the first pressure holds."""
    fan = Fan(points=((0.1, 1000.0), (0.2, 900.0), (0.3, 600.0)))
    flow = fan.operating_flow(1e6)
    assert flow == pytest.approx((1000.0 / 1e6) ** 0.5)


def test_beyond_the_last_point_and_never() -> None:
    fan = Fan(points=((0.0, 1000.0), (0.3, 800.0)))
    flow = fan.operating_flow(100.0)
    assert flow > 0.3
    assert fan.pressure(flow) == pytest.approx(100.0 * flow * flow)
    with pytest.raises(AirflowError) as caught:
        fan.operating_flow(-1e9)
    assert caught.value.code == "no_operating_point"


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: Fan(points=((0.0, 1.0),)), "fan_points"),
        (lambda: Fan(points=((0.0, 1.0), (0.0, 0.5))), "fan_flows"),
        (lambda: Fan(points=((-0.1, 1.0), (0.1, 0.5))), "fan_flows"),
        (lambda: Fan(points=((0.0, 1.0), (0.1, -0.5))), "fan_pressures"),
        (lambda: Fan(points=((0.0, 0.0), (0.1, 0.0))), "fan_pressures"),
        (lambda: Fan(points=((0.0, 1.0), (0.1, 2.0))), "fan_end"),
        (lambda: Fan(points=((0.0, 1.0), (0.1, 0.5)), slopes=(0.0,)), "fan_slopes"),
        (lambda: Fan(points=((0.0, 1.0), (0.1, 0.5)), density=9.0), "air_range"),
        (
            lambda: Fan(points=((0.0, 1.0), (0.1, 0.5)), outlet_diameter=9.0),
            "diameter_range",
        ),
        (lambda: Fan.from_free_air(0.0, 100.0), "fan_free_air"),
        (lambda: Fan.quadratic(1.0, 0.0), "fan_pressures"),
        (lambda: FAN.scaled(speed=0.0), "fan_speed"),
        (lambda: FAN.pressure(0.1, speed=0.0), "fan_speed"),
    ],
)
def test_refusals(call: object, code: str) -> None:
    assert callable(call)
    with pytest.raises(AirflowError) as caught:
        call()
    assert caught.value.code == code
