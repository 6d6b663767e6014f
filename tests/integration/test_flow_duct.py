"""Adding and changing ducts, gate locations, and machines' needs."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.features.airflow.ducts import into_of

from .flow_helpers import (
    Form,
    Hub,
    gate,
    machine,
    part_named,
    system,
    without_engine,
)
from .workshop import change_part


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


def duct(name: str, **data: Any) -> tuple[str, str, dict[str, Any]]:
    """Return a duct as stored."""
    return (
        "duct",
        name,
        {
            "diameter": 0.1524,
            "length": 3.048,
            "duct_material": "spiral",
            "entry_angle": 0.0,
            "elbows": [],
            **data,
        },
    )


@pytest.fixture
def entry(hass: HomeAssistant) -> MockConfigEntry:
    """Return a system with ducts, gates and machines."""
    Hub(hass).add("switch.collector", "Collector relay")
    elbows = [{"count": 2, "angle": 60.0, "radius": 2.0, "construction": "mitered"}]
    return system(
        hass,
        parts={
            "d1": duct("Main", elbows=elbows, later="kept"),
            "d2": duct("Branch", into="d1"),
            "d3": duct("Twig", into="d2"),
            "d4": duct("Orphan", into="gone"),
            "g1": gate("Planer gate", "cover.planer", duct="d2", hood="none"),
            "g2": gate(
                "Lathe gate",
                "cover.lathe",
                duct="d3",
                hood="tapered",
                hose_diameter=0.1016,
                hose_length=1.5,
                drop_elbows=2,
            ),
            "g3": gate("Old gate", "cover.old", duct="gone", hood="bell_mouth"),
            "m1": machine("Planer", "g1", kind="planer", size=0.508),
            "m2": machine("Lathe", "g2"),
        },
    )


def _choices(form: Form, field: str) -> list[str]:
    return [option["value"] for option in form.fields[field].config["options"]]


async def test_add_a_duct(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("duct")
    assert form.values == {
        "into": "collector",
        "duct_material": "galvanized",
        "vertical": False,
    }
    assert form.unit("diameter") == "mm"
    assert form.unit("length") == "m"
    assert _choices(form, "into") == ["collector", "d2", "d1", "d4", "d3"]
    await form.send(name="Planer branch", diameter=150, length=2.5)
    assert form.step == "elbows"
    assert form.values == {
        "elbows_1_construction": "stamped",
        "elbows_2_construction": "stamped",
    }
    await form.send()
    assert form.result["type"] == "create_entry"
    assert part_named(entry, "Planer branch")[1] == {
        "diameter": 0.15,
        "length": 2.5,
        "duct_material": "galvanized",
        "entry_angle": 0.0,
        "elbows": [],
    }


async def test_add_a_duct_in_inches(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    hass.config.units = US_CUSTOMARY_SYSTEM
    form = await Form(hass, entry).part("duct")
    assert form.unit("diameter") == "in"
    assert form.unit("length") == "ft"
    await form.send(
        name="Planer branch",
        into="d1",
        diameter=6,
        length=10,
        entry_angle=30,
    )
    await form.send(elbows_1_count=1.5, elbows_2_count=3)
    assert form.errors == {"elbows_1_count": "elbow_parts"}
    await form.send(
        elbows_1_count=1,
        elbows_2_count=3,
        elbows_2_radius=2,
        elbows_2_construction="pleated",
    )
    assert part_named(entry, "Planer branch")[1] == {
        "into": "d1",
        "diameter": 0.1524,
        "length": 3.048,
        "duct_material": "galvanized",
        "entry_angle": 30.0,
        "elbows": [
            {"count": 1, "angle": 90.0, "radius": 1.5, "construction": "stamped"},
            {"count": 3, "angle": 45.0, "radius": 2.0, "construction": "pleated"},
        ],
    }


async def test_mistakes_in_a_duct(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("duct")
    typed = {
        "name": "main",
        "into": "removed",
        "entry_angle": 91,
    }
    await form.send(**typed)
    assert form.errors == {
        "name": "name_used",
        "into": "unknown_duct",
        "diameter": "diameter_missing",
        "length": "length_missing",
        "entry_angle": "bad_entry_angle",
    }
    assert form.said["bad_entry_angle"] == "Enter 0–90 °."
    for field, value in typed.items():
        assert form.values[field] == value
    await form.send(diameter=5000, length=-1, into="d1")
    assert form.errors["diameter"] == "bad_diameter"
    assert form.said["bad_diameter"] == "Enter 20–1000 mm."
    assert form.errors["length"] == "bad_length"


async def test_a_duct_that_cannot_be_read_can_be_mended(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """Others still see it, and its target is still known."""
    twig = entry.subentries["d3"]
    hass.config_entries.async_update_subentry(
        entry, twig, data={**twig.data, "diameter": -0.1}
    )
    assert into_of(entry)["d3"] == twig.data["into"]
    form = await Form(hass, entry).part("duct", "d3")
    assert form.values["into"] == twig.data["into"]
    await form.send(diameter=100)
    assert form.ended == "reconfigure_successful"
    assert part_named(entry, twig.title)[1]["diameter"] == pytest.approx(0.1)


async def test_change_a_duct(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("duct", "d1")
    assert form.values == {
        "name": "Main",
        "vertical": False,
        "into": "collector",
        "diameter": 152.4,
        "length": 3.048,
        "duct_material": "spiral",
        "entry_angle": 0.0,
        "elbows_1_count": 2,
        "elbows_1_angle": 60.0,
        "elbows_1_radius": 2.0,
        "elbows_1_construction": "mitered",
        "elbows_2_construction": "stamped",
    }
    placeholders = form.result["description_placeholders"]
    assert placeholders["on_it"] == "Branch"
    # It can't flow into itself or what flows through it.
    assert _choices(form, "into") == ["collector", "d4"]
    await form.send(into="d3")
    assert form.errors == {"into": "duct_cycle"}
    assert "Twig" in form.said["duct_cycle"]
    await form.send(into="d4", elbows_1_count=None, length=4)
    assert form.ended == "reconfigure_successful"
    assert part_named(entry, "Main")[1] == {
        "into": "d4",
        "diameter": 0.1524,
        "length": 4.0,
        "duct_material": "spiral",
        "entry_angle": 0.0,
        "elbows": [],
        "later": "kept",
    }
    form = await Form(hass, entry).part("duct", "d2")
    assert form.result["description_placeholders"]["on_it"] == "Planer gate, Twig"
    assert form.values["into"] == "d1"
    form = await Form(hass, entry).part("duct", "d4")
    assert form.values["into"] == "collector"


async def test_what_is_left_alone_stays_to_the_last_digit(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    hass.config.units = US_CUSTOMARY_SYSTEM
    before = dict(entry.subentries["d2"].data)
    form = await Form(hass, entry).part("duct", "d2")
    assert form.values["diameter"] == 6
    await form.send()
    assert dict(entry.subentries["d2"].data) == before


async def test_where_a_gate_sits(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("gate", "g2")
    assert form.values["duct"] == "d3"
    assert form.values["hose_diameter"] == 101.6
    assert _choices(form, "duct") == ["d2", "d1", "d4", "d3"]
    await form.send(port_diameter=63, hose_length=None, drop_length=2, entry_angle=45)
    assert form.ended == "reconfigure_successful"
    assert {
        key: value
        for key, value in entry.subentries["g2"].data.items()
        if key not in ("gate_kind", "actuator", "inverted", "travel", "rest")
    } == {
        "duct": "d3",
        "hood": "tapered",
        "port_diameter": 0.063,
        "hose_diameter": 0.1016,
        "drop_length": 2.0,
        "drop_elbows": 2,
        "entry_angle": 45.0,
    }
    # Removed from its duct, what lies before it means nothing.
    form = await Form(hass, entry).part("gate", "g2", "place")
    await form.send(duct=None, drop_length=None, drop_elbows=None, entry_angle=None)
    assert "hood" not in entry.subentries["g2"].data


async def test_a_new_gate_on_a_duct(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("gate")
    await form.send(name="Inlet", gate_kind="fixed", drop_length=2)
    assert form.codes == {"place_without_duct"}
    await form.send(duct="d1", drop_elbows=1.5)
    assert form.codes == {"elbow_parts"}
    await form.send(duct="gone", drop_elbows=None)
    assert form.codes == {"unknown_duct"}
    await form.send(duct="d1")
    part_id, data = part_named(entry, "Inlet")
    # Only now there is something before it to be described.
    form = await Form(hass, entry).part("gate", part_id, "opening")
    await form.send(hose_length=2)
    data = part_named(entry, "Inlet")[1]
    assert data["hood"] == "machine_port"
    assert data["hose_length"] == 2.0


async def test_a_gate_that_shuts_its_duct_off(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("gate", "g2")
    await form.send(duct="d2", hood="none")
    assert form.codes == {"opening_unused", "duct_gate_taken"}
    assert "Planer gate" in form.said["duct_gate_taken"]
    form = await Form(hass, entry).part("gate", "g2")
    await form.send(duct="d1", drop_elbows=None, drop_length=None)
    form = await Form(hass, entry).part("gate", "g2", "opening")
    await form.send(hood="none", hose_diameter=None, hose_length=None)
    assert form.ended == "reconfigure_successful"
    assert entry.subentries["g2"].data["hood"] == "none"


async def test_a_gate_whose_duct_is_gone(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("gate", "g3")
    assert "duct" not in form.values
    await form.send(travel=4)
    assert form.ended == "reconfigure_successful"
    # It's cleared where it's asked for.
    form = await Form(hass, entry).part("gate", "g3", "place")
    await form.send()
    assert "duct" not in entry.subentries["g3"].data


async def test_without_ducts_a_gate_is_not_asked_where_it_sits(
    hass: HomeAssistant,
) -> None:
    entry = system(hass, parts={"g1": gate("Planer gate", "cover.planer")})
    form = await Form(hass, entry).part("gate", "g1")
    assert "duct" not in form.fields
    before = dict(entry.subentries["g1"].data)
    await form.send()
    assert dict(entry.subentries["g1"].data) == before


async def test_what_a_machine_needs(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine", "m1")
    assert form.values["size"] == 508
    # 785 cfm for knives of 20 in.
    assert "1330 m³/h" in form.help("required_flow")
    assert "from memory" in form.help("required_flow")
    await form.send(required_flow=1800, size=1)
    assert form.codes == {"bad_size"}
    await form.send(size=600)
    assert form.ended == "reconfigure_successful"
    data = entry.subentries["m1"].data
    assert (data["size"], data["required_flow"]) == (0.6, 0.5)
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(size=None, required_flow=None)
    assert not {"size", "required_flow"} & entry.subentries["m1"].data.keys()
    form = await Form(hass, entry).part("machine", "m2")
    assert "–" in form.help("required_flow")
    form = await Form(hass, entry).part("machine")
    await form.send(name="Sander", kind="sander", gates=["g2"], required_flow=900)
    assert part_named(entry, "Sander")[1]["required_flow"] == 0.25


async def test_how_a_hose_lies_and_how_a_gate_closes(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """A gate placed before there was a choice keeps its meaning; a new one gets the default."""
    form = await Form(hass, entry).part("gate", "g2")
    assert form.values["hose_state"] == "stretched"
    assert form.values["seal"] == "airtight"
    await form.send()
    data = entry.subentries["g2"].data
    assert not {"hose_state", "seal"} & data.keys()
    form = await Form(hass, entry).part("gate", "g2")
    await form.send(hose_length=2, hose_state="hanging", seal="worn")
    data = entry.subentries["g2"].data
    assert (data["hose_state"], data["seal"]) == ("hanging", "worn")
    form = await Form(hass, entry).part("gate", "g2")
    assert (form.values["hose_state"], form.values["seal"]) == ("hanging", "worn")
    # Without a hose its shape doesn't matter.
    await form.send(hose_length=None)
    assert "hose_state" not in entry.subentries["g2"].data
    form = await Form(hass, entry).part("gate")
    await form.send(name="Inlet", gate_kind="fixed", duct="d1")
    form = await Form(hass, entry).part("gate", part_named(entry, "Inlet")[0])
    assert (form.values["hose_state"], form.values["seal"]) == ("relaxed", "usual")


async def test_a_duct_that_rises(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("duct", "d1")
    await form.send(vertical=True)
    assert entry.subentries["d1"].data["vertical"] is True
    form = await Form(hass, entry).part("duct", "d1")
    assert form.values["vertical"] is True
    await form.send(vertical=False)
    assert "vertical" not in entry.subentries["d1"].data


async def test_elbows_beyond_the_rows_of_the_form_stay(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """A drawn duct may have elbows of more than two kinds."""
    rows = [
        {"count": 1, "angle": angle, "radius": 1.5, "construction": "stamped"}
        for angle in (90.0, 60.0, 45.0, 22.5)
    ]
    change_part(hass, entry, "d1", elbows=rows)
    form = await Form(hass, entry).part("duct", "d1")
    assert form.values["elbows_2_angle"] == 60.0
    await form.send(elbows_1_count=3)
    assert form.ended == "reconfigure_successful"
    stored = part_named(entry, "Main")[1]["elbows"]
    assert stored == [{**rows[0], "count": 3}, *rows[1:]]
