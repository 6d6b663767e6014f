"""A plan is checked whole, and each problem named at its part and field."""

from dataclasses import replace
import math
from typing import Any

import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    SIGNAL_LEVELS,
    CollectorConfig,
    ConfigError,
    ConfigProblem,
    GateConfig,
    GateKind,
    LinkedDeviceConfig,
    MachineConfig,
    PurgeStep,
    SystemConfig,
    Thresholds,
    find_problems,
    gates_of,
    threshold_problems,
)
from custom_components.gatewright.core.kinds import (
    KIND_DEFAULTS,
    LEVEL_DEFAULTS,
    MachineKind,
)

GATE = GateConfig(gate_id="gate", name="Gate")
MACHINE = MachineConfig(machine_id="machine", name="Machine", gates=("gate",))
COLLECTING = CollectorConfig(name="Collector")


def problems(
    collector: CollectorConfig = COLLECTING,
    gates: tuple[GateConfig, ...] = (GATE,),
    machines: tuple[MachineConfig, ...] = (MACHINE,),
    linked_devices: tuple[LinkedDeviceConfig, ...] = (),
) -> list[tuple[str, str, str, str]]:
    return [
        (p.part, p.field, p.code, p.about)
        for p in find_problems(collector, gates, machines, linked_devices)
    ]


def test_sound_plan() -> None:
    assert problems() == []
    system = SystemConfig(collector=COLLECTING, gates=(GATE,), machines=(MACHINE,))
    assert system.warnings == ()


def test_shop_without_gates_simply_runs_its_collector() -> None:
    plain = replace(MACHINE, gates=(), purge=(PurgeStep(gates=()),))
    assert problems(gates=(), machines=(plain,)) == []


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"shutoff_delay": -1.0}, ("shutoff_delay", "negative", "")),
        ({"spin_down": math.nan}, ("spin_down", "negative", "")),
        ({"rest": math.inf}, ("rest", "negative", "")),
        ({"longest_shutoff_delay": -1.0}, ("longest_shutoff_delay", "negative", "")),
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
        (
            {"collect_while_running": False},
            ("collect_while_running", "machine_never_gets_air", ""),
        ),
        (
            {"purge": (PurgeStep(gates=()),)},
            ("purge", "clearing_without_gates", ""),
        ),
        (
            {"purge": (PurgeStep(gates=("other",)),)},
            ("purge", "unknown_gate", "other"),
        ),
        (
            {"purge": (PurgeStep(gates=("gate",), duration=-1.0),)},
            ("purge", "negative", ""),
        ),
        (
            {"linked_devices": ("light",)},
            ("linked_devices", "unknown_companion", "light"),
        ),
        (
            {"levels": Thresholds(start=50.0, stop=50.0)},
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
        (Thresholds(start=100.0, stop=50.0), []),
        (SIGNAL_LEVELS, []),
        (Thresholds(start=100.0, stop=-1.0), ["stop"]),
        (Thresholds(start=0.0, stop=-1.0), ["start", "stop"]),
        (Thresholds(start=math.nan, stop=1.0), ["start", "stop"]),
        (Thresholds(start=100.0, stop=math.nan), ["stop"]),
        (Thresholds(start=100.0, stop=50.0, start_confirm=-1.0), ["start_confirm"]),
        (Thresholds(start=100.0, stop=50.0, stop_confirm=-1.0), ["stop_confirm"]),
        (Thresholds(start=100.0, stop=50.0, dropout=math.inf), ["dropout"]),
    ],
)
def test_levels(levels: Thresholds, expected: list[str]) -> None:
    assert [p.field for p in threshold_problems("machine", levels)] == expected


def test_parts_that_share_an_id() -> None:
    found = problems(
        machines=(MACHINE, replace(MACHINE, machine_id="gate")),
        linked_devices=(
            LinkedDeviceConfig(linked_device_id="machine", name="Light", delay=-1.0),
        ),
    )
    assert found == [
        ("gate", "machine_id", "used_twice", ""),
        ("machine", "linked_device_id", "used_twice", ""),
        ("machine", "delay", "negative", ""),
    ]


def test_gate_that_nothing_uses_is_a_warning() -> None:
    spare = GateConfig(gate_id="spare", name="Spare")
    inlet = GateConfig(gate_id="inlet", name="Inlet", kind=GateKind.FIXED)
    system = SystemConfig(
        collector=COLLECTING, gates=(GATE, spare, inlet), machines=(MACHINE,)
    )
    assert system.warnings == (
        ConfigProblem(
            part="spare", field="gate_id", code="gate_without_machine", fatal=False
        ),
    )


def test_plan_that_cannot_work_is_refused_with_every_reason() -> None:
    with pytest.raises(ConfigError) as refused:
        SystemConfig(
            collector=replace(COLLECTING, shutoff_delay=-1.0),
            gates=(
                replace(GATE, travel=-1.0),
                GateConfig(gate_id="spare", name="Spare"),
            ),
            machines=(MACHINE,),
        )
    assert [(p.part, p.field) for p in refused.value.problems] == [
        (COLLECTOR, "shutoff_delay"),
        ("gate", "travel"),
    ]
    assert (
        str(refused.value) == "collector.shutoff_delay: negative, gate.travel: negative"
    )


def test_gates_of_a_machine_are_those_of_its_work_and_its_clearing() -> None:
    machine = replace(MACHINE, purge=(PurgeStep(gates=("sweep", "gate")),))
    assert gates_of(machine) == ("gate", "sweep", "gate")


def test_every_kind_of_machine_has_sensible_defaults() -> None:
    """Common practice, no source."""
    assert set(KIND_DEFAULTS) == set(MachineKind)
    for defaults in KIND_DEFAULTS.values():
        assert defaults.hold >= 0
        assert defaults.purge == 5.0
        assert defaults.by_hand is (defaults.request_limit is not None)
    assert KIND_DEFAULTS[MachineKind.MITER_SAW].hold == 15.0
    for start, stop in LEVEL_DEFAULTS.values():
        assert threshold_problems("machine", Thresholds(start=start, stop=stop)) == []
