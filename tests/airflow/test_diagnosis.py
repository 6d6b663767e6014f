"""Faults in the shop, and whether the readings identify them."""

from dataclasses import replace
from random import Random

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.airflow import (
    CALIBRATED,
    CAUSES,
    AirflowError,
    AirflowFinding,
    CheckKind,
    Diagnosis,
    DuctSystem,
    Filter,
    Network,
    Pickup,
    PressureReading,
    Solution,
    diagnose,
    solve,
)
from custom_components.gatewright.core.airflow.diagnosis import implied_flow
from tests.airflow.reference_shop import MACHINES, reference_shop
from tests.airflow.shops import FAN, shop

GATES = {"planer_gate"}


def faulty(system: DuctSystem, speed: float = 1.0) -> Solution:
    """Return the real behavior of a shop with a fault."""
    return solve(Network(system), GATES, speed=speed)


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
        (blocked, True, False, AirflowFinding.BLOCKED),
        (blocked, True, True, AirflowFinding.BLOCKED),
        (leaking, True, False, AirflowFinding.LEAK),
        (leaking, False, True, AirflowFinding.LEAK),
        (weak, True, False, AirflowFinding.WEAK_FAN),
        (loaded, True, False, AirflowFinding.FILTER_LOADED),
        (loaded, True, True, AirflowFinding.FILTER_LOADED),
        (torn, True, True, AirflowFinding.FILTER_PASSES),
        (torn, True, False, AirflowFinding.FILTER_PASSES),
    ],
)
def test_faults(
    fault: object, with_filter: bool, with_flow: bool, finding: AirflowFinding
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
    assert found.finding is found.findings[0] is finding
    assert found.causes[: len(CAUSES[finding])] == CAUSES[finding]
    assert found.solution.flow != pytest.approx(really.flow, rel=1e-3)


def test_one_gauge_and_one_set_of_gates_cannot_tell() -> None:
    """A dirty filter, a weak fan and a leak all lower the suction: it says so."""
    for fault in (leaking, weak, loaded):
        found = diagnose(Network(shop()), GATES, suction=fault().suction)
        assert found.finding is AirflowFinding.UNDECIDED
        assert len(found.suspects) > 1
        assert {AirflowFinding.WEAK_FAN, AirflowFinding.FILTER_LOADED} & set(
            found.findings
        )
        if fault is leaking:
            assert AirflowFinding.LEAK in found.findings
            assert "open_access" in found.causes
        assert {"dirty_filter", "slipping_belt"} & set(found.causes)
        # The advice is right too.
        assert found.checks[0].kind is CheckKind.CLEAN_FILTER
        assert CheckKind.OPEN_GATES in {check.kind for check in found.checks}
        assert found.loading is None


def test_a_fan_and_a_filter_look_the_same_to_suction_and_flow() -> None:
    """Both are behind the gauge; only the filter's own gauge tells them apart."""
    really = weak()
    found = diagnose(Network(shop()), GATES, suction=really.suction, flow=really.flow)
    assert set(found.findings[:2]) == {
        AirflowFinding.FILTER_LOADED,
        AirflowFinding.WEAK_FAN,
    }
    assert found.finding is AirflowFinding.UNDECIDED
    assert AirflowFinding.LEAK not in found.findings


NAMES = [row[0] for row in MACHINES]


def walked(real: DuctSystem, names: list[str], noise: float = 0.0) -> Diagnosis:
    """Take a suction gauge's reading at each machine's gate in turn, and diagnose."""
    entered = Network(reference_shop())
    really = Network(real)
    random = Random(3)
    readings = [
        PressureReading(
            gates=frozenset({f"{name}_gate"}),
            suction=solve(really, {f"{name}_gate"}).suction
            * (1.0 + random.gauss(0.0, noise)),
        )
        for name in names
    ]
    return diagnose(
        entered,
        readings[-1].gates,
        suction=readings[-1].suction,
        before=readings[:-1],
        tolerance=CALIBRATED,
    )


def weaker_fan(share: float) -> DuctSystem:
    system = reference_shop()
    points = tuple((q, p * share) for q, p in system.fan.points)
    return replace(system, fan=replace(system.fan, points=points))


def blocked_saw(k: float) -> DuctSystem:
    system = reference_shop()
    return replace(
        system,
        pickups=tuple(
            replace(p, entry_k=p.entry_k + k) if p.id == "table_saw" else p
            for p in system.pickups
        ),
    )


@pytest.mark.parametrize("noise", [0.0, 0.01])
class TestOneGaugeAndSeveralGates:
    """One suction gauge, read with one machine after another, tells causes apart."""

    def test_a_dirty_filter(self, noise: float) -> None:
        found = walked(reference_shop(loading=4.0), NAMES[::-1], noise)
        assert found.finding is AirflowFinding.FILTER_LOADED
        assert found.suspects[0].size == pytest.approx(4.0, rel=0.05)
        assert found.loading == pytest.approx(4.0, rel=0.05)
        assert found.suspects[0].lost == pytest.approx(0.11, abs=0.02)

    def test_an_optimistic_fan(self, noise: float) -> None:
        """The fan first, or a leak beside it: then it says which port to measure."""
        found = walked(weaker_fan(0.8), NAMES[::-1], noise)
        fan = next(s for s in found.suspects if s.finding is AirflowFinding.WEAK_FAN)
        assert fan.size == pytest.approx(0.8, abs=0.02)
        assert AirflowFinding.FILTER_LOADED not in found.findings
        if found.finding is not AirflowFinding.WEAK_FAN:
            assert found.finding is AirflowFinding.UNDECIDED
            assert found.findings[0] is AirflowFinding.WEAK_FAN
            (check,) = (c for c in found.checks if c.kind is CheckKind.READ_PORT)
            assert check.pickup == "table_saw"
            assert len(check.expected) >= 2

    def test_a_slipping_belt(self, noise: float) -> None:
        system = reference_shop()
        slow = replace(system, fan=system.fan.scaled(speed=0.85))
        found = walked(slow, NAMES[::-1], noise)
        # A gauge that reads too little looks the same; the figure says how slow it is.
        assert set(found.findings) <= {
            AirflowFinding.WEAK_FAN,
            AirflowFinding.IMPLAUSIBLE,
        }
        fan = next(s for s in found.suspects if s.finding is AirflowFinding.WEAK_FAN)
        assert fan.size == pytest.approx(0.85, abs=0.01)

    def test_a_branch_that_lost_a_fifth_of_its_flow(self, noise: float) -> None:
        real = blocked_saw(2.2)
        before = solve(Network(reference_shop()), {"table_saw_gate"}).flow
        after = solve(Network(real), {"table_saw_gate"}).flow
        assert 1 - after / before == pytest.approx(0.22, abs=0.02)
        found = walked(real, NAMES[::-1], noise)
        assert found.finding is AirflowFinding.BLOCKED
        assert found.suspects[0].element == "table_saw"
        assert found.suspects[0].lost == pytest.approx(1 - after / before, abs=0.05)

    def test_a_hole(self, noise: float) -> None:
        system = reference_shop()
        hole = Pickup(id="hole", duct="main0", entry_k=3.0)
        holed = replace(system, pickups=(*system.pickups, hole))
        assert walked(holed, NAMES[::-1], noise).finding is AirflowFinding.LEAK

    def test_nothing_wrong(self, noise: float) -> None:
        found = walked(reference_shop(), NAMES[::-1], noise)
        assert found.finding is AirflowFinding.AS_EXPECTED
        assert found.checks == ()


def test_the_other_gate_to_open_is_the_most_telling_one() -> None:
    """After the saw alone, the planer: its flow makes a dirty filter stand out."""
    found = walked(reference_shop(loading=4.0), ["table_saw"])
    assert found.finding is AirflowFinding.UNDECIDED
    check = next(c for c in found.checks if c.kind is CheckKind.OPEN_GATES)
    assert check.gates == {"planer_gate"}
    assert len(check.expected) == len(found.suspects[:3])
    clear = walked(reference_shop(loading=4.0), ["planer", "lathe", "table_saw"])
    assert clear.finding is AirflowFinding.FILTER_LOADED


def test_a_gauge_at_the_filter_decides_at_once() -> None:
    really = solve(Network(reference_shop(loading=4.0)), {"table_saw_gate"})
    found = diagnose(
        Network(reference_shop()),
        {"table_saw_gate"},
        suction=really.suction,
        filter_difference=really.filter_pressure,
    )
    assert found.finding is AirflowFinding.FILTER_LOADED
    assert found.loading == pytest.approx(4.0, rel=0.02)


@given(error=st.floats(-0.1, 0.1))
def test_a_healthy_shop(error: float) -> None:
    network = Network(shop())
    solution = solve(network, GATES)
    found = diagnose(
        network,
        GATES,
        suction=solution.suction * (1 + error),
        filter_difference=solution.filter_pressure,
        flow=solution.flow,
    )
    assert found.findings == (AirflowFinding.AS_EXPECTED,)
    assert found.suction_ratio == pytest.approx(1 + error)
    assert found.filter_ratio == pytest.approx(1.0)
    assert found.flow_ratio == pytest.approx(1.0)
    assert found.loading == pytest.approx(1.0)
    assert found.causes == ()


def test_flow_implied_by_the_suction() -> None:
    """Higher up its curve the fan moves less; the flow can be read off the suction."""
    network = Network(shop())
    solution = solve(network, GATES)
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
    assert both.findings == (AirflowFinding.FILTER_LOADED,)
    by_suction = diagnose(
        network,
        GATES,
        suction=really.suction,
        filter_difference=really.filter_pressure,
    )
    assert by_suction.loading == pytest.approx(6.0, rel=0.02)
    alone = diagnose(network, GATES, filter_difference=really.filter_pressure)
    assert alone.findings == (AirflowFinding.FILTER_LOADED,)
    assert alone.loading is not None
    assert alone.loading < 6.0


def readings(flow: float | None, through: float | None) -> tuple[AirflowFinding, ...]:
    """Return the findings for readings as shares of the expected values, without suction."""
    network = Network(shop())
    solution = solve(network, GATES)
    return diagnose(
        network,
        GATES,
        flow=None if flow is None else flow * solution.flow,
        filter_difference=(
            None if through is None else through * solution.filter_pressure
        ),
    ).findings


def test_without_a_suction_gauge() -> None:
    assert readings(1.0, None) == (AirflowFinding.AS_EXPECTED,)
    assert readings(1.3, None)[0] is AirflowFinding.LEAK
    assert {AirflowFinding.BLOCKED, AirflowFinding.WEAK_FAN} <= set(readings(0.6, None))
    assert readings(None, 1.0) == (AirflowFinding.AS_EXPECTED,)
    assert readings(None, 2.0) == (AirflowFinding.FILTER_LOADED,)
    assert {AirflowFinding.BLOCKED, AirflowFinding.FILTER_PASSES} <= set(
        readings(None, 0.5)
    )
    assert readings(1.0, 0.5) == (AirflowFinding.FILTER_PASSES,)


def test_readings_that_cannot_be() -> None:
    network = Network(shop())
    solution = solve(network, GATES)
    both_high = diagnose(
        network, GATES, suction=1.4 * solution.suction, flow=1.4 * solution.flow
    )
    assert both_high.findings[0] in {
        AirflowFinding.STRONG_FAN,
        AirflowFinding.IMPLAUSIBLE,
    }
    wrong_way = diagnose(network, GATES, suction=-500.0)
    assert wrong_way.findings == (AirflowFinding.IMPLAUSIBLE,)
    assert wrong_way.causes == ("sensor", "fan_data")
    still = diagnose(network, GATES, flow=0.0, filter_difference=0.0)
    assert AirflowFinding.BLOCKED in still.findings


def test_every_finding_has_its_causes() -> None:
    assert set(CAUSES) == set(AirflowFinding)


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
    solution = solve(network, GATES)
    found = diagnose(network, GATES, suction=solution.suction)
    assert found.findings == (AirflowFinding.AS_EXPECTED,)
