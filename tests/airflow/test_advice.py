from dataclasses import replace

import pytest

from custom_components.gatewright.core.airflow import (
    AirflowError,
    Duct,
    DuctSystem,
    Network,
    Pickup,
    Pipe,
    SlideGate,
    StepKind,
    alone,
    assess,
    assess_all,
    assess_machines,
    bleed_gates,
    open_pickups,
    pairs,
    solve,
    transit_time,
)
from tests.airflow.shops import FAN, SPIRAL, shop


def narrow_main() -> DuctSystem:
    """Return the shop with a main that a single machine can keep fast enough."""
    system = shop(inlet_diameter=0.145)
    sizes = {"main": 0.145, "middle": 0.13, "far": 0.12, "saw_drop": 0.12}
    return replace(
        system, ducts=tuple(replace(d, diameter=sizes[d.id]) for d in system.ducts)
    )


def test_a_machine_that_gets_all_it_needs() -> None:
    network = Network(narrow_main())
    result = assess_machines(network, "planer")
    assert result.machines == ("planer",)
    assert result.gates == {"planer_gate"}
    assert result.no_gate_coming == ()
    assert result.slow == ()
    assert result.ok
    assert result.main_ok
    pickup = result.pickups[0]
    assert pickup.enough
    assert pickup.carries
    assert pickup.flow == result.solution.flow_of("planer")
    assert pickup.satisfaction == pytest.approx(pickup.flow / 0.21)
    assert pickup.hood_suction == result.solution.hood_suction("planer")
    assert result.main_velocity == result.solution.duct_velocity("main")
    assert result.leakage == pytest.approx(0.0, abs=1e-9)
    assert [duct.duct for duct in result.ducts] == ["far", "middle", "main"]
    assert [duct.main for duct in result.ducts] == [False, False, True]
    # A duct must carry what its upstream pickups bring.
    assert {duct.transport for duct in result.ducts} == {pickup.transport}


def test_a_small_pickup_leaves_the_main_too_slow() -> None:
    result = assess_machines(Network(shop()), "sander")
    assert result.slow == ("far", "middle", "main")
    assert not result.ok
    assert not result.main_ok
    assert result.no_gate_coming == ()


def test_too_many_at_once_are_starved() -> None:
    network = Network(narrow_main())
    everything = assess(network, network.gates)
    assert "planer" in everything.no_gate_coming
    assert not everything.ok
    neediest = everything.neediest
    assert neediest is not None
    ratios = [r.satisfaction for r in everything.pickups if r.satisfaction is not None]
    assert neediest.satisfaction == min(ratios)


def test_slow_hose_of_a_pickup() -> None:
    """Its own pipes are rated as well, at their widest."""
    system = narrow_main()
    wide = replace(
        system,
        pickups=tuple(
            replace(p, pipes=(Pipe(diameter=0.25, length=1.0),))
            if p.id == "planer"
            else p
            for p in system.pickups
        ),
    )
    result = assess_machines(Network(wide), "planer")
    assert result.slow == ("planer",)
    assert not result.pickups[0].carries


def test_nothing_open_is_not_well() -> None:
    result = assess(Network(shop()), ())
    assert not result.ok
    assert result.pickups == ()
    assert result.neediest is None
    assert result.limits == ()
    assert result.transit == 0.0
    assert result.machines == ()


def test_limits_are_the_neediest_pickups_way() -> None:
    result = assess_machines(Network(shop()), "saw")
    assert sum(limit.share for limit in result.limits) == pytest.approx(1.0)
    shares = [limit.share for limit in result.limits]
    assert shares == sorted(shares, reverse=True)
    whole = sum(limit.pressure for limit in result.limits)
    assert result.limits[0].share == pytest.approx(result.limits[0].pressure / whole)
    hose = next(
        limit
        for limit in result.limits
        if limit.element.startswith("saw_") and limit.kind is StepKind.HOSE
    )
    assert 0.02 < hose.share < 0.9


def test_without_requirements_the_least_flow_is_the_neediest() -> None:
    system = shop()
    free = replace(
        system,
        pickups=tuple(replace(p, required=0.0, machine=None) for p in system.pickups),
    )
    result = assess(Network(free), {"saw_gate", "planer_gate"})
    assert result.neediest is not None
    assert result.neediest.pickup == "saw_above"
    assert result.neediest.satisfaction is None
    assert result.machines == ()


def test_open_ways() -> None:
    network = Network(shop())
    assert open_pickups(network, {"saw_gate"}) == ("saw_below", "saw_above")
    assert open_pickups(network, ()) == ()


def test_leaking_gates_are_not_judged() -> None:
    system = narrow_main()
    leaky = replace(
        system,
        pickups=tuple(
            replace(p, gate=replace(p.gate, leak_area=3e-4)) if p.gate else p
            for p in system.pickups
        ),
    )
    result = assess_machines(Network(leaky), "planer")
    assert [r.pickup for r in result.pickups] == ["planer"]
    assert result.leakage > 0.01


def test_every_machine_and_every_pair() -> None:
    network = Network(shop())
    singles = dict(alone(network))
    assert list(singles) == ["saw", "planer", "sander", "sweep"]
    both = dict(pairs(network))
    assert len(both) == 6
    together = both["saw", "planer"]
    assert together.machines == ("saw", "planer")
    # Two share what one had alone, and the collector moves more.
    for pickup in together.pickups:
        single = singles[str(pickup.machine)]
        before = next(r.flow for r in single.pickups if r.pickup == pickup.pickup)
        assert pickup.flow < before
        assert together.solution.flow > single.solution.flow
    sets = assess_all(network, [{"saw_gate"}, {"planer_gate"}], speed=0.8)
    assert [result.machines for result in sets] == [("saw",), ("planer",)]
    assert sets[0].solution.flow < singles["saw"].solution.flow


def test_transit_time_is_length_over_velocity() -> None:
    network = Network(shop())
    solution = solve(network, {"sander_gate"})
    seconds = 0.0
    for length, diameter in (
        (2.5, 0.08),
        (2.0, 0.1),
        (5.0, 0.125),
        (3.0, 0.16),
        (4.0, 0.18),
    ):
        seconds += length * 0.7853981634 * diameter**2 / solution.flow_of("sander")
    assert transit_time(solution, "sander") == pytest.approx(seconds)
    # Material that moves at two thirds of the air's velocity.
    assert transit_time(solution, "sander", slip=2 / 3) == pytest.approx(1.5 * seconds)
    assert assess(network, {"sander_gate"}).transit == pytest.approx(seconds)
    for element in ("planer", "main"):
        with pytest.raises(AirflowError) as caught:
            transit_time(solution, element)
        assert caught.value.code == "no_flow"


class TestRelief:
    """Which gate to open beside a small one so that the main keeps its velocity."""

    def test_nothing_to_do(self) -> None:
        network = Network(narrow_main())
        assert bleed_gates(network, {"planer_gate"}, margin=1.0) == ()
        # With the default margin the main is slightly slow, and no gate fixes that without taking from
        # the planer: nothing to do.
        assert not any(o.restored for o in bleed_gates(network, {"planer_gate"}))

    def test_one_more_gate_does_it(self) -> None:
        """The saw alone leaves the main slightly slow; a small pickup helps most."""
        network = Network(narrow_main())
        before = assess(network, {"saw_gate"})
        assert before.slow == ("main",)
        options = bleed_gates(network, {"saw_gate"})
        assert frozenset({"sander_gate"}) in {option.gates for option in options}
        for option in options:
            assert option.restored
            assert option.margin >= 1.0
            after = assess(
                network,
                {"saw_gate"} | option.gates,
                pickups=("saw_below", "saw_above"),
            )
            assert after.ok
            assert [r.pickup for r in option.assessment.pickups] == [
                "saw_below",
                "saw_above",
            ]
        flows = [sum(r.flow for r in o.assessment.pickups) for o in options]
        assert flows == sorted(flows, reverse=True)

    def test_only_these_may_be_opened(self) -> None:
        network = Network(narrow_main())
        options = bleed_gates(network, {"saw_gate"}, candidates=["sander", "saw_below"])
        assert [option.gates for option in options] == [{"sander_gate"}]
        assert bleed_gates(network, {"saw_gate"}, candidates=[]) == ()
        with pytest.raises(AirflowError):
            bleed_gates(network, {"saw_gate"}, candidates=["none"])

    def test_what_starves_the_wanted_one_is_no_relief(self) -> None:
        """All others open keep the main fast and leave the sander's hose too slow."""
        network = Network(narrow_main())
        everything = assess(network, network.gates, pickups=("sander",))
        assert everything.main_ok
        assert "sander" in everything.slow
        (option,) = bleed_gates(network, {"sander_gate"})
        assert option.assessment.main_ok
        assert not option.restored
        # The lesser evil: the hose at 0.73 of what it needs, the main at 0.69 before.
        slowest = min(r.velocity / r.transport for r in option.assessment.pickups)
        assert option.margin == pytest.approx(slowest)

    @staticmethod
    def wide_shop(count: int) -> Network:
        """Return many small pickups on a main that needs several of them."""
        return Network(
            DuctSystem(
                ducts=(Duct(id="main", diameter=0.22, length=3.0, roughness=SPIRAL),),
                pickups=tuple(
                    Pickup(
                        id=f"p{i}",
                        duct="main",
                        pipes=(Pipe(diameter=0.1, length=2.0),),
                        gate=SlideGate(id=f"g{i}"),
                        required=0.05,
                        transport=18.0,
                    )
                    for i in range(count)
                ),
                fan=FAN,
            )
        )

    def test_several_gates_together(self) -> None:
        network = self.wide_shop(8)
        options = bleed_gates(network, {"g0"}, most=5)
        assert len(options) == 1
        assert options[0].restored
        assert len(options[0].gates) > 1
        again = assess(network, {"g0"} | options[0].gates, pickups=("p0",))
        assert again.slow == ()

    def test_the_best_there_is(self) -> None:
        """Not restored, but nearer; as many as allowed, or as there are."""
        network = self.wide_shop(8)
        before = assess(network, {"g0"})
        (option,) = bleed_gates(network, {"g0"}, most=2)
        assert not option.restored
        assert len(option.gates) == 2
        assert option.assessment.main_velocity > before.main_velocity
        (option,) = bleed_gates(self.wide_shop(2), {"g0"})
        assert option.gates == {"g1"}
        assert not option.restored

    def test_pickups_that_ask_for_nothing_are_no_measure(self) -> None:
        system = narrow_main()
        calm = replace(
            system,
            pickups=tuple(
                replace(p, required=0.0, transport=0.0) if p.id == "saw_above" else p
                for p in system.pickups
            ),
        )
        (option, *_) = bleed_gates(Network(calm), {"saw_gate"}, candidates=["sander"])
        assert option.restored

    def test_no_gate_helps(self) -> None:
        """Where the slow duct is the small pickup's own, others only take from it."""
        system = narrow_main()
        slow = replace(
            system,
            ducts=tuple(
                replace(d, diameter=0.3) if d.id == "far" else d for d in system.ducts
            ),
        )
        network = Network(slow)
        assert "far" in assess(network, {"sander_gate"}).slow
        assert (
            bleed_gates(network, {"sander_gate"}, candidates=["saw_below", "sweep"])
            == ()
        )
