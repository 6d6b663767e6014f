"""The effect of a hose, a gate, an elbow and an inlet on a whole shop."""

from functools import cache

import pytest

from custom_components.gatewright.core.airflow import (
    HOSES,
    MATERIALS_CARRIED,
    AirflowError,
    HoseState,
    Network,
    Pickup,
    Pipe,
    Seal,
    StepKind,
    assess,
    hose,
    leak_area,
    solve,
)
from custom_components.gatewright.core.airflow.fittings import leak
from custom_components.gatewright.core.airflow.units import CFM, FPM, INCH, INCH_WATER
from tests.airflow.reference_shop import MACHINES, reference_shop

NAMES = tuple(row[0] for row in MACHINES)


def flows(**changes: object) -> dict[str, float]:
    """Return what each machine gets on its own, m3/s."""
    network = Network(reference_shop(**changes))  # type: ignore[arg-type]
    return {name: solve(network, {f"{name}_gate"}).flow_of(name) for name in NAMES}


@cache
def as_drawn() -> dict[str, float]:
    """Return the flows with hoses stretched and gates airtight."""
    return flows()


def change(after: dict[str, float], before: dict[str, float]) -> list[float]:
    """Return the relative change of the flows."""
    return [after[name] / before[name] - 1.0 for name in NAMES]


def test_a_relaxed_hose_costs_6_to_16_percent() -> None:
    """Friction times two to four, taken as three: see `airflow.hose`."""
    for share in change(flows(state=HoseState.RELAXED), as_drawn()):
        assert -0.16 <= share <= -0.06


def test_bends_of_a_hanging_hose_cost_about_4_to_8_percent_more() -> None:
    relaxed = flows(state=HoseState.RELAXED)
    for share in change(flows(state=HoseState.HANGING), relaxed):
        assert -0.085 <= share <= -0.04


@pytest.mark.parametrize("diameter", [2.5, 3, 4, 5])
def test_a_bow_has_a_k_of_half_to_one(diameter: float) -> None:
    (bends,) = HOSES[HoseState.HANGING].bends
    assert 0.5 <= bends.coefficient(diameter * INCH) <= 1.0


def test_a_hose_is_rough_and_its_state_scales_its_friction() -> None:
    stretched = hose(0.1, 2.0)
    relaxed = hose(0.1, 2.0, HoseState.RELAXED)
    assert stretched == Pipe(diameter=0.1, length=2.0, roughness=stretched.roughness)
    assert (stretched.friction_scale, relaxed.friction_scale) == (1.0, 3.0)
    assert 2.0 <= relaxed.friction_scale <= 4.0
    with pytest.raises(AirflowError) as caught:
        Pipe(diameter=0.1, friction_scale=0.0)
    assert caught.value.code == "scale_range"


def test_closed_gates_that_leak_cost_6_to_13_percent() -> None:
    for seal, low, high in (
        (Seal.TIGHT, -0.03, -0.01),
        (Seal.USUAL, -0.08, -0.05),
        (Seal.WORN, -0.14, -0.09),
    ):
        for share in change(flows(seal=seal), as_drawn()):
            assert low <= share <= high


@pytest.mark.parametrize(
    ("seal", "cfm"), [(Seal.AIRTIGHT, 0), (Seal.TIGHT, 10), (Seal.USUAL, 40)]
)
def test_leakage_is_that_of_its_class(seal: Seal, cfm: float) -> None:
    """Cfm per square foot of duct at 1 in. w.g. (AMCA classes 2 and 3; memory)."""
    diameter = 4 * INCH
    area = leak_area(seal, diameter)
    if not cfm:
        assert area == 0.0
        return
    velocity = (2.0 * INCH_WATER / 1.2 / leak(area, diameter)) ** 0.5
    assert velocity == pytest.approx(cfm * FPM)


def test_elbows_by_diameter_cost_what_the_handbook_has() -> None:
    """A drop's gored elbow instead of the stamped one: up to 3 % of the flow."""
    gained = change(flows(construction="stamped"), as_drawn())
    assert all(0.0 < share < 0.04 for share in gained)
    assert max(gained) > 0.02


@pytest.mark.parametrize(("k", "least"), [(0.75, 0.015), (1.2, 0.024)])
def test_an_elbow_at_the_inlet_costs_2_to_5_percent(k: float, least: float) -> None:
    lost = [-share for share in change(flows(inlet_k=k), as_drawn())]
    assert all(least <= share <= 0.05 for share in lost)


def test_no_regain_at_all_is_too_much_for_a_lone_branch() -> None:
    """Counting none costs 3 to 8 % of the flow that a lone branch really has."""
    assert all(
        -0.09 <= share <= -0.03 for share in change(flows(regain=0.0), as_drawn())
    )


def test_what_rises_needs_the_upper_end_of_the_range() -> None:
    """3000 to 4000 ft/min for light shavings: 3500 along, 4000 up."""
    sawdust = MATERIALS_CARRIED["sawdust"]
    assert sawdust.minimum == pytest.approx(3500 * FPM)
    assert sawdust.rising == pytest.approx(4000 * FPM)
    for carried in MATERIALS_CARRIED.values():
        assert carried.rising >= carried.minimum
        assert carried.low <= carried.rising
    pickup = Pickup(id="p", duct="d", transport=3.0, rising=4.0)
    assert (pickup.needs(vertical=False), pickup.needs(vertical=True)) == (3.0, 4.0)
    plain = Pickup(id="p", duct="d", transport=3.0)
    assert plain.needs(vertical=True) == 3.0


def test_a_drop_is_held_to_the_velocity_of_what_rises() -> None:
    """The saw's 5 in drop is fast enough for a level run and not for a vertical one."""
    network = Network(reference_shop(fan=reference_shop().fan.scaled(speed=0.81)))
    (saw,) = assess(network, {"table_saw_gate"}).pickups
    sawdust = MATERIALS_CARRIED["sawdust"]
    assert sawdust.minimum < saw.velocity < sawdust.rising == saw.transport
    assert not saw.carries
    assert saw.flow > 350 * CFM


def test_the_hood_is_what_a_small_port_spends_most_on() -> None:
    network = Network(reference_shop())
    first = assess(network, {"table_saw_gate"}).limits[0]
    assert first.kind is StepKind.HOOD


@pytest.mark.parametrize(
    ("material", "ratio"),
    [("fine_dust", 0.86), ("sawdust", 0.76), ("chips", 0.64), ("heavy", 0.48)],
)
def test_pieces_fall_behind_the_air(material: str, ratio: float) -> None:
    """Hinkle: 1 - 0.0638 d^0.3 rho^0.5."""
    carried = MATERIALS_CARRIED[material]
    by_hand = 1 - 0.0638 * carried.piece**0.3 * carried.density**0.5
    assert carried.velocity_ratio == pytest.approx(by_hand)
    assert carried.velocity_ratio == pytest.approx(ratio, abs=0.005)
