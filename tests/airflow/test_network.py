from dataclasses import replace
from math import pi
import pathlib
import subprocess
import sys

import pytest

from custom_components.gatewright.core import airflow
from custom_components.gatewright.core.airflow import (
    Air,
    AirflowError,
    Discharge,
    Duct,
    DuctSystem,
    Elbow,
    Fan,
    Filter,
    InvalidSystem,
    Junction,
    Network,
    Pickup,
    Pipe,
    Separator,
    SlideGate,
    StepKind,
    hose,
    loss_breakdown,
    loss_shares,
    problems,
    solve,
    solver,
)
from custom_components.gatewright.core.airflow.fittings import slide_gate
from custom_components.gatewright.core.airflow.friction import friction_factor
from tests.airflow.shops import FAN, shop


def simple(**changes: object) -> DuctSystem:
    """Return two pickups behind gates on one main."""
    parts: dict[str, object] = {
        "ducts": (
            Duct(id="main", diameter=0.15, length=4.0),
            Duct(id="side", into="main", diameter=0.1, length=2.0, entry_angle=30.0),
        ),
        "pickups": (
            Pickup(id="a", duct="main", gate=SlideGate(id="ga"), machine="one"),
            Pickup(id="b", duct="side", gate=SlideGate(id="gb"), machine="two"),
            Pickup(id="c", duct="side", gate=SlideGate(id="gc"), machine="two"),
        ),
        "fan": FAN,
    }
    return DuctSystem(**(parts | changes))  # type: ignore[arg-type]


def test_one_hood_by_hand() -> None:
    """Everything on one way, added up with pencil and paper."""
    d, flow, rho, mu = 0.125, 0.25, 1.2, 1.81e-5
    system = DuctSystem(
        ducts=(
            Duct(
                id="duct",
                diameter=d,
                length=6.0,
                roughness=9e-5,
                elbows=(Elbow(angle=60.0, count=2), Elbow(construction="mitered")),
                extra_k=0.3,
            ),
        ),
        pickups=(
            Pickup(
                id="hood",
                duct="duct",
                entry_k=0.65,
                pipes=(
                    Pipe(diameter=0.1, length=1.0, roughness=9e-4),
                    Pipe(diameter=0.16),
                ),
                gate=SlideGate(id="gate", allowance=0.2),
            ),
        ),
        fan=Fan.quadratic(3000.0, 1.0),
        air=Air(density=rho, viscosity=mu),
        separator=Separator.from_point(0.3, 400.0, density=1.0),
        filter=Filter.from_point(0.3, 250.0, loading=2.0),
        inlet_diameter=0.15,
    )
    solution = solve(Network(system), {"gate"}, flow=flow)

    def pressure(diameter: float) -> float:
        return 0.5 * rho * (flow / (pi / 4 * diameter**2)) ** 2

    def factor(diameter: float, rough: float) -> float:
        speed = flow / (pi / 4 * diameter**2)
        return friction_factor(rho * speed * diameter / mu, rough / diameter)

    reynolds = rho * flow / (pi / 4 * d) / mu
    assert reynolds > 140_000
    hood = 0.65 * pressure(0.1)
    hose = factor(0.1, 9e-4) * 1.0 / 0.1 * pressure(0.1)
    # Borda-Carnot: the velocity pressure of the change of velocity.
    widening = pressure(0.1) * (1 - (0.1 / 0.16) ** 2) ** 2
    gate = 0.2 * pressure(0.16)
    # A stamped elbow of 125 mm: 0.16 (ASHRAE CD3-1).
    duct = (factor(d, 9e-5) * 6.0 / d + 2 * 0.16 * 0.78 + 1.2 + 0.3) * pressure(d)
    static_loss = hood + hose + widening + gate + duct
    # The duct speeds the air up, the inlet slows it down and regains a part.
    slower = 2 * pressure(d) * (d / 0.15) ** 2 * (1 - (d / 0.15) ** 2)
    assert solution.suction_at("duct") == pytest.approx(static_loss + pressure(d))
    at_inlet = static_loss + pressure(d) - slower
    assert solution.suction == pytest.approx(at_inlet)
    assert solution.inlet_velocity_pressure == pytest.approx(pressure(0.15))
    separator = 400.0 * (flow / 0.3) ** 2 * rho / 1.0
    through = 250.0 * flow / 0.3 * 2.0
    assert solution.separator_pressure == pytest.approx(separator)
    assert solution.filter_pressure == pytest.approx(through)
    assert solution.fan_pressure == pytest.approx(
        solution.suction - pressure(0.15) + separator + through
    )
    assert solution.fan_inlet_suction == pytest.approx(solution.suction + separator)
    assert solution.hood_suction("hood") == pytest.approx(1.65 * pressure(0.1))
    assert solution.slowest_velocity("hood") == pytest.approx(flow / (pi / 4 * 0.16**2))
    assert solution.duct_velocity("hood") == solution.slowest_velocity("hood")
    assert solution.air_power == pytest.approx(flow * solution.fan_pressure)

    steps = loss_breakdown(solution, "hood")
    assert [(s.kind, s.element) for s in steps] == [
        (StepKind.HOOD, "hood"),
        (StepKind.HOSE, "hood"),
        (StepKind.WIDENING, "hood"),
        (StepKind.GATE, "hood"),
        (StepKind.FRICTION, "duct"),
        (StepKind.ELBOWS, "duct"),
        (StepKind.OTHER, "duct"),
        (StepKind.INLET, ""),
        (StepKind.SEPARATOR, ""),
        (StepKind.FAN, ""),
        (StepKind.FILTER, ""),
    ]
    by_kind = {(s.kind, s.element): s for s in steps}
    assert by_kind[StepKind.HOOD, "hood"].loss == pytest.approx(hood)
    assert by_kind[StepKind.HOOD, "hood"].coefficient == pytest.approx(0.65)
    assert by_kind[StepKind.HOOD, "hood"].static == pytest.approx(-1.65 * pressure(0.1))
    assert by_kind[StepKind.HOSE, "hood"].loss == pytest.approx(hose)
    assert by_kind[StepKind.WIDENING, "hood"].loss == pytest.approx(widening)
    # Where the pipe widens static pressure is regained.
    share = (0.1 / 0.16) ** 2
    assert by_kind[StepKind.WIDENING, "hood"].static == pytest.approx(
        by_kind[StepKind.HOSE, "hood"].static + 2 * pressure(0.1) * share * (1 - share)
    )
    assert by_kind[StepKind.ELBOWS, "duct"].coefficient == pytest.approx(1.4496)
    assert by_kind[StepKind.INLET, ""].loss == pytest.approx(
        pressure(d) * (1 - (d / 0.15) ** 2) ** 2
    )
    assert steps[-1].total == pytest.approx(0.0, abs=1e-6)
    assert (
        next(kind for kind, _, _ in loss_shares(loss_breakdown(solution, "hood")))
        is StepKind.FILTER
    )
    assert sum(
        share for _, _, share in loss_shares(loss_breakdown(solution, "hood"))
    ) == pytest.approx(1.0)


def test_separator_behind_the_fan() -> None:
    network = Network(shop(separator_first=False))
    solution = solve(network, {"planer_gate"})
    assert solution.fan_inlet_suction == solution.suction
    kinds = [s.kind for s in loss_breakdown(solution, "planer")]
    assert kinds.index(StepKind.FAN) < kinds.index(StepKind.SEPARATOR)
    before = solve(Network(shop()), {"planer_gate"})
    assert solution.flow == pytest.approx(before.flow)


@pytest.mark.parametrize("regain", [None, 0.0, 0.5, 1.0])
def test_fan_outlet_and_stack(regain: float | None) -> None:
    """A fan with its outlet's velocity pressure counted, into a wider stack."""
    system = simple(
        fan=Fan(points=FAN.points, kind="static", outlet_diameter=0.14),
        discharge=Discharge(
            pipe=Pipe(diameter=0.2, length=3.0, elbows=(Elbow(),), extra_k=0.2),
            exit_k=1.1,
        ),
        regain=regain,
    )
    solution = solve(Network(system), {"ga"}, tolerance=1e-9)

    def pressure(diameter: float) -> float:
        return 0.6 * (solution.flow / (pi / 4 * diameter**2)) ** 2

    steps = {(s.kind, s.element): s for s in loss_breakdown(solution, "a")}
    stack = steps[StepKind.EXIT, ""]
    assert stack.loss == pytest.approx(1.1 * pressure(0.2))
    assert stack.total == pytest.approx(0.0, abs=1e-4)
    assert stack.static == stack.total
    lost = pressure(0.14) * (1 - (0.14 / 0.2) ** 2) ** 2
    if regain is not None:
        lost = (1 - regain) * (pressure(0.14) - pressure(0.2))
    if regain != 1:
        assert steps[StepKind.OUTLET, ""].loss == pytest.approx(lost)
    else:
        assert (StepKind.OUTLET, "") not in steps
    fan = steps[StepKind.FAN, ""]
    assert fan.total - fan.static == pytest.approx(pressure(0.14))
    # Stamped, 200 mm: 0.11 (ASHRAE CD3-1).
    assert steps[StepKind.ELBOWS, ""].loss == pytest.approx(0.11 * pressure(0.2))
    assert steps[StepKind.OTHER, ""].loss == pytest.approx(0.2 * pressure(0.2))
    assert solution.discharge_pressure > stack.loss


def test_branch_with_and_without_regain() -> None:
    """A fast branch into a slow main: the rest of its speed is lost, or regained."""
    lost = solve(Network(simple(regain=0.0)), {"gb"})
    regained = solve(Network(simple(regain=1.0)), {"gb"})
    usual = solve(Network(simple()), {"gb"})
    assert regained.flow > usual.flow > lost.flow
    at_junction = {s.kind: s for s in loss_breakdown(lost, "b") if s.element == "main"}
    junction = at_junction[StepKind.JUNCTION]
    side, main = (
        0.6 * lost.duct_velocity("side") ** 2,
        0.6 * lost.duct_velocity("main") ** 2,
    )
    assert junction.loss == pytest.approx(side - main, rel=1e-4)
    kinds = {s.kind for s in loss_breakdown(regained, "b") if s.element == "main"}
    assert StepKind.JUNCTION not in kinds
    # Borda-Carnot for a single live branch: the velocity pressure of the change.
    (step,) = (
        s
        for s in loss_breakdown(usual, "b")
        if s.element == "main" and s.kind is StepKind.JUNCTION
    )
    change = usual.duct_velocity("side") - usual.duct_velocity("main")
    assert step.loss == pytest.approx(0.6 * change**2, rel=1e-4)


def test_a_single_branch_into_a_wide_main() -> None:
    """Without regain the junction takes 17 % of the fan; by Borda-Carnot 11 %.

    Each stream loses the velocity pressure of its own change of velocity, so a
    trickle from a leaking gate beside the one that is open changes next to nothing.
    """
    bends = (Elbow(count=2),)
    main = Duct(id="main", diameter=0.2, length=10.0, elbows=bends)
    side = Duct(
        id="side", into="main", diameter=0.1, length=5.0, entry_angle=30, elbows=bends
    )
    pickups = tuple(
        replace(p, pipes=(hose(0.1, 2.0),)) if p.id == "b" else p
        for p in simple().pickups
    )
    system = simple(
        ducts=(main, side),
        pickups=pickups,
        filter=Filter.from_point(0.3, 300.0),
        separator=Separator.from_point(0.3, 500.0),
    )

    def taken(regain: float | None) -> float:
        shares = loss_shares(
            loss_breakdown(solve(Network(replace(system, regain=regain)), {"gb"}), "b")
        )
        return sum(s for kind, e, s in shares if kind is StepKind.JUNCTION and e)

    assert taken(0.0) == pytest.approx(0.169, abs=0.001)
    assert taken(None) == pytest.approx(0.109, abs=0.001)
    tight = solve(Network(system), {"gb"})
    leaky = replace(
        system,
        pickups=tuple(
            replace(p, gate=p.gate and replace(p.gate, leak_area=1e-7))
            if p.id == "a"
            else p
            for p in system.pickups
        ),
    )
    beside = solve(Network(leaky), {"gb"})
    assert "a" in beside.pickups
    assert beside.flow == pytest.approx(tight.flow, rel=1e-3)


def test_streams_lose_their_change_of_velocity() -> None:
    """Weighted by flow the losses of a junction are those of its streams."""
    fast = Duct(id="fast", into="main", diameter=0.08, entry_angle=30.0)
    slow = Duct(id="slow", into="main", diameter=0.1)
    system = simple(
        ducts=(Duct(id="main", diameter=0.2, length=2.0), fast, slow),
        pickups=(Pickup(id="f", duct="fast"), Pickup(id="s", duct="slow")),
    )
    solution = solve(Network(system), (), tolerance=1e-9)
    velocity = solution.duct_velocity
    found = expected = 0.0
    for pickup, duct in (("f", "fast"), ("s", "slow")):
        (step,) = (
            s
            for s in loss_breakdown(solution, pickup)
            if s.element == "main" and s.kind is StepKind.JUNCTION
        )
        found += solution.flow_of(duct) * step.loss
        change = velocity(duct) - velocity("main")
        expected += solution.flow_of(duct) * 0.6 * change**2
    assert found == pytest.approx(expected, rel=1e-4)


def test_a_disturbed_inlet_costs_the_fan() -> None:
    """K on the inlet's velocity pressure, behind the gauge and before the fan."""
    plain = solve(Network(shop()), {"planer_gate"})
    system = shop(inlet_k=1.2)
    solution = solve(Network(system), {"planer_gate"})
    assert solution.flow < plain.flow
    loss = 1.2 * solution.inlet_velocity_pressure
    assert solution.inlet_effect == pytest.approx(loss)
    steps = loss_breakdown(solution, "planer")
    assert steps[-1].total == pytest.approx(0.0, abs=0.01)
    (step,) = (s for s in steps if s.kind is StepKind.INLET_EFFECT)
    assert step.loss == pytest.approx(loss)
    assert (
        solve(
            Network(shop(inlet_k=1.2, inlet_diameter=None)), {"planer_gate"}
        ).inlet_effect
        > 0
    )


def test_a_slow_stream_is_carried_along() -> None:
    """Static pressure is common; the slow stream gains what the fast one brings."""
    solution = solve(Network(simple()), {"ga", "gb"})
    assert solution.suction_at("a") == pytest.approx(solution.suction_at("side"))
    junctions = [
        step
        for pickup in ("a", "b")
        for step in loss_breakdown(solution, pickup)
        if step.kind is StepKind.JUNCTION and step.element == "main"
    ]
    assert any(step.loss < 0 for step in junctions)
    # Weighted by flow the two changes are what the junction costs in all, not less
    # than nothing.
    flows = [solution.flow_of("a"), solution.flow_of("side")]
    assert sum(q * s.loss for q, s in zip(flows, junctions, strict=True)) > -1e-3


def test_nothing_open() -> None:
    solution = solve(Network(shop()), ())
    assert solution.flow == 0.0
    assert solution.converged
    assert solution.pickups == {}
    assert solution.ducts == {}
    assert solution.main_velocity == 0.0
    assert solution.air_power == 0.0
    assert solution.discharge_pressure == 0.0
    # The fan dead-headed.
    assert solution.suction == pytest.approx(
        FAN.pressure(0.0) * shop().air.density / 1.2
    )
    assert solution.suction_at("planer") == solution.suction
    assert solution.suction_at("main") == solution.suction
    assert solution.inlet_velocity_pressure == 0.0
    assert solve(Network(simple()), ()).inlet_velocity_pressure == 0.0
    with pytest.raises(AirflowError) as caught:
        loss_breakdown(solution, "planer")
    assert caught.value.code == "no_flow"
    assert caught.value.element == "planer"


def test_a_closed_gate_in_a_duct_shuts_all_upstream_of_it() -> None:
    network = Network(shop())
    solution = solve(network, {"planer_gate"})
    assert set(solution.pickups) == {"planer"}
    assert set(solution.ducts) == {"far", "middle", "main"}
    assert solution.flow_of("saw_below") == 0.0
    # A pickup that is open behind a closed duct gate stays without air, too.
    system = shop()
    barred = replace(
        system,
        ducts=tuple(
            replace(d, gate=SlideGate(id="bar")) if d.id == "far" else d
            for d in system.ducts
        ),
    )
    solution = solve(Network(barred), {"planer_gate", "saw_gate"})
    assert set(solution.pickups) == {"saw_below", "saw_above"}
    both = solve(Network(barred), {"planer_gate", "saw_gate", "bar"})
    assert set(both.pickups) == {"planer", "saw_below", "saw_above"}


def test_suction_where_nothing_flows() -> None:
    """A gauge at a closed branch reads the pressure of the junction it leads to."""
    for junction in Junction:
        system = shop(junction=junction, regain=0.0)
        solution = solve(Network(system), {"planer_gate"})
        at_junction = solution.suction_at("saw_drop")
        assert solution.suction_at("saw_below") == pytest.approx(at_junction)
        assert solution.suction_at("planer") < at_junction < solution.suction_at("main")
        if junction is Junction.STATIC:
            assert solution.suction_at("far") == pytest.approx(at_junction, rel=1e-5)


def test_gates_partly_open() -> None:
    network = Network(simple())
    half = solve(network, {"ga": 0.5})
    full = solve(network, {"ga": 1.0})
    assert full.flow == pytest.approx(solve(network, {"ga"}).flow)
    assert half.flow < full.flow
    gate = next(s for s in loss_breakdown(half, "a") if s.kind is StepKind.GATE)
    assert gate.coefficient == pytest.approx(slide_gate(0.5))
    assert solve(network, {"ga": 1.0, "gb": 0.0}).pickups.keys() == {"a"}


def test_leaks() -> None:
    """Leaking gates raise the collector's flow and take from the open pickup."""
    leaky = shop()
    leaky = replace(
        leaky,
        pickups=tuple(
            replace(p, gate=replace(p.gate, leak_area=3e-4)) if p.gate else p
            for p in leaky.pickups
        ),
        ducts=tuple(
            replace(d, gate=replace(d.gate, leak_area=3e-4)) if d.gate else d
            for d in leaky.ducts
        ),
    )
    tight = solve(Network(shop()), {"planer_gate"})
    solution = solve(Network(leaky), {"planer_gate"})
    assert solution.flow > tight.flow
    assert solution.flow_of("planer") < tight.flow_of("planer")
    assert set(solution.pickups) == {
        "planer",
        "sander",
        "sweep",
        "saw_below",
        "saw_above",
    }
    # About the orifice's flow at the suction where the sweep joins the main.
    orifice = 0.61 * 3e-4 * (2 * solution.suction_at("middle") / 1.17) ** 0.5
    assert solution.flow_of("sweep") == pytest.approx(orifice, rel=0.06)
    # A nearly closed gate never lets through less than a leaking shut one.
    nearly = solve(Network(leaky), {"sweep_gate": 0.001})
    closed = solve(Network(leaky), {"sweep_gate": 0.0})
    assert nearly.flow_of("sweep") == pytest.approx(closed.flow_of("sweep"))


def test_two_ducts_at_the_collector() -> None:
    system = DuctSystem(
        ducts=(
            Duct(id="left", diameter=0.15, length=5.0),
            Duct(id="right", diameter=0.1, length=5.0),
            Duct(id="capped", into="left", diameter=0.1),
        ),
        pickups=(
            Pickup(id="l", duct="left", gate=SlideGate(id="gl")),
            Pickup(id="r", duct="right", gate=SlideGate(id="gr")),
        ),
        fan=FAN,
    )
    network = Network(system)
    both = solve(network, {"gl", "gr"})
    assert both.suction_at("left") == pytest.approx(both.suction_at("right"))
    assert both.suction == pytest.approx(both.suction_at("left"))
    assert both.main_velocity == pytest.approx(
        min(both.duct_velocity("left"), both.duct_velocity("right"))
    )
    left = solve(network, {"gl"})
    assert left.main_velocity == left.duct_velocity("left")
    # A duct that no pickup feeds is as good as closed.
    assert both.flow_of("capped") == 0.0
    # An inlet of the same area as the ducts' streams changes nothing.
    inlet = solve(Network(replace(system, inlet_diameter=0.15)), {"gl"})
    assert inlet.flow == pytest.approx(left.flow, rel=1e-6)


def test_friction_with_hardly_any_flow() -> None:
    """A way whose share is a millionth: laminar and still solved."""
    system = simple(
        pickups=(
            Pickup(id="a", duct="main"),
            Pickup(
                id="b",
                duct="side",
                pipes=(Pipe(diameter=0.01, length=900.0, roughness=0.0),),
            ),
        )
    )
    solution = solve(Network(system), ())
    assert solution.converged
    assert 0 < solution.flow_of("b") < 1e-4 * solution.flow
    steps = loss_breakdown(solution, "b")
    assert steps[1].kind is StepKind.FRICTION
    assert steps[1].coefficient == pytest.approx(
        64.0 / (1.2 * steps[1].velocity * 0.01 / 1.81e-5) * 900 / 0.01, rel=1e-3
    )


def test_flows_that_do_not_settle_are_said_to_be_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(solver, "MAX_PASSES", 2)
    solution = solve(Network(shop()), {"planer_gate"})
    assert not solution.converged
    assert solution.passes == 2


def test_stalled_and_extrapolated() -> None:
    stalled = solve(Network(simple()), {"ga": 0.15})
    assert stalled.stalled
    assert not stalled.extrapolated
    weak = solve(Network(simple(fan=Fan(points=((0.0, 500.0), (0.05, 480.0))))), {"ga"})
    assert weak.extrapolated
    assert not weak.stalled


def test_a_pickup_without_any_loss() -> None:
    """Possible with shared total pressure only; the flow is what the main lets through."""
    system = simple(
        ducts=(Duct(id="main", diameter=0.1, extra_k=2.0),),
        pickups=(Pickup(id="a", duct="main", entry_k=0.0),),
        junction=Junction.TOTAL,
    )
    solution = solve(Network(system), ())
    lost = 2.0 * 0.6 * solution.duct_velocity("main") ** 2
    assert solution.fan_pressure == pytest.approx(lost)


def test_ways_and_gates() -> None:
    network = Network(shop())
    assert network.gates == ("planer_gate", "sander_gate", "sweep_gate", "saw_gate")
    assert network.machines == {
        "saw": ("saw_below", "saw_above"),
        "planer": ("planer",),
        "sander": ("sander",),
        "sweep": ("sweep",),
    }
    assert [e.id for e in network.path("saw_above")] == [
        "saw_above",
        "saw_drop",
        "middle",
        "main",
    ]
    assert network.gates_for("saw_above", "planer") == {"saw_gate", "planer_gate"}
    assert network.gates_for_machines("saw") == {"saw_gate"}
    unnamed = simple(pickups=(Pickup(id="a", duct="main"),))
    assert Network(unnamed).machines == {}


def test_duct_order_does_not_matter() -> None:
    system = shop()
    turned = replace(system, ducts=system.ducts[::-1], pickups=system.pickups[::-1])
    one = solve(Network(system), {"saw_gate", "planer_gate"})
    other = solve(Network(turned), {"saw_gate", "planer_gate"})
    for name, flow in one.pickups.items():
        assert other.flow_of(name) == pytest.approx(flow, rel=1e-9)


def test_problems_of_a_tree() -> None:
    broken = DuctSystem(
        ducts=(
            Duct(id="x", into="y", diameter=0.1),
            Duct(id="y", into="z", diameter=0.1),
            Duct(id="z", into="x", diameter=0.1),
            Duct(id="tail", into="x", diameter=0.1),
            Duct(id="self", into="self", diameter=0.1),
            Duct(id="lost", into="nowhere", diameter=0.1),
        ),
        pickups=(
            Pickup(id="x", duct="x"),
            Pickup(id="p", duct="nothing"),
        ),
        fan=FAN,
    )
    found = {(p.code, p.element) for p in problems(broken)}
    assert found == {
        ("duplicate_id", "x"),
        ("unknown_duct", "lost"),
        ("unknown_duct", "p"),
        ("cycle", "x"),
        ("cycle", "y"),
        ("cycle", "z"),
        ("cycle", "self"),
    }
    with pytest.raises(InvalidSystem) as caught:
        Network(broken)
    assert caught.value.code == "duplicate_id"
    assert len(caught.value.problems) == 7
    assert "used twice" in str(caught.value)
    empty = DuctSystem(ducts=(), pickups=(), fan=FAN)
    assert [p.code for p in problems(empty)] == ["no_ducts", "no_pickups"]
    assert problems(shop()) == ()


@pytest.mark.parametrize(
    ("call", "code", "element"),
    [
        (lambda: Duct(id="d", diameter=0.0), "diameter_range", "d"),
        (lambda: Duct(id="d", diameter=float("nan")), "diameter_range", "d"),
        (lambda: Duct(id="d", diameter=0.1, length=-1.0), "length_range", "d"),
        (lambda: Duct(id="d", diameter=0.1, length=2000.0), "length_range", "d"),
        (lambda: Duct(id="d", diameter=0.1, roughness=0.05), "roughness_range", "d"),
        (lambda: Duct(id="d", diameter=0.1, extra_k=-0.1), "coefficient_range", "d"),
        (lambda: Duct(id="d", diameter=0.1, entry_angle=100.0), "entry_angle", "d"),
        (lambda: Pipe(diameter=5.0), "diameter_range", ""),
        (lambda: Elbow(count=-1), "elbow_count", ""),
        (lambda: Elbow(radius_ratio=0.0), "elbow_radius", ""),
        (lambda: Elbow(construction="bent"), "elbow_construction", ""),
        (lambda: Elbow(angle=200.0), "elbow_angle", ""),
        (lambda: Elbow(k=-1.0), "coefficient_range", ""),
        (lambda: SlideGate(id="g", allowance=-1.0), "coefficient_range", "g"),
        (lambda: SlideGate(id="g", leak_area=-1.0), "leak_range", "g"),
        (lambda: SlideGate(id="g", leak_area=1.0), "leak_range", "g"),
        (lambda: Pickup(id="p", duct="d", entry_k=-1.0), "coefficient_range", "p"),
        (lambda: Pickup(id="p", duct="d", required=-1.0), "flow_range", "p"),
        (lambda: Pickup(id="p", duct="d", transport=-1.0), "velocity_range", "p"),
        (lambda: Pickup(id="p", duct="d", entry_angle=-1.0), "entry_angle", "p"),
        (lambda: Separator(resistance=-1.0), "resistance_range", ""),
        (lambda: Separator(resistance=1.0, density=0.0), "air_range", ""),
        (lambda: Separator.from_point(0.0, 1.0), "flow_range", ""),
        (lambda: Filter(resistance=-1.0), "resistance_range", ""),
        (lambda: Filter(resistance=1.0, loading=0.0), "loading_range", ""),
        (lambda: Filter.from_point(0.0, 1.0), "flow_range", ""),
        (
            lambda: Discharge(pipe=Pipe(diameter=0.1), exit_k=-1.0),
            "coefficient_range",
            "",
        ),
        (lambda: simple(inlet_diameter=0.001), "diameter_range", ""),
        (lambda: simple(regain=1.5), "regain_range", ""),
        (lambda: solve(Network(shop()), {"none"}), "unknown_gate", "none"),
        (lambda: solve(Network(shop()), (), speed=0.0), "fan_speed", ""),
        (lambda: solve(Network(shop()), (), flow=0.0), "flow_range", ""),
        (lambda: solve(Network(shop()), {"saw_gate": 2.0}), "gate_opening", ""),
        (lambda: Network(shop()).element("none"), "unknown_element", "none"),
        (lambda: Network(shop()).gates_for_machines("none"), "unknown_machine", "none"),
        (
            lambda: loss_breakdown(solve(Network(shop()), {"saw_gate"}), "main"),
            "no_flow",
            "main",
        ),
    ],
)
def test_refusals(call: object, code: str, element: str) -> None:
    assert callable(call)
    with pytest.raises(AirflowError) as caught:
        call()
    assert (caught.value.code, caught.value.element) == (code, element)


def test_one_gate_is_not_a_set_of_letters() -> None:
    with pytest.raises(TypeError):
        solve(Network(shop()), "saw_gate")


def test_a_gates_own_coefficient_of_an_elbow() -> None:
    assert Elbow(k=0.21, count=5).coefficient(0.1) == pytest.approx(1.05)
    assert not Elbow(k=0.21, construction="mitered").mitered


def test_standard_library_only() -> None:
    """The package imports by itself, without Home Assistant or anything installed."""
    folder = pathlib.Path(airflow.__file__).parent.parent
    code = (
        f"import sys; sys.path.insert(0, {str(folder)!r}); import airflow; "
        "names = {m.split('.')[0] for m in sys.modules}; "
        "extra = names - sys.stdlib_module_names - {'airflow', '__main__'}; "
        "sys.exit(repr(sorted(extra)) if extra else 0)"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-S", "-c", code],
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
