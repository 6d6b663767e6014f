"""The description of a workshop, and the one that the demo stands in."""

from collections.abc import Mapping
from typing import Any

import pytest

from demo.custom_components.virtual_workshop.layouts import build_layout
from demo.custom_components.virtual_workshop.model.layout import (
    GateKind,
    LayoutError,
    MeterKind,
)


def test_alder_yard_has_what_a_real_shop_has() -> None:
    yard = build_layout({})
    machines = yard.machines
    assert len(machines) >= 10
    assert sum(machine.movable for machine in machines.values()) == 2
    assert len(machines["band_saw"].gates) == 2
    assert machines["lathe"].gates == machines["drill_press"].gates
    assert machines["lathe"].meter_kind is MeterKind.CLAMP
    assert {gate.kind for gate in yard.gates.values()} == set(GateKind)
    assert any(gate.limits for gate in yard.gates.values())
    used = {gate for machine in machines.values() for gate in machine.gates}
    # Pickups without a meter.
    assert set(yard.gates) - used == {
        "miter_saw_rear_gate",
        "floor_sweep_gate",
        "bench_hood_gate",
    }
    assert yard.areas == ("Plant closet", "Machine room", "Bench room")


def test_no_part_takes_a_name_that_an_extraction_system_would_use() -> None:
    yard = build_layout({})
    for gate in yard.gates.values():
        assert gate.name.endswith((" actuator", " contact"))


def test_settings_are_changed_added_and_removed() -> None:
    yard = build_layout(
        {
            "collector": {"coast": 4},
            "gates": {
                "planer_gate": {"travel": 6},
                "new_gate": {"name": "New", "area": "Yard", "kind": "cover"},
                "bench_hood_gate": None,
            },
            "machines": {"shop_vacuum": None, "jointer": {"meter": {"interval": 20}}},
        }
    )
    assert yard.collector.coast == 4.0
    assert yard.gates["planer_gate"].travel == 6.0
    assert yard.gates["planer_gate"].kind is GateKind.VALVE
    assert yard.gates["new_gate"].name == "New"
    assert "bench_hood_gate" not in yard.gates
    assert "shop_vacuum" not in yard.machines
    assert yard.machines["jointer"].meter.interval == 20.0
    assert yard.machines["jointer"].work == 1500.0


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"gate": {}}, "Unknown settings: gate"),
        ({"gates": {"planer_gate": {"speed": 1}}}, "planer_gate: unknown settings"),
        ({"gates": {"new": {"name": "New"}}}, "new: missing settings: area, kind"),
        ({"gates": {"planer_gate": {"kind": "lid"}}}, "lid"),
        ({"gates": {"planer_gate": {"travel": "soon"}}}, "planer_gate: could not"),
        ({"gates": {"planer_gate": {"travel": 0}}}, "above 0 s"),
        ({"gates": {"planer_gate": None}}, "unknown gates: planer_gate"),
        ({"gates": {"planer_gate": 3}}, "maps named gates"),
        ({"gates": None}, "maps named gates"),
        ({"machines": {"jointer": {"movable": "no"}}}, "expected true or false"),
        ({"machines": {"jointer": {"gates": "jointer_gate"}}}, "expected a list"),
        ({"machines": {"jointer": {"meter": {"pace": 1}}}}, "jointer.meter: unknown"),
        ({"machines": {"planer_gate": {"name": "P", "area": "A"}}}, "unique"),
        ({"machines": {"site": {"name": "P", "area": "A"}}}, "unique"),
    ],
)
def test_nonsense_is_refused_with_its_place(
    changes: Mapping[str, Any], message: str
) -> None:
    with pytest.raises(LayoutError, match=message):
        build_layout(changes)
