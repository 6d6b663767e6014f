"""A plan is checked whole, and each problem named at its part and field."""

from dataclasses import replace
import math
from typing import Any

import pytest

from custom_components.gatewright.shop.kinds import (
    KIND_DEFAULTS,
    LEVEL_DEFAULTS,
    MachineKind,
)
from custom_components.gatewright.shop.plan import (
    COLLECTOR,
    SIGNAL_LEVELS,
    ClearingStep,
    Collector,
    Companion,
    Gate,
    GateKind,
    Levels,
    Machine,
    PlanError,
    Problem,
    System,
    find_problems,
    gates_of,
    levels_problems,
)

GATE = Gate(gate_id="gate", name="Gate")
MACHINE = Machine(machine_id="machine", name="Machine", gates=("gate",))
COLLECTING = Collector(name="Collector")


def problems(
    collector: Collector = COLLECTING,
    gates: tuple[Gate, ...] = (GATE,),
    machines: tuple[Machine, ...] = (MACHINE,),
    companions: tuple[Companion, ...] = (),
) -> list[tuple[str, str, str, str]]:
    return [
        (p.part, p.field, p.code, p.about)
        for p in find_problems(collector, gates, machines, companions)
    ]


def test_sound_plan() -> None:
    assert problems() == []
    system = System(collector=COLLECTING, gates=(GATE,), machines=(MACHINE,))
    assert system.warnings == ()


def test_shop_without_gates_simply_runs_its_collector() -> None:
    plain = replace(MACHINE, gates=(), clearing=(ClearingStep(gates=()),))
    assert problems(gates=(), machines=(plain,)) == []


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"run_on": -1.0}, ("run_on", "negative", "")),
        ({"coast": math.nan}, ("coast", "negative", "")),
        ({"rest": math.inf}, ("rest", "negative", "")),
        ({"longest_run_on": -1.0}, ("longest_run_on", "negative", "")),
        ({"starts_per_hour": 0.0}, ("starts_per_hour", "not_positive", "")),
        ({"starts_per_hour": math.nan}, ("starts_per_hour", "not_positive", "")),
        ({"starts_per_hour": math.inf}, ("starts_per_hour", "not_positive", "")),
        ({"hand_gates": ("other",)}, ("hand_gates", "unknown_gate", "other")),
    ],
)
def test_collector(changes: dict[str, Any], expected: tuple[str, str, str]) -> None:
    assert problems(replace(COLLECTING, **changes)) == [(COLLECTOR, *expected)]


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"gates": ()}, ("gates", "machine_without_gates", "")),
        ({"gates": ("gate", "other")}, ("gates", "unknown_gate", "other")),
        ({"hold": -0.5}, ("hold", "negative", "")),
        ({"request_limit": -1.0}, ("request_limit", "negative", "")),
        ({"run_limit": -1.0}, ("run_limit", "negative", "")),
        ({"needs_air": False}, ("needs_air", "machine_never_gets_air", "")),
        (
            {"clearing": (ClearingStep(gates=()),)},
            ("clearing", "clearing_without_gates", ""),
        ),
        (
            {"clearing": (ClearingStep(gates=("other",)),)},
            ("clearing", "unknown_gate", "other"),
        ),
        (
            {"clearing": (ClearingStep(gates=("gate",), duration=-1.0),)},
            ("clearing", "negative", ""),
        ),
        ({"companions": ("light",)}, ("companions", "unknown_companion", "light")),
        (
            {"levels": Levels(start=50.0, stop=50.0)},
            ("stop", "stop_not_below_start", ""),
        ),
    ],
)
def test_machine(changes: dict[str, Any], expected: tuple[str, str, str]) -> None:
    found = problems(machines=(MACHINE, replace(MACHINE, machine_id="m2", **changes)))
    assert found == [("m2", *expected)]


@pytest.mark.parametrize(
    ("levels", "expected"),
    [
        (Levels(start=100.0, stop=50.0), []),
        (SIGNAL_LEVELS, []),
        (Levels(start=100.0, stop=-1.0), ["stop"]),
        (Levels(start=0.0, stop=-1.0), ["start", "stop"]),
        (Levels(start=math.nan, stop=1.0), ["start", "stop"]),
        (Levels(start=100.0, stop=math.nan), ["stop"]),
        (Levels(start=100.0, stop=50.0, start_settle=-1.0), ["start_settle"]),
        (Levels(start=100.0, stop=50.0, stop_settle=-1.0), ["stop_settle"]),
        (Levels(start=100.0, stop=50.0, grace=math.inf), ["grace"]),
    ],
)
def test_levels(levels: Levels, expected: list[str]) -> None:
    assert [p.field for p in levels_problems("machine", levels)] == expected


def test_parts_that_share_an_id() -> None:
    found = problems(
        machines=(MACHINE, replace(MACHINE, machine_id="gate")),
        companions=(Companion(companion_id="machine", name="Light", delay=-1.0),),
    )
    assert found == [
        ("gate", "machine_id", "used_twice", ""),
        ("machine", "companion_id", "used_twice", ""),
        ("machine", "delay", "negative", ""),
    ]


def test_gate_that_nothing_uses_is_a_warning() -> None:
    spare = Gate(gate_id="spare", name="Spare")
    inlet = Gate(gate_id="inlet", name="Inlet", kind=GateKind.FIXED)
    system = System(
        collector=COLLECTING, gates=(GATE, spare, inlet), machines=(MACHINE,)
    )
    assert system.warnings == (
        Problem(
            part="spare", field="gate_id", code="gate_without_machine", fatal=False
        ),
    )


def test_plan_that_cannot_work_is_refused_with_every_reason() -> None:
    with pytest.raises(PlanError) as refused:
        System(
            collector=replace(COLLECTING, run_on=-1.0),
            gates=(replace(GATE, travel=-1.0), Gate(gate_id="spare", name="Spare")),
            machines=(MACHINE,),
        )
    assert [(p.part, p.field) for p in refused.value.problems] == [
        (COLLECTOR, "run_on"),
        ("gate", "travel"),
    ]
    assert str(refused.value) == "collector.run_on: negative, gate.travel: negative"


def test_gates_of_a_machine_are_those_of_its_work_and_its_clearing() -> None:
    machine = replace(MACHINE, clearing=(ClearingStep(gates=("sweep", "gate")),))
    assert gates_of(machine) == ("gate", "sweep", "gate")


def test_every_kind_of_machine_has_sensible_defaults() -> None:
    """Common practice, no source."""
    assert set(KIND_DEFAULTS) == set(MachineKind)
    for defaults in KIND_DEFAULTS.values():
        assert defaults.hold >= 0
        assert defaults.clearing == 5.0
        assert defaults.by_hand is (defaults.request_limit is not None)
    assert KIND_DEFAULTS[MachineKind.MITER_SAW].hold == 15.0
    for start, stop in LEVEL_DEFAULTS.values():
        assert levels_problems("machine", Levels(start=start, stop=stop)) == []
