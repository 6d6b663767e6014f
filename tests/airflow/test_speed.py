from dataclasses import replace

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.airflow import (
    MARGIN,
    AirflowError,
    Fan,
    Filter,
    HoseState,
    Network,
    Reason,
    Seal,
    Verdict,
    assess,
    lowest_speed,
    solve,
    speed as speed_module,
)
from custom_components.gatewright.airflow.units import INCH
from tests.airflow.reference_shop import reference_shop
from tests.airflow.shops import FAN, shop
from tests.airflow.test_advice import narrow_main


def test_the_lowest_speed_just_does() -> None:
    network = Network(narrow_main())
    advice = lowest_speed(network, {"planer_gate"}, margin=1.0)
    assert advice.enough
    assert advice.verdict is Verdict.ENOUGH
    assert 0.4 < advice.speed < 1.0
    assert advice.assessment.solution.speed == advice.speed
    assert advice.assessment.ok
    # Just enough at that speed, not any more a percent below it.
    at = assess(network, {"planer_gate"}, speed=advice.speed * 1.0001)
    assert at.ok
    assert at.ratio == pytest.approx(1.0, abs=1e-3)
    below = assess(network, {"planer_gate"}, speed=advice.speed * 0.99)
    assert not below.ok
    assert advice.element in (*below.starved, *below.slow)
    assert advice.reason in {Reason.FLOW, Reason.VELOCITY}
    # Power goes with the cube of the speed, nearly.
    assert advice.power_ratio == pytest.approx(advice.speed**3, rel=0.05)


def test_flow_or_velocity_decides() -> None:
    system = narrow_main()
    slow = replace(
        system, pickups=tuple(replace(p, transport=0.0) for p in system.pickups)
    )
    by_flow = lowest_speed(Network(slow), {"planer_gate"})
    assert (by_flow.reason, by_flow.element) == (Reason.FLOW, "planer")
    calm = replace(
        system, pickups=tuple(replace(p, required=0.0) for p in system.pickups)
    )
    by_velocity = lowest_speed(Network(calm), {"planer_gate"}, margin=1.0)
    assert (by_velocity.reason, by_velocity.element) == (Reason.VELOCITY, "main")
    # A pickup's own wide hose may be what decides.
    hose = replace(
        calm,
        pickups=tuple(
            replace(p, pipes=(replace(p.pipes[0], diameter=0.148),))
            if p.id == "planer"
            else p
            for p in calm.pickups
        ),
    )
    by_hose = lowest_speed(Network(hose), {"planer_gate"}, margin=1.0)
    assert (by_hose.reason, by_hose.element) == (Reason.VELOCITY, "planer")


def test_margin() -> None:
    network = Network(narrow_main())
    plain = lowest_speed(network, {"planer_gate"}, margin=1.0)
    safe = lowest_speed(network, {"planer_gate"}, margin=1.05)
    assert safe.speed == pytest.approx(1.05 * plain.speed, rel=0.01)
    assert MARGIN >= 1.15
    usual = lowest_speed(network, {"planer_gate"}, ceiling=2.0)
    assert usual.assessment.ratio == pytest.approx(MARGIN, rel=1e-3)
    assert usual.verdict is Verdict.ENOUGH


def test_the_margin_is_what_a_worn_shop_takes() -> None:
    """A filter three times clean, relaxed hoses, gates that leak: all unknown to it.

    Without a margin the sander gets 270 of its 350 cfm while it is called enough; the
    usual one leaves 312, and once the shop is described as it is nothing is missing.
    """
    gates = {"disc_sander_gate"}

    def narrow(**changes: object) -> Network:
        system = reference_shop(**changes)  # type: ignore[arg-type]
        width = 4 * INCH
        ducts = tuple(replace(duct, diameter=width) for duct in system.ducts)
        return Network(replace(system, inlet_diameter=width, ducts=ducts))

    entered = narrow()
    worn = narrow(loading=3.0, state=HoseState.RELAXED, seal=Seal.USUAL)

    def left(network: Network, margin: float) -> float:
        speed = lowest_speed(network, gates, margin=margin).speed
        return assess(worn, gates, speed=speed).ratio

    assert left(entered, 1.0) == pytest.approx(0.77, abs=0.01)
    assert left(entered, MARGIN) == pytest.approx(0.89, abs=0.015)
    assert left(worn, 1.0) >= 0.995
    advice = lowest_speed(worn, gates)
    assert advice.enough
    assert advice.verdict in {Verdict.ENOUGH, Verdict.MARGINAL}


@given(floor=st.floats(0.1, 1.0))
def test_floor(floor: float) -> None:
    network = Network(narrow_main())
    free = lowest_speed(network, {"planer_gate"}, floor=0.1)
    advice = lowest_speed(network, {"planer_gate"}, floor=floor)
    assert advice.speed == pytest.approx(max(floor, free.speed), rel=1e-5)
    if floor > free.speed * 1.001:
        assert (advice.reason, advice.element) == (Reason.FLOOR, "")


def test_nothing_asked_for() -> None:
    network = Network(shop())
    advice = lowest_speed(network, {"sweep_gate"}, floor=0.5)
    assert (advice.speed, advice.reason, advice.enough) == (0.5, Reason.FLOOR, True)
    nothing = lowest_speed(network, (), floor=0.5)
    assert (nothing.speed, nothing.reason) == (0.5, Reason.FLOOR)
    assert nothing.power_ratio == 1.0


def test_even_full_speed_is_not_enough() -> None:
    network = Network(shop())
    advice = lowest_speed(network, network.gates)
    assert not advice.enough
    assert (advice.speed, advice.reason) == (1.0, Reason.CEILING)
    assert advice.element
    faster = lowest_speed(network, network.gates, ceiling=3.0)
    assert faster.enough
    assert 1.0 < faster.speed < 3.0


def test_power_by_the_fans_own_curve() -> None:
    fan = Fan(
        points=FAN.points,
        kind="static",
        power=((0.0, 700.0), (0.4, 1500.0), (0.75, 2200.0)),
    )
    network = Network(replace(narrow_main(), fan=fan))
    advice = lowest_speed(network, {"planer_gate"})
    solution = advice.assessment.solution
    full = solve(network, {"planer_gate"})
    density = network.system.air.density
    shaft = fan.shaft_power(solution.flow, speed=advice.speed, density=density)
    at_full = fan.shaft_power(full.flow, density=density)
    assert shaft is not None
    assert at_full is not None
    assert advice.power_ratio == pytest.approx(shaft / at_full)


def test_a_clogged_filter_makes_flow_fall_faster_than_speed() -> None:
    """Where the loss goes with the flow, not its square; still found, and quickly."""
    system = narrow_main()
    pickups = tuple(replace(p, required=0.001, transport=0.0) for p in system.pickups)
    clogged = Filter(resistance=60_000.0)
    network = Network(replace(system, pickups=pickups, filter=clogged))
    advice = lowest_speed(network, {"planer_gate"}, floor=0.01, margin=1.0)
    assert advice.enough
    assert advice.assessment.ok
    assert advice.assessment.solution.flow == pytest.approx(0.001, rel=1e-4)


def test_few_steps_are_near_already(monkeypatch: pytest.MonkeyPatch) -> None:
    network = Network(narrow_main())
    exact = lowest_speed(network, {"planer_gate"})
    monkeypatch.setattr(speed_module, "MAX_STEPS", 1)
    near = lowest_speed(network, {"planer_gate"})
    assert near.speed == pytest.approx(exact.speed, rel=0.02)


@pytest.mark.parametrize(
    "limits", [{"floor": 0.0}, {"floor": 1.2}, {"margin": 0.0}], ids=str
)
def test_refusals(limits: dict[str, float]) -> None:
    with pytest.raises(AirflowError) as caught:
        lowest_speed(Network(shop()), {"planer_gate"}, **limits)
    assert caught.value.code == "fan_speed"
