"""Published worked examples, and reference cases computed elsewhere.

Each names its source and the tolerance that its rounding allows. Converted with 1 in.
w.g. = 249.09 Pa, 1 cfm = 4.719474e-4 m3/s, 1 ft/min = 0.00508 m/s.
"""

from math import pi

import pytest

from custom_components.gatewright.core.airflow import (
    Air,
    Discharge,
    Duct,
    DuctSystem,
    Elbow,
    Fan,
    Junction,
    Network,
    Pickup,
    Pipe,
    SheetResult,
    loss_breakdown,
    solve,
)
from custom_components.gatewright.core.airflow.air import velocity, velocity_pressure
from custom_components.gatewright.core.airflow.breakdown import StepKind
from custom_components.gatewright.core.airflow.friction import friction_factor
from custom_components.gatewright.core.airflow.units import CFM, FOOT, FPM, INCH
from custom_components.gatewright.core.airflow.worksheet import (
    Segment,
    acceleration_loss,
    balance,
    corrected_flow,
    entry_coefficient,
    hood_flow,
    hood_suction,
    resultant_pressure,
)
from tests.airflow.handbook import (
    HANDBOOK_FRICTION,
    capture_flow,
    face_flow,
    fan_static_pressure,
)

INWG = 249.09
# The density for which V = 4005 sqrt(VP) is exact.
HANDBOOK_AIR = 2.0 * INWG / (4005.0 * FPM) ** 2


def circle(diameter: float) -> float:
    return pi / 4.0 * diameter**2


def one_duct(
    *, diameter: float, length: float, roughness: float, k: float, fan: Fan, air: Air
) -> Network:
    """Return a hood, a duct with losses, a fan and the same duct's end."""
    return Network(
        DuctSystem(
            ducts=(
                Duct(id="duct", diameter=diameter, length=length, roughness=roughness),
            ),
            pickups=(Pickup(id="hood", duct="duct", entry_k=k),),
            fan=fan,
            air=air,
            # Kinetic energy factor of the outlet, 1.05.
            discharge=Discharge(pipe=Pipe(diameter=diameter), exit_k=1.05),
        )
    )


# Cengel and Cimbala, Fluid Mechanics: Fundamentals and Applications. Pressures in
# inches of water at 998 kg/m3, air at 25 C.
CENGEL_AIR = Air(density=1.184, viscosity=1.562e-5 * 1.184)
CENGEL_INCH = 998.0 * 9.81 * INCH


def test_hood_ducts_and_fan_table_meet_at_650_cfm() -> None:
    """Cengel and Cimbala, Example 14-1: 650 cfm and 0.83 in. w.g. off a graph, 1 %.

    Hood 1.3, damper 1.8, five elbows of 0.21, 44 ft of 9.06 in duct, 0.15 mm rough.
    SciPy's monotone cubic through the same table gives 648.7 cfm, 0.8267 in. w.g.
    """
    table = ((0, 0.90), (250, 0.95), (500, 0.90), (750, 0.75), (1000, 0.40), (1200, 0))
    network = one_duct(
        diameter=9.06 * INCH,
        length=44.0 * FOOT,
        roughness=0.15e-3,
        k=1.3 + 1.8 + 5 * 0.21,
        fan=Fan(
            points=tuple((q * CFM, p * CENGEL_INCH) for q, p in table), density=1.184
        ),
        air=CENGEL_AIR,
    )
    solution = solve(network, ())
    assert solution.flow / CFM == pytest.approx(650.0, rel=0.01)
    assert solution.fan_pressure / CENGEL_INCH == pytest.approx(0.83, rel=0.01)
    assert solution.flow / CFM == pytest.approx(648.7, abs=0.06)
    assert solution.fan_pressure / CENGEL_INCH == pytest.approx(0.8267, abs=5e-5)


def test_head_required_at_600_cfm() -> None:
    """Same example: 15.2 m of air, 0.709 in. w.g. at 600 cfm (0.2 %).

    On the way V 6.808 m/s, Re 100300, f 0.02092.
    """
    network = one_duct(
        diameter=0.230,
        length=13.4,
        roughness=0.15e-3,
        k=4.15,
        fan=Fan.quadratic(1.0, 1.0),
        air=CENGEL_AIR,
    )
    flow = 0.283
    needed = solve(network, (), flow=flow).fan_pressure
    assert needed / CENGEL_INCH == pytest.approx(0.709, rel=2e-3)
    assert needed / (1.184 * 9.81) == pytest.approx(15.2, rel=4e-3)
    speed = flow / circle(0.230)
    reynolds = speed * 0.230 / 1.562e-5
    assert speed == pytest.approx(6.808, rel=6e-4)
    assert reynolds == pytest.approx(100_300, rel=1e-3)
    assert friction_factor(reynolds, 0.15 / 230) == pytest.approx(0.02092, rel=1e-3)


@pytest.mark.parametrize(
    ("diameter", "litres", "head"), [(0.150, 7090.7, 47.4), (0.129, 5409.0, 52.7)]
)
def test_parabolic_fan_and_five_fittings(
    diameter: float, litres: float, head: float
) -> None:
    """Cengel and Cimbala, chapter 14 problem: 7090 L/min at 150 mm; a 129 mm variant.

    Hood 3.3, damper 1.8, tee 0.36, one-way valve 6.6, three elbows of 0.21, 24.5 m;
    fan 60 mm of water less 2.5e-7 per (L/min)^2. The published answer is remembered
    to three digits (0.5 %), the fourth is computed.
    """
    millimetre = 998.0 * 9.81 * 1e-3
    per_litre = 60_000.0
    network = one_duct(
        diameter=diameter,
        length=24.5,
        roughness=0.15e-3,
        k=3.3 + 1.8 + 0.36 + 6.6 + 3 * 0.21,
        fan=Fan.quadratic(
            60.0 * millimetre, 2.5e-7 * per_litre**2 * millimetre, density=1.184
        ),
        air=CENGEL_AIR,
    )
    solution = solve(network, ())
    assert solution.flow * per_litre == pytest.approx(litres, rel=2e-4)
    assert solution.fan_pressure / millimetre == pytest.approx(head, abs=0.06)
    if diameter == 0.150:
        assert solution.flow * per_litre == pytest.approx(7090.0, rel=5e-3)


def test_worksheet_of_one_segment() -> None:
    """Course hand-out, design problem 2, segment ab (cites ACGIH VS-80-11), 0.5 %.

    390 cfm in 4 in, 15 ft, entry 0.65: hood 2.057, duct 1.3256, together 3.382 in.
    w.g. (The hand-out rounds the area to 0.0872 ft2.) Friction as there at 4000
    ft/min: 0.0709 velocity pressures per foot.
    """
    area = circle(4 * INCH)
    assert area / FOOT**2 == pytest.approx(0.0872, abs=1e-4)
    largest = (4 * 390 / 4000 / pi) ** 0.5 * 12
    assert largest == pytest.approx(4.23, abs=0.005)
    per_metre = HANDBOOK_FRICTION["galvanized"].per_metre(4000 * FPM, 4000 * FPM * area)
    assert per_metre * FOOT == pytest.approx(0.0709, abs=5e-5)
    segment = Segment(
        flow=390 * CFM,
        area=area,
        friction=per_metre * 15 * FOOT,
        entry_k=0.65,
        density=HANDBOOK_AIR,
    )
    assert segment.velocity / FPM == pytest.approx(4471.3, rel=5e-3)
    assert segment.pressure / INWG == pytest.approx(1.2464, rel=5e-3)
    assert segment.hood / INWG == pytest.approx(2.057, rel=5e-3)
    assert segment.friction == pytest.approx(1.0635, rel=5e-3)
    assert segment.duct_loss / INWG == pytest.approx(1.3256, rel=5e-3)
    assert segment.suction / INWG == pytest.approx(3.382, rel=5e-3)


def test_two_branches_by_loss_coefficients() -> None:
    """Course hand-out, duct pressure loss calculation S.1: two paths, 0.5 %.

    Uses V = 4000 sqrt(VP). Paths 0.1155 and 0.1548 in. w.g. (28.76 and 38.54 Pa).
    """
    rho = 2.0 * INWG / (4000.0 * FPM) ** 2

    def segment(cfm: float, inches: float, loss_inwg: float, k: float = 0.0) -> Segment:
        area = circle(inches * INCH)
        own = velocity_pressure(cfm * CFM / area, rho)
        return Segment(
            flow=cfm * CFM,
            area=area,
            friction=loss_inwg * INWG / own,
            other=k,
            density=rho,
        )

    first = segment(400, 10, 0.09 * 50 / 100, k=0.85)
    straight = segment(280, 9, 0.08 * 50 / 100 + 0.002)
    branch = segment(120, 6, 0.12 * 40 / 100 + 0.0086)
    assert first.velocity / FPM == pytest.approx(733.385, rel=5e-4)
    assert straight.velocity / FPM == pytest.approx(633.79, rel=5e-4)
    assert branch.velocity / FPM == pytest.approx(611.154, rel=5e-4)
    assert 0.85 * first.pressure / INWG == pytest.approx(0.0285, rel=5e-3)
    assert first.duct_loss / INWG == pytest.approx(0.0735, rel=5e-3)
    assert straight.duct_loss / INWG == pytest.approx(0.042, rel=5e-3)
    # The branch is charged on the velocity upstream of it, the elbow on its own.
    entry = 0.48 * first.pressure
    elbow = 0.37 * branch.pressure
    assert entry / INWG == pytest.approx(0.0161, rel=5e-3)
    assert elbow / INWG == pytest.approx(0.0086, rel=5e-3)
    to_branch = entry + elbow + branch.duct_loss
    assert to_branch / INWG == pytest.approx(0.0813, rel=5e-3)
    assert first.duct_loss + straight.duct_loss == pytest.approx(28.76, rel=5e-3)
    assert first.duct_loss + to_branch == pytest.approx(38.54, rel=5e-3)


def test_first_section_by_equivalent_length() -> None:
    """McDonald and Magande, Thermo-Fluids Systems Design, solutions, problem 2.1.

    400 cfm through 75 ft of equivalent length of 10 in duct: 0.0675 in. w.g. at the
    chart's 0.09 per 100 ft. Darcy's own friction is 0.0889, hence 1.5 %.
    """
    network = one_duct(
        diameter=10 * INCH,
        length=75 * FOOT,
        roughness=0.0005 * FOOT,
        k=0.0,
        fan=Fan.quadratic(1.0, 1.0),
        air=Air(density=1.204, viscosity=1.516e-5 * 1.204),
    )
    solution = solve(network, (), flow=400 * CFM)
    steps = {step.kind: step.loss for step in loss_breakdown(solution, "hood")}
    assert steps[StepKind.FRICTION] / INWG == pytest.approx(0.0675, rel=0.015)


@pytest.mark.parametrize("junction", list(Junction))
def test_four_branches_into_one_delivery_duct(junction: Junction) -> None:
    """Textbook program (Douglas and others, Example 14.6): 684.51 Pa.

    Four ducts of 150 mm and 10 m with an entry loss of 4, one of 300 mm and 20 m plus 6
    m for the transition, Fanning friction 0.008; all at 11.318 m/s, so that both
    junction rules give the same: 471.37 + 213.14 Pa.
    """
    darcy = 4 * 0.008
    branches = tuple(f"b{i}" for i in range(4))
    system = DuctSystem(
        ducts=(
            Duct(id="main", diameter=0.30, extra_k=darcy * 26 / 0.30),
            *(
                Duct(id=name, into="main", diameter=0.15, extra_k=darcy * 10 / 0.15)
                for name in branches
            ),
        ),
        pickups=tuple(
            Pickup(id=f"p{name}", duct=name, entry_k=4.0) for name in branches
        ),
        fan=Fan.quadratic(1000.0, 1000.0),
        air=Air(density=1.2),
        junction=junction,
    )
    solution = solve(Network(system), (), flow=0.8)
    assert solution.fan_pressure == pytest.approx(684.51, abs=0.02)
    assert solution.duct_velocity("main") == pytest.approx(11.318, abs=5e-4)
    for name in branches:
        assert solution.flow_of(name) == pytest.approx(0.2)
    lost = {(s.kind, s.element): s.loss for s in loss_breakdown(solution, "pb0")}
    assert lost[StepKind.HOOD, "pb0"] + lost[StepKind.OTHER, "b0"] == pytest.approx(
        471.37, abs=0.02
    )
    assert lost[StepKind.OTHER, "main"] == pytest.approx(213.14, abs=0.02)


def parallel(resistances: list[float], flow: float) -> tuple[list[float], float]:
    """Return what a set of parallel resistances (SI) shares out, and the loss."""
    diameter = 3.0
    k = 2.0 * circle(diameter) ** 2 / 1.2
    system = DuctSystem(
        ducts=(Duct(id="main", diameter=diameter),),
        pickups=tuple(
            Pickup(id=f"p{i}", duct="main", entry_k=r * k)
            for i, r in enumerate(resistances)
        ),
        fan=Fan.quadratic(1000.0, 1000.0),
        air=Air(density=1.2),
        junction=Junction.TOTAL,
    )
    solution = solve(Network(system), (), flow=flow)
    shares = [solution.flow_of(f"p{i}") for i in range(len(resistances))]
    return shares, solution.fan_pressure


def test_natural_splitting() -> None:
    """Thakur, Advanced Mine Ventilation, 2.8.2: 90000 cfm over 10, 15 and 20e-10.

    1.2719 in. w.g.; 35663.3, 29119.0 and 25217.8 cfm.
    """
    unit = 1e-10 * INWG / CFM**2
    shares, loss = parallel([10 * unit, 15 * unit, 20 * unit], 90_000 * CFM)
    assert [q / CFM for q in shares] == pytest.approx(
        [35663.3, 29119.0, 25217.8], abs=0.06
    )
    assert loss / INWG == pytest.approx(1.2719, abs=5e-5)


def test_equivalent_resistance() -> None:
    """Mining examination question: 4, 6.25 and 9 N s2/m8 in parallel make 0.66."""
    _, loss = parallel([4.0, 6.25, 9.0], 1.0)
    assert loss == pytest.approx(0.6574, abs=5e-5)
    assert round(loss, 2) == 0.66


def test_equation_sheet_velocity_pressure() -> None:
    """American Board of Industrial Hygiene equation sheet, one-line items."""
    assert velocity(4 * INWG, HANDBOOK_AIR) / FPM == pytest.approx(8010)
    assert velocity_pressure(4005 * FPM, HANDBOOK_AIR) / INWG == pytest.approx(1.0)
    # V = 1.29 sqrt(VP) in m/s and Pa at 1.2 kg/m3.
    assert velocity(900.0, 1.2) == pytest.approx(38.7, abs=0.05)
    assert velocity_pressure(12.9, 1.2) == pytest.approx(100.0, rel=2e-3)


def test_equation_sheet_hoods() -> None:
    """Same sheet: hood suction, entry loss, coefficient of entry, hood flow."""
    assert hood_suction(0.6, 2.0) == pytest.approx(3.2)
    assert hood_suction(0.93, 0.5) - 0.5 == pytest.approx(0.47, abs=5e-3)
    assert entry_coefficient(0.4, 0.8) == pytest.approx(0.71, abs=5e-3)
    area = 0.196 * FOOT**2
    assert hood_flow(0.98, area, 4 * INWG, HANDBOOK_AIR) / CFM == pytest.approx(
        1539, abs=0.6
    )
    # Choice 820 of an item with density factor 0.95.
    six = circle(6 * INCH)
    flow = hood_flow(0.78, six, 1.69 * INWG, HANDBOOK_AIR * 0.95) / CFM
    assert flow == pytest.approx(818, abs=0.5)
    assert flow == pytest.approx(820, rel=3e-3)
    loss = Segment(flow=1.0, area=1.0, friction=0.0, other=2.0, density=0.6)
    assert loss.pressure == pytest.approx(0.30)
    assert loss.duct_loss == pytest.approx(0.60)


def test_equation_sheet_streams() -> None:
    """Same sheet: resultant velocity pressure, corrected flow, continuity, capture."""
    assert resultant_pressure((200.0, 1.5), (300.0, 2.0)) == pytest.approx(1.8)
    assert corrected_flow(1500.0, 4.0, 1.0) == pytest.approx(3000.0)
    assert circle(6 * INCH) * 10 * FPM / CFM == pytest.approx(1.96, abs=5e-3)
    flow = face_flow(3 * FOOT, 7 * FOOT, 110 * FPM)
    assert flow / CFM == pytest.approx(2300, rel=5e-3)
    assert face_flow(20 * FOOT, 14 * FOOT, 12 * FOOT) / FOOT**3 == pytest.approx(3360)
    # Dalla Valle's Q = V (10 x^2 + A): 250 cfm for a point, 20 more for a 6 in end,
    # three quarters of it with a flange. The sheet's point sink would ask for 315.
    assert capture_flow(100 * FPM, 6 * INCH) / CFM == pytest.approx(250, abs=0.5)
    end = circle(6 * INCH)
    bare = capture_flow(100 * FPM, 6 * INCH, end) / CFM
    assert bare == pytest.approx(100 * (10 * 0.25 + end / FOOT**2), rel=1e-6)
    flanged = capture_flow(100 * FPM, 6 * INCH, end, flanged=True) / CFM
    assert flanged == pytest.approx(0.75 * bare)


def test_equation_sheet_pressures_in_a_duct() -> None:
    """Same sheet: TP = SP + VP, -3.50 + 2.00 = -1.50; and continuity.

    A hood with Fh 0.75 at a velocity pressure of 2.00 in. w.g.; 200 ft/min in 6 in is
    50 ft/min in 12 in.
    """
    rho = 1.2
    speed = velocity(2.0 * INWG, rho)
    network = Network(
        DuctSystem(
            ducts=(
                Duct(id="narrow", into="wide", diameter=6 * INCH),
                Duct(id="wide", diameter=12 * INCH),
            ),
            pickups=(Pickup(id="hood", duct="narrow", entry_k=0.75),),
            fan=Fan.quadratic(1000.0, 1000.0),
            air=Air(density=rho),
        )
    )
    solution = solve(network, (), flow=speed * circle(6 * INCH))
    step = loss_breakdown(solution, "hood")[0]
    assert step.total / INWG == pytest.approx(-1.50)
    assert step.static / INWG == pytest.approx(-3.50)
    assert step.velocity_pressure / INWG == pytest.approx(2.00)
    assert solution.duct_velocity("narrow") == pytest.approx(
        4 * solution.duct_velocity("wide")
    )
    # Fan static pressure: SP outlet - SP inlet - VP inlet (ACGIH).
    assert fan_static_pressure(0.1, -3.5, 2.0) == pytest.approx(1.6)


def test_fan_in_warmer_air() -> None:
    """Stoecker and Jones, fan and duct systems, density problem: 1.685 kW at 40 C.

    2.4 m3/s, 340 Pa and 1.8 kW at 20 C; the flow stays, pressure and power fall with
    the density, 293.15 / 313.15.
    """
    cold, warm = Air.at(0.0, 20.0).density, Air.at(0.0, 40.0).density
    fan = Fan(
        points=((0.0, 500.0), (2.4, 340.0), (4.0, 0.0)),
        density=cold,
        power=((0.0, 600.0), (2.4, 1800.0), (4.0, 2400.0)),
    )
    assert fan.pressure(2.4, density=warm) == pytest.approx(318.3, abs=0.05)
    power = fan.shaft_power(2.4, density=warm)
    assert power is not None
    assert power / 1000 == pytest.approx(1.685, abs=5e-4)
    assert fan.scaled(density=warm).pressure(2.4) == pytest.approx(318.3, abs=0.05)


def test_sizing_a_smooth_duct() -> None:
    """Cengel and Cimbala, Example 8-4: 0.35 m3/s, 150 m, 20 m of air: 0.267 m.

    6.24 m/s, Re 100800, f 0.0180 (recollected; computed 0.2673, 6.239, 100750,
    0.01796).
    """
    low, high = 0.1, 0.6
    for _ in range(60):
        diameter = 0.5 * (low + high)
        speed = 0.35 / circle(diameter)
        factor = friction_factor(speed * diameter / 1.655e-5, 0.0)
        head = factor * 150 / diameter * speed**2 / (2 * 9.81)
        low, high = (diameter, high) if head > 20.0 else (low, diameter)
    assert diameter == pytest.approx(0.267, abs=5e-4)
    assert diameter == pytest.approx(0.2673, abs=6e-5)
    assert speed == pytest.approx(6.24, rel=1e-3)
    assert speed * diameter / 1.655e-5 == pytest.approx(100_800, rel=1e-3)
    assert factor == pytest.approx(0.0180, abs=5e-5)


def three_branches(fan: Fan) -> Network:
    """Return the reference tree: three hoods, two junctions, one fan inlet."""
    rough = 0.09e-3

    def duct(name: str, into: str | None, length: float, size: float, k: float) -> Duct:
        return Duct(
            id=name,
            into=into,
            length=length,
            diameter=size,
            roughness=rough,
            extra_k=k,
        )

    return Network(
        DuctSystem(
            ducts=(
                duct("b1", "m1", 6.0, 0.100, 1.65),
                duct("b2", "m1", 4.0, 0.125, 1.50),
                duct("m1", "m2", 5.0, 0.150, 0.20),
                duct("b3", "m2", 7.0, 0.100, 1.65),
                duct("m2", None, 8.0, 0.180, 0.30),
            ),
            pickups=tuple(
                Pickup(id=f"hood{i}", duct=f"b{i}", entry_k=0.0) for i in (1, 2, 3)
            ),
            fan=fan,
            air=Air(density=1.204, viscosity=1.813e-5),
            junction=Junction.TOTAL,
        )
    )


def test_reference_tree_at_a_fixed_flow() -> None:
    """Reference case A: 0.55 kg/s shared by three hoods, computed, to its last digit.

    Own nonlinear solution with the friction of `fluids`; pandapipes within 0.05 %.
    """
    network = three_branches(Fan.quadratic(2200.0, 2592.0, density=1.204))
    solution = solve(network, (), flow=0.55 / 1.204, tolerance=1e-9)
    mass = {name: solution.flow_of(name) * 1.204 for name in ("b1", "b2", "m1", "b3")}
    assert mass == pytest.approx(
        {"b1": 0.137474, "b2": 0.251984, "m1": 0.389457, "b3": 0.160543}, abs=6e-7
    )
    velocities = {n: solution.duct_velocity(n) for n in ("b1", "b2", "m1", "b3", "m2")}
    assert velocities == pytest.approx(
        {"b1": 14.538, "b2": 17.054, "m1": 18.305, "b3": 16.978, "m2": 17.952}, abs=6e-4
    )

    def total(name: str) -> float:
        dynamic = 0.5 * 1.204 * solution.duct_velocity(name) ** 2
        return dynamic - solution.suction_at(name)

    assert total("b1") == pytest.approx(-377.20, abs=6e-3)
    assert total("b2") == pytest.approx(-377.20, abs=6e-3)
    assert total("m1") == pytest.approx(-548.42, abs=6e-3)
    assert total("b3") == pytest.approx(-548.42, abs=6e-3)
    assert solution.fan_pressure == pytest.approx(767.87, abs=6e-3)


def test_reference_tree_with_a_fan() -> None:
    """Reference case B: the same with p = 2200 - 2e-4 q^2 (q in m3/h), computed."""
    network = three_branches(Fan.quadratic(2200.0, 2e-4 * 3600.0**2, density=1.204))
    solution = solve(network, (), tolerance=1e-9)
    assert solution.flow * 3600.0 == pytest.approx(2139.76, abs=6e-3)
    assert solution.fan_pressure == pytest.approx(1284.29, abs=6e-3)
    mass = {n: solution.flow_of(n) * 1.204 for n in ("b1", "b2", "m1", "b3", "m2")}
    assert mass == pytest.approx(
        {
            "b1": 0.179121,
            "b2": 0.327617,
            "m1": 0.506738,
            "b3": 0.208892,
            "m2": 0.715631,
        },
        abs=6e-7,
    )
    velocities = {n: solution.duct_velocity(n) for n in ("b1", "b2", "m1", "b3", "m2")}
    assert velocities == pytest.approx(
        {"b1": 18.942, "b2": 22.173, "m1": 23.817, "b3": 22.091, "m2": 23.358}, abs=6e-4
    )


class TestBalanceOfTwoBranches:
    """Reference case E: velocity pressure worksheet with the handbook's friction.

    Two branches meet at 45 degrees; all three outcomes of the balance. Computed
    from the published equations; thresholds 1.05 and 1.20 (ACGIH, memory).
    """

    @staticmethod
    def segment(
        cfm: float,
        inches: float,
        feet: float,
        *,
        entry: float | None,
        elbows: float = 0.0,
        branch: float = 0.0,
    ) -> Segment:
        area = circle(inches * INCH)
        flow = cfm * CFM
        per_metre = HANDBOOK_FRICTION["galvanized"].per_metre(flow / area, flow)
        return Segment(
            flow=flow,
            area=area,
            friction=per_metre * feet * FOOT,
            entry_k=entry,
            elbows=elbows,
            branch_entry=branch,
            density=HANDBOOK_AIR,
        )

    def branch(self) -> Segment:
        return self.segment(390, 4, 15, entry=0.65, branch=0.28)

    def test_branch(self) -> None:
        branch = self.branch()
        assert branch.velocity / FPM == pytest.approx(4469.07, rel=2e-5)
        assert branch.pressure / INWG == pytest.approx(1.2452, abs=6e-5)
        assert branch.friction / 15 == pytest.approx(0.070303, abs=1e-6)
        assert branch.hood / INWG == pytest.approx(2.0545, abs=6e-5)
        assert branch.duct_loss / INWG == pytest.approx(1.6617, abs=6e-5)
        assert branch.suction / INWG == pytest.approx(3.7163, abs=6e-5)

    @pytest.mark.parametrize(
        ("cfm", "inches", "suction", "ratio", "outcome"),
        [
            (800, 6.0, 2.4345, 1.5265, SheetResult.RESIZE),
            (760, 5.5, 3.2277, 1.1514, SheetResult.CORRECT),
            (800, 5.5, 3.5707, 1.0408, SheetResult.ACCEPT),
        ],
    )
    def test_trials(
        self,
        cfm: float,
        inches: float,
        suction: float,
        ratio: float,
        outcome: SheetResult,
    ) -> None:
        other = self.segment(cfm, inches, 20, entry=0.25, elbows=0.24)
        assert other.suction / INWG == pytest.approx(suction, abs=1e-4)
        found, what = balance(self.branch().suction, other.suction)
        assert found == pytest.approx(ratio, abs=1e-4)
        assert what is outcome

    def test_main_after_correction(self) -> None:
        branch = self.branch()
        other = self.segment(760, 5.5, 20, entry=0.25, elbows=0.24)
        raised = corrected_flow(other.flow, branch.suction, other.suction)
        assert raised / CFM == pytest.approx(815.50, abs=0.02)
        faster = self.segment(raised / CFM, 5.5, 20, entry=0.25, elbows=0.24)
        assert faster.velocity / FPM == pytest.approx(4942.8, abs=0.1)
        assert faster.pressure / INWG == pytest.approx(1.5231, abs=1e-4)
        mixed = resultant_pressure(
            (branch.flow, branch.pressure), (raised, faster.pressure)
        )
        assert mixed / INWG == pytest.approx(1.4332, abs=1e-4)
        total = (branch.flow + raised) / CFM
        for inches, speed, own, spent, loss, end in (
            (7.0, 4510.7, 1.2685, 0.0, 1.6521, 5.3684),
            (6.5, 5231.3, 1.7062, 0.2730, 2.3711, 6.3604),
        ):
            main = self.segment(total, inches, 30, entry=None, elbows=0.24)
            assert main.hood == 0.0
            assert main.velocity / FPM == pytest.approx(speed, abs=0.1)
            assert main.pressure / INWG == pytest.approx(own, abs=1e-4)
            speeding = acceleration_loss(mixed, main.pressure)
            assert speeding / INWG == pytest.approx(spent, abs=1e-4)
            assert main.suction / INWG == pytest.approx(loss, abs=1e-4)
            at_end = branch.suction + speeding + main.suction
            assert at_end / INWG == pytest.approx(end, abs=2e-4)

    def test_the_solver_agrees_with_the_sheet(self) -> None:
        """The network at the sheet's flow finds the sheet's balance.

        Friction put in as coefficients, since the sheet has the handbook's line: the
        flows must come out as corrected and the suction as at the end of the main.
        """
        branch = self.branch()
        other = self.segment(760, 5.5, 20, entry=0.25, elbows=0.24)
        raised = corrected_flow(other.flow, branch.suction, other.suction)
        total = branch.flow + raised
        main = self.segment(total / CFM, 6.5, 30, entry=None, elbows=0.24)
        network = Network(
            DuctSystem(
                ducts=(
                    Duct(id="CD", diameter=6.5 * INCH, extra_k=main.friction + 0.24),
                    Duct(
                        id="AC",
                        into="CD",
                        diameter=4 * INCH,
                        extra_k=branch.friction,
                        entry_angle=45.0,
                    ),
                    Duct(
                        id="BC",
                        into="CD",
                        diameter=5.5 * INCH,
                        extra_k=other.friction,
                        elbows=(Elbow(k=0.24),),
                    ),
                ),
                pickups=(
                    Pickup(id="A", duct="AC", entry_k=0.65),
                    Pickup(id="B", duct="BC", entry_k=0.25),
                ),
                fan=Fan.quadratic(1.0, 1.0),
                air=Air(density=HANDBOOK_AIR),
            )
        )
        solution = solve(network, (), flow=total)
        assert solution.flow_of("A") == pytest.approx(branch.flow, rel=1e-9)
        assert solution.flow_of("B") == pytest.approx(raised, rel=1e-9)
        assert solution.suction / INWG == pytest.approx(6.3604, abs=2e-4)
        assert solution.suction_at("AC") / INWG == pytest.approx(3.7163, abs=1e-4)
        assert solution.suction_at("BC") / INWG == pytest.approx(3.7163, abs=1e-4)
