"""Suggested names, and guesses from names."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest

from custom_components.gatewright.core.kinds import MachineKind
from custom_components.gatewright.forms.names import (
    free_name,
    gate_name,
    guess_gates,
    guess_kind,
    machine_name,
)

from .flow_helpers import Form, Hub, gate, machine, system, without_engine


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
        ("Zwischenstecker Bandsäge Leistung", "Bandsäge"),
        ("Steckdose der Tischkreissäge Wirkleistung", "Tischkreissäge"),
        ("Prise de la raboteuse puissance", "Raboteuse"),
        ("Scie à ruban prise connectée", "Scie à ruban"),
        ("Prise du tour consommation électrique", "Tour"),
        # What links stays where nothing was linked.
        ("Die grinder plug", "Die grinder"),
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
        ("Hobelschieber Antrieb", "Hobelschieber"),
        ("Schieber Bandsäge offen", "Schieber Bandsäge"),
        ("Actionneur de la vanne du tour", "Vanne du tour"),
        ("Vanne raboteuse fin de course", "Vanne raboteuse"),
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
        ("Tischkreissäge", MachineKind.TABLE_SAW),
        ("FORMATKREISSAEGE", MachineKind.TABLE_SAW),
        ("Handkreissäge", MachineKind.OTHER),
        ("Bandsäge", MachineKind.BAND_SAW),
        ("Kapp- und Gehrungssäge", MachineKind.MITER_SAW),
        ("Abrichthobel", MachineKind.JOINTER),
        ("Dickenhobel", MachineKind.PLANER),
        ("Walzenschleifer", MachineKind.DRUM_SANDER),
        ("Tellerschleifer", MachineKind.SANDER),
        ("Tischfräse", MachineKind.ROUTER_TABLE),
        ("Drechselbank", MachineKind.LATHE),
        ("Ständerbohrmaschine", MachineKind.DRILL_PRESS),
        ("Kehrdüse", MachineKind.FLOOR_SWEEP),
        ("Absaughaube", MachineKind.BENCH_HOOD),
        ("Schlauch Werkbank", MachineKind.TOOL_HOSE),
        ("Scie circulaire sur table", MachineKind.TABLE_SAW),
        ("Scie à format", MachineKind.TABLE_SAW),
        ("Scie à ruban", MachineKind.BAND_SAW),
        ("Scie à onglet", MachineKind.MITER_SAW),
        ("Dégauchisseuse", MachineKind.JOINTER),
        ("Raboteuse", MachineKind.PLANER),
        ("Ponceuse à cylindre", MachineKind.DRUM_SANDER),
        ("Ponceuse orbitale", MachineKind.SANDER),
        ("Toupie", MachineKind.ROUTER_TABLE),
        ("Tour à bois", MachineKind.LATHE),
        ("Tourniquet", MachineKind.OTHER),
        ("Perceuse à colonne", MachineKind.DRILL_PRESS),
        ("Aspiration au sol", MachineKind.FLOOR_SWEEP),
        ("Hotte d'établi", MachineKind.BENCH_HOOD),
        ("Flexible pour outil", MachineKind.TOOL_HOSE),
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


@pytest.mark.parametrize(
    ("machine", "gates"),
    [
        ("Bandsäge", ["Bandsägenschieber"]),
        ("Dickenhobel", ["Hobelschieber"]),
        ("Drechselbank", ["Schieber an der Drechselbank"]),
        ("Raboteuse", ["Vanne de la raboteuse"]),
        ("Tour à bois", ["Vanne du tour"]),
        ("Établi", ["Vanne de l'établi"]),
        ("Toupie", []),
    ],
)
def test_gates_by_german_and_french_names(machine: str, gates: list[str]) -> None:
    names = (
        "Bandsägenschieber",
        "Hobelschieber",
        "Schieber an der Drechselbank",
        "Vanne de la raboteuse",
        "Vanne du tour",
        "Vanne de l'établi",
    )
    assert guess_gates(machine, {name: name for name in names}) == gates


def test_the_only_gate_is_everybodys() -> None:
    assert guess_gates("Planer", {"g1": "Main gate"}) == ["g1"]
    assert guess_gates("Planer", {}) == []
    # Unless it's another machine's by its name.
    only = {"g1": "Planer gate"}
    assert guess_gates("Floor sweep", only, ["Planer"]) == []
    assert guess_gates("Planer", only, ["Floor sweep"]) == ["g1"]
    assert guess_gates("Floor sweep", {"g1": "Main gate"}, ["Planer"]) == ["g1"]


@pytest.fixture
def _engine_left_out(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.mark.usefixtures("_engine_left_out")
@pytest.mark.parametrize(
    "taken",
    [
        "Dust collector",
        "planer",
        "Planer  GATE",
        "west wing",
        "Jointer",
        " jointer gate ",
    ],
)
@pytest.mark.parametrize("part", [None, "gate", "machine"])
@pytest.mark.parametrize("changed", [False, True])
async def test_no_two_things_of_one_name(
    hass: HomeAssistant, taken: str, part: str | None, changed: bool
) -> None:
    """Systems, gates and machines of all systems: each has a unique name."""
    hub = Hub(hass)
    for name in ("Planer gate actuator", "Jointer gate actuator", "Spare actuator"):
        hub.damper(name)
    for name in ("collector", "west", "spare"):
        hub.add(f"switch.{name}", f"Relay {name}")
    system(
        hass,
        "West wing",
        "switch.west",
        parts={
            "w1": gate("Jointer gate", "cover.jointer_gate_actuator"),
            "w2": machine("Jointer", "w1"),
        },
    )
    entry = system(
        hass,
        parts={
            "g1": gate("Planer gate", "cover.planer_gate_actuator"),
            "g2": gate("Spare gate", "cover.spare_gate"),
            "m1": machine("Planer", "g1"),
            "m2": machine("Lathe", "g2"),
        },
    )
    form = Form(hass, entry)
    own = {None: "Dust collector", "gate": "Spare gate", "machine": "Lathe"}[part]
    if part is None:
        await (form.change() if changed else form.start())
    else:
        own_id = {"gate": "g2", "machine": "m2"}[part]
        await form.part(part, own_id if changed else None)
    await form.send(
        name=taken,
        **{} if changed else _enough(part),
        **{"actuator": "cover.spare_actuator"} if part == "gate" else {},
    )
    if changed and taken.casefold() == own.casefold():
        assert form.saved if part is None else form.ended == "reconfigure_successful"
        return
    assert form.errors == {"name": "name_used"}
    tidied = " ".join(taken.split())
    assert tidied in form.said["name_used"]
    await form.send(name="Free name")
    assert part is not None or changed or form.step == "machines"


def _enough(part: str | None) -> dict[str, Any]:
    """Return what a new system, gate or machine needs besides a name."""
    if part is None:
        return {"switch": "switch.spare"}
    return {} if part == "gate" else {"gates": ["g1"]}


@pytest.mark.usefixtures("_engine_left_out")
async def test_a_new_shop_has_no_two_things_of_one_name(hass: HomeAssistant) -> None:
    hub = Hub(hass)
    hub.add("switch.collector", "Collector")
    hub.damper("Planer")
    hub.damper("Planer gate")
    form = await Form(hass).start()
    await form.send(name="Shop", switch="switch.collector")
    await form.send(pickups=["Planer", "Planer gate", "Bench"])
    await form.send(gates=["cover.planer", "cover.planer_gate"], open_inlets=["Bench"])
    for _ in range(3):
        options = form.fields["gates"].config["options"]
        await form.send(gates=[option["value"] for option in options])
    titles = [part.title.casefold() for part in form.created.subentries.values()]
    assert len(titles) == len(set(titles)) == 6
    assert "shop" not in titles


def test_free_names() -> None:
    assert free_name("Gate", set()) == "Gate"
    assert free_name("Gate", {"gate", "gate 2"}) == "Gate 3"
