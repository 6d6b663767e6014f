"""Names that are offered, and what names give away."""

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest

from custom_components.gatewright.flow_names import (
    free_name,
    gate_name,
    guess_gates,
    guess_kind,
    machine_name,
)
from custom_components.gatewright.shop.kinds import MachineKind

from .flow_helpers import Hub


@pytest.mark.parametrize(
    ("entity", "machine"),
    [
        ("Planer plug power", "Planer"),
        ("Smart plug table saw active power", "Table saw"),
        ("lathe clamp current", "Lathe"),
        ("Band saw", "Band saw"),
        ("Power feeder plug power", "Feeder"),
        ("Plug 3 power", "3"),
        ("Smart plug power", "Smart plug power"),
        ("drum_sander_power", "Drum sander"),
    ],
)
async def test_machine_names(hass: HomeAssistant, entity: str, machine: str) -> None:
    hass.states.async_set("sensor.one", "0", {"friendly_name": entity})
    assert machine_name(hass, "sensor.one") == machine


@pytest.mark.parametrize(
    ("entity", "gate"),
    [
        ("Planer gate actuator", "Planer gate"),
        ("Router table gate contact", "Router table gate"),
        ("Bench gate open limit", "Bench gate"),
        ("Valve 3", "Valve 3"),
        ("Relay 4 switch", "4"),
        ("Servo", "Servo"),
    ],
)
async def test_gate_names(hass: HomeAssistant, entity: str, gate: str) -> None:
    hass.states.async_set("switch.one", "off", {"friendly_name": entity})
    assert gate_name(hass, "switch.one") == gate


async def test_names_of_entities_that_are_not_there(hass: HomeAssistant) -> None:
    hub = Hub(hass)
    hub.add("sensor.planer", "Planer power", unit="W", device="Planer plug")
    hass.states.async_remove("sensor.planer")
    assert machine_name(hass, "sensor.planer") == "Planer"
    er.async_get(hass).async_update_entity("sensor.planer", name="Jointer power")
    assert machine_name(hass, "sensor.planer") == "Jointer"
    assert machine_name(hass, "sensor.lathe_power") == "Sensor.lathe"


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Table saw", MachineKind.TABLE_SAW),
        ("Cabinet saw", MachineKind.TABLE_SAW),
        ("BANDSAW", MachineKind.BAND_SAW),
        ("Thicknesser", MachineKind.PLANER),
        ("Jointer planer", MachineKind.JOINTER),
        ("Mitre saw", MachineKind.MITER_SAW),
        ("Chop saw", MachineKind.MITER_SAW),
        ("Wide belt sander", MachineKind.DRUM_SANDER),
        ("Orbital sander", MachineKind.SANDER),
        ("Spindle shaper", MachineKind.ROUTER_TABLE),
        ("Router table", MachineKind.ROUTER_TABLE),
        ("Small lathe", MachineKind.LATHE),
        ("Drill press", MachineKind.DRILL_PRESS),
        ("Floor sweep", MachineKind.FLOOR_SWEEP),
        ("Bench hood", MachineKind.BENCH_HOOD),
        ("Tool hose", MachineKind.TOOL_HOSE),
        ("Shop vacuum", MachineKind.OTHER),
        ("Saw", MachineKind.OTHER),
    ],
)
def test_kinds(name: str, kind: MachineKind) -> None:
    assert guess_kind(name) is kind


@pytest.mark.parametrize(
    ("machine", "gates"),
    [
        ("Table saw", ["Table saw cabinet gate", "Table saw guard gate"]),
        ("Band saw", ["Saw gate"]),
        ("Lathe", ["Lathe and drill press gate"]),
        ("Drill press", ["Lathe and drill press gate"]),
        ("Bench hood", ["Bench hood gate"]),
        ("Bench", ["Bench gate", "Bench hood gate"]),
        ("Machine 2", []),
        ("Planer", []),
    ],
)
def test_gates_by_name(machine: str, gates: list[str]) -> None:
    names = (
        "Table saw cabinet gate",
        "Table saw guard gate",
        "Saw gate",
        "Lathe and drill press gate",
        "Bench gate",
        "Bench hood gate",
        "Gate 2",
    )
    assert guess_gates(machine, {name: name for name in names}) == gates


def test_the_only_gate_is_everybodys() -> None:
    assert guess_gates("Planer", {"g1": "Main gate"}) == ["g1"]
    assert guess_gates("Planer", {}) == []


def test_free_names() -> None:
    assert free_name("Gate", set()) == "Gate"
    assert free_name("Gate", {"gate", "gate 2"}) == "Gate 3"
