"""What is advised in invented shops is what a careful engineer would advise."""

from dataclasses import replace
from math import pi, sqrt

import pytest

from custom_components.gatewright.core.airflow import (
    HOODS,
    MATERIALS,
    ChangeKind,
    DuctSystem,
    Network,
    PipeSort,
    StepKind,
    assess,
    bleed_gates,
    changes_for,
    loss_breakdown,
    port_limit,
    solve,
    what_if,
)
from custom_components.gatewright.core.airflow.units import CFM, INCH, INCH_WATER

from .invented_shops import BENCH, LONG_MAIN, ONE_MACHINE, SMALL_FAN, UNDERSIZED


class TestBleedGates:
    """A bleed gate gives what a machine has to spare, and takes nothing that it needs."""

    @pytest.mark.parametrize(
        ("system", "machine"),
        [
            (UNDERSIZED, "planer"),
            (UNDERSIZED, "jointer"),
            (LONG_MAIN, "jointer"),
        ],
    )
    def test_none_at_the_expense_of_a_machine_that_is_short(
        self, system: DuctSystem, machine: str
    ) -> None:
        """Another opening would make the main fast with air that the machine lacks."""
        network = Network(system)
        alone = assess(network, {machine})
        assert "main" in alone.slow or alone.verdict() != "enough"
        assert not any(option.restored for option in bleed_gates(network, {machine}))
        others = frozenset(network.gates) - {machine}
        for other in others:
            with_it = solve(network, {machine, other}).flow_of(machine)
            assert with_it < 0.95 * alone.solution.flow_of(machine)

    def test_from_a_machine_with_more_than_it_needs(self) -> None:
        """The sander draws three times its need, and cannot keep a 6 in main moving."""
        network = Network(BENCH)
        alone = assess(network, {"sander"})
        assert alone.slow == ("main",)
        (first, *_) = bleed_gates(network, {"sander"})
        assert first.restored
        after = assess(network, {"sander"} | first.gates, pickups=("sander",))
        assert after.ok

    @pytest.mark.parametrize("spare", [1.05, 1.12])
    def test_a_marginal_machine_keeps_what_it_needs(self, spare: float) -> None:
        """What had less than the margin must not fall below its bare need."""
        flow = solve(Network(BENCH), {"saw"}).flow_of("saw")
        tight = replace(
            BENCH,
            pickups=tuple(
                replace(p, required=flow / spare) if p.id == "saw" else p
                for p in BENCH.pickups
            ),
        )
        network = Network(tight)
        with_bench = solve(network, {"saw", "bench"}).flow_of("saw")
        assert with_bench < flow / spare
        found = bleed_gates(network, {"saw"})
        restored = {option.gates for option in found if option.restored}
        assert {"bench"} not in restored
        for gates in restored:
            left = solve(network, {"saw"} | gates).flow_of("saw")
            assert left >= 0.995 * flow / spare


class TestWeakFan:
    """No port and no pipe makes a fan stronger."""

    def test_by_hand(self) -> None:
        """A parabola meets one port: q = sqrt(p0 / (R + p0 / q0^2)).

        785 cfm at the 4,500 ft/min of a good port is 5.66 in, so a 6 in one.
        """
        found = port_limit(Network(UNDERSIZED), "planer")
        assert found is not None
        assert found.larger == pytest.approx(6 * INCH)
        area = pi / 4 * (6 * INCH) ** 2
        resistance = (1 + HOODS["machine_port"].coefficient) * 0.6 / area**2
        top, free = 7 * INCH_WATER, 650 * CFM
        by_hand = sqrt(top / (resistance + top / free**2))
        assert found.most == pytest.approx(by_hand, rel=0.02)
        assert found.weak_fan

    def test_a_good_port_is_not_blamed(self) -> None:
        """A 6 in port on a fan that gives 650 cfm at most."""
        wide = replace(
            UNDERSIZED,
            pickups=tuple(
                replace(p, pipes=(replace(p.pipes[0], diameter=6 * INCH),))
                for p in UNDERSIZED.pickups
            ),
        )
        found = port_limit(Network(wide), "planer")
        assert found is not None
        assert found.weak_fan
        assert found.most == pytest.approx(found.possible)

    def test_a_strong_fan(self) -> None:
        strong = replace(UNDERSIZED, fan=SMALL_FAN.scaled(speed=2.0))
        found = port_limit(Network(strong), "planer")
        assert found is not None
        assert not found.weak_fan


class TestChanges:
    """Only what an owner can build, and should."""

    def test_no_taper_inside_a_machine(self) -> None:
        """A hood's entry may be tapered where it is an open end or an enclosure."""
        network = Network(BENCH)
        hoods = {
            name: ChangeKind.BETTER_HOOD in {c.kind for c in changes_for(network, name)}
            for name in ("bench", "saw", "sander")
        }
        assert hoods == {"bench": True, "saw": False, "sander": False}

    def test_what_replaces_a_hose_is_metal(self) -> None:
        """Plastic pipe charges up: UFC 3-410-04N, 7-4.4, wants metal duct."""
        network = Network(BENCH)
        smooth = [
            c for c in changes_for(network, "bench") if c.kind is ChangeKind.SMOOTH
        ]
        assert [c.value for c in smooth] == [MATERIALS["galvanized"].roughness]

    def test_which_pipe_is_meant(self) -> None:
        network = Network(LONG_MAIN)
        wider = [c for c in changes_for(network, "saw") if c.kind is ChangeKind.WIDER]
        assert [c.piece(LONG_MAIN) for c in wider] == [
            PipeSort.HOSE,
            PipeSort.PIPE,
            PipeSort.PIPE,
        ]
        ported = replace(
            LONG_MAIN,
            pickups=tuple(
                replace(p, pipes=(replace(p.pipes[0], length=0.0), *p.pipes[1:]))
                for p in LONG_MAIN.pickups
            ),
        )
        assert wider[0].piece(ported) is PipeSort.PORT

    def test_a_larger_wheel_takes_more_of_the_motor(self) -> None:
        """Power goes with the fifth power of the diameter (fan laws): 1.61 times."""
        fan = replace(LONG_MAIN.fan, power=((0.0, 500.0), (0.5, 1500.0)))
        larger = fan.scaled(size=1.1)
        power, more = fan.shaft_power(0.3), larger.shaft_power(0.3 * 1.1**3)
        assert power is not None
        assert more is not None
        assert more / power == pytest.approx(1.61, abs=0.01)

    def test_lift_is_about_the_weakest_place(self) -> None:
        """The saw has its flow, and the main is slow: that is what counts."""
        network = Network(LONG_MAIN)
        before = assess(network, {"saw"})
        for gain in what_if(network, {"saw"}):
            assert gain.ratio == before.ratio
            assert gain.lift == pytest.approx(
                gain.assessment.ratio / before.ratio - 1.0
            )

    def test_nothing_needed_lifts_nothing(self) -> None:
        calm = replace(
            ONE_MACHINE,
            pickups=tuple(
                replace(p, required=0.0, transport=0.0, rising=0.0)
                for p in ONE_MACHINE.pickups
            ),
        )
        assert {gain.lift for gain in what_if(Network(calm), {"saw"})} == {0.0}


def test_a_hose_is_named_as_what_takes_the_suction() -> None:
    """Not as friction at a gate: the hose is what an owner can shorten."""
    network = Network(UNDERSIZED)
    found = assess(network, {"planer"})
    first = found.limits[0]
    assert (first.kind, first.element) == (StepKind.HOSE, "planer")
    steps = loss_breakdown(found.solution, "planer")
    kinds = {
        step.element: step.kind for step in steps if step.kind is StepKind.FRICTION
    }
    assert kinds == {"main": StepKind.FRICTION}
