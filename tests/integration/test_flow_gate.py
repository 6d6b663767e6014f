"""Adding and changing a gate."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from .flow_helpers import (
    TEXTS,
    Form,
    Hub,
    gate,
    machine,
    part_named,
    sensed,
    system,
    without_engine,
)


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def hub(hass: HomeAssistant) -> Hub:
    """Return a Home Assistant with some gates and contacts."""
    hub = Hub(hass)
    hub.plug("Planer plug")
    hub.damper("Planer gate actuator")
    hub.damper("Jointer gate actuator")
    hub.add("input_boolean.bench", "Bench gate")
    hub.add("binary_sensor.open", "Bench gate open", device_class="door")
    hub.add("binary_sensor.shut", "Bench gate shut")
    hub.add("binary_sensor.smoke", "Smoke", device_class="smoke")
    return hub


@pytest.fixture
def entry(hass: HomeAssistant, hub: Hub) -> MockConfigEntry:
    """Return a system with two gates and three machines."""
    return system(
        hass,
        parts={
            "g1": gate(
                "Planer gate", _stored(hass, "cover.planer_gate_actuator"), later="kept"
            ),
            "g2": gate("Lathe gate", "cover.lathe_gate"),
            "m1": machine(
                "Planer", "g1", **sensed(_stored(hass, "sensor.planer_plug_power"))
            ),
            "m2": machine(
                "Miter saw",
                needs_air=False,
                clearing=[{"gates": ["g1"], "duration": 5.0}],
            ),
            "m3": machine("Lathe", "g2"),
        },
    )


def _stored(hass: HomeAssistant, entity_id: str) -> str:
    entity = er.async_get(hass).async_get(entity_id)
    assert entity
    return entity.id


async def test_add_a_powered_gate(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("gate")
    assert form.values == {
        "gate_kind": "powered",
        "inverted": False,
        "machines": [],
    }
    # The relay of the planer's plug is no gate, nor is a gate that is in use.
    assert form.offered("actuator") == [
        "cover.jointer_gate_actuator",
        "input_boolean.bench",
    ]
    assert form.offered("open_sensor") == ["binary_sensor.open", "binary_sensor.shut"]
    await form.send(actuator="cover.jointer_gate_actuator")
    assert form.result["type"] == "create_entry"
    _, data = part_named(entry, "Jointer gate")
    assert data == {
        "gate_kind": "powered",
        "actuator": _stored(hass, "cover.jointer_gate_actuator"),
        "inverted": False,
        "travel": 5.0,
        "rest": "shut",
    }


async def test_from_where_a_gate_counts_as_open(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("gate", "g1")
    await form.send(open_from=40)
    assert form.codes == {"bad_open_from"}
    assert form.said["bad_open_from"] == "Enter 50–100 %."
    await form.send(open_from=80)
    assert entry.subentries["g1"].data["open_from"] == 80.0
    form = await Form(hass, entry).part("gate", "g1")
    await form.send(open_from=None)
    assert "open_from" not in entry.subentries["g1"].data


async def test_add_the_other_kinds(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("gate")
    await form.send(gate_kind="hand", shut_sensor="binary_sensor.shut", rest="leave")
    assert part_named(entry, "Bench gate")[1] == {
        "gate_kind": "hand",
        "shut_sensor": "binary_sensor.shut",
        "inverted": False,
        "travel": 5.0,
        "rest": "leave",
    }
    form = await Form(hass, entry).part("gate")
    await form.send(gate_kind="fixed", name="Wall inlet")
    assert part_named(entry, "Wall inlet")[1]["gate_kind"] == "fixed"
    form = await Form(hass, entry).part("gate")
    await form.send(
        actuator="input_boolean.bench",
        name="Toggle gate",
        open_sensor="binary_sensor.open",
        inverted=True,
        travel=1.5,
        rest="open",
    )
    assert part_named(entry, "Toggle gate")[1] == {
        "gate_kind": "powered",
        "actuator": "input_boolean.bench",
        "open_sensor": "binary_sensor.open",
        "inverted": True,
        "travel": 1.5,
        "rest": "open",
    }


@pytest.mark.parametrize(
    ("typed", "errors", "mended"),
    [
        (
            {},
            {"name": "name_missing", "actuator": "actuator_missing"},
            {"name": "Gate", "actuator": "input_boolean.bench"},
        ),
        (
            {"name": "planer", "actuator": "input_boolean.bench"},
            {"name": "name_used"},
            {"name": "Bench gate"},
        ),
        (
            {"name": "dust collector", "actuator": "input_boolean.bench"},
            {"name": "name_used"},
            {"name": None},
        ),
        (
            {"actuator": "cover.planer_gate_actuator", "name": "Gate"},
            {"actuator": "already_used"},
            {"actuator": "cover.jointer_gate_actuator"},
        ),
        (
            {"actuator": "switch.taken", "name": "Gate"},
            {"actuator": "used_elsewhere"},
            {"actuator": "cover.jointer_gate_actuator"},
        ),
        (
            {"actuator": "light.bench"},
            {"actuator": "not_usable"},
            {"actuator": "cover.jointer_gate_actuator"},
        ),
        (
            {"actuator": "cover.half"},
            {"actuator": "no_open_shut"},
            {"actuator": "cover.jointer_gate_actuator"},
        ),
        (
            {"actuator": "cover.nowhere"},
            {"actuator": "entity_missing"},
            {"actuator": "cover.jointer_gate_actuator"},
        ),
        (
            {"actuator": "cover.own"},
            {"actuator": "own_entity"},
            {"actuator": "cover.jointer_gate_actuator"},
        ),
        (
            {"gate_kind": "hand", "name": "Gate", "actuator": "input_boolean.bench"},
            {"actuator": "actuator_unused", "open_sensor": "hand_without_sensor"},
            {"actuator": None, "open_sensor": "binary_sensor.open"},
        ),
        (
            {"gate_kind": "fixed", "open_sensor": "binary_sensor.open"}
            | {"shut_sensor": "binary_sensor.shut"},
            {"open_sensor": "sensor_unused", "shut_sensor": "sensor_unused"},
            {"open_sensor": None, "shut_sensor": None, "name": "Inlet"},
        ),
        (
            {"gate_kind": "fixed", "name": "Inlet"}
            | {"actuator": "cover.jointer_gate_actuator"},
            {"actuator": "actuator_unused"},
            {"actuator": None},
        ),
        (
            {"actuator": "input_boolean.bench", "open_sensor": "binary_sensor.open"}
            | {"shut_sensor": "binary_sensor.open"},
            {"shut_sensor": "picked_twice"},
            {"shut_sensor": None},
        ),
        (
            {"actuator": "cover.jointer_gate_actuator", "inverted": True}
            | {"travel": 500},
            {"inverted": "inverted_not_switch", "travel": "bad_travel"},
            {"inverted": False, "travel": 3},
        ),
    ],
)
async def test_mistakes_and_recovery(
    hass: HomeAssistant,
    hub: Hub,
    entry: MockConfigEntry,
    typed: dict[str, Any],
    errors: dict[str, Any],
    mended: dict[str, Any],
) -> None:
    hub.add("light.bench", "Bench light")
    hub.add("switch.taken", "Taken")
    hub.add("cover.half", "Half", supported_features=1)
    hub.add(
        "cover.own", "Own", device="Own", platform="gatewright", supported_features=3
    )
    system(hass, "West wing", "switch.taken")
    before = len(entry.subentries)
    form = await Form(hass, entry).part("gate")
    await form.send(**typed)
    assert form.errors == errors
    for field, value in typed.items():
        assert form.values[field] == value
    assert len(entry.subentries) == before
    await form.send(**mended)
    assert form.result["type"] == "create_entry"
    assert len(entry.subentries) == before + 1


async def test_change_a_gate(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("gate", "g1")
    assert form.result["description_placeholders"]["machines"] == "Planer, Miter saw"
    assert form.values == {
        "name": "Planer gate",
        "gate_kind": "powered",
        "actuator": "cover.planer_gate_actuator",
        "actuator_sort": "other",
        "inverted": False,
        "travel": 5.0,
        "rest": "shut",
    }
    await form.send(
        name="Thicknesser gate", open_sensor="binary_sensor.open", travel=None
    )
    assert form.ended == "reconfigure_successful"
    assert entry.subentries["g1"].title == "Thicknesser gate"
    assert entry.subentries["g1"].data == {
        "gate_kind": "powered",
        "actuator": _stored(hass, "cover.planer_gate_actuator"),
        "open_sensor": "binary_sensor.open",
        "inverted": False,
        "travel": 5.0,
        "rest": "shut",
        "later": "kept",
    }
    # A sensor can be removed again.
    form = await Form(hass, entry).part("gate", "g1")
    await form.send(open_sensor=None)
    assert "open_sensor" not in entry.subentries["g1"].data


async def test_change_with_mistakes(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("gate", "g1")
    await form.send(name="", gate_kind="hand")
    assert form.errors == {
        "name": "name_missing",
        "actuator": "actuator_unused",
        "open_sensor": "hand_without_sensor",
    }
    await form.send(name="Planer gate", gate_kind="powered", rest="leave")
    assert form.ended == "reconfigure_successful"
    assert entry.subentries["g1"].data["rest"] == "leave"


async def test_an_unused_gate_says_so(hass: HomeAssistant, hub: Hub) -> None:
    entry = system(hass, parts={"g1": gate("Bench gate", "input_boolean.bench")})
    form = await Form(hass, entry).part("gate", "g1")
    assert form.result["description_placeholders"]["machines"] == "–"


async def test_unavailable_and_removed_actuators(
    hass: HomeAssistant, hub: Hub, entry: MockConfigEntry
) -> None:
    # After a start, before its integration is loaded, a cover is unknown.
    hass.states.async_set("cover.planer_gate_actuator", "unavailable")
    form = await Form(hass, entry).part("gate", "g1")
    assert form.values["actuator"] == "cover.planer_gate_actuator"
    assert "cover.planer_gate_actuator" in form.offered("actuator")
    await form.send(travel=7)
    assert form.ended == "reconfigure_successful"

    er.async_get(hass).async_remove("cover.planer_gate_actuator")
    form = await Form(hass, entry).part("gate", "g1")
    assert "actuator" not in form.values
    await form.send()
    assert form.errors == {"actuator": "actuator_missing"}
    await form.send(actuator="cover.jointer_gate_actuator")
    assert form.ended == "reconfigure_successful"


async def test_the_actuator_brings_its_travel_time(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    for name, (sort, travel) in {
        "A": ("compressed_air", 1.0),
        "B": ("servo", 2.0),
        "C": ("motor", 6.0),
        "D": ("other", 5.0),
        "E": (None, 5.0),
    }.items():
        form = await Form(hass, entry).part("gate")
        await form.send(
            name=name, actuator=f"input_boolean.{name.lower()}", actuator_sort=sort
        )
        assert form.errors == {"actuator": "entity_missing"}
        hass.states.async_set(f"input_boolean.{name.lower()}", "off")
        await form.send()
        data = part_named(entry, name)[1]
        assert data["travel"] == travel
        assert data.get("actuator_sort") == (sort if name < "D" else None)
    # What was typed counts.
    form = await Form(hass, entry).part("gate")
    await form.send(actuator="input_boolean.bench", actuator_sort="motor", travel=9)
    assert part_named(entry, "Bench gate")[1]["travel"] == 9.0


async def test_another_actuator_changes_a_usual_travel_time_only(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    async def change(**typed: Any) -> tuple[Any, Any]:
        form = await Form(hass, entry).part("gate", "g1")
        await form.send(**typed)
        assert form.ended == "reconfigure_successful"
        data = entry.subentries["g1"].data
        return data.get("actuator_sort"), data["travel"]

    assert "actuator_sort" not in entry.subentries["g1"].data
    assert await change() == (None, 5.0)
    assert await change(actuator_sort="compressed_air") == ("compressed_air", 1.0)
    assert await change(actuator_sort="servo", travel=1.2) == ("servo", 1.2)
    # It was measured or typed, so it stays.
    assert await change(actuator_sort="motor") == ("motor", 1.2)
    assert await change(travel=None) == ("motor", 6.0)
    # Emptied and changed in one step.
    assert await change(actuator_sort="servo", travel=None) == ("servo", 2.0)
    assert await change(
        gate_kind="hand", actuator=None, open_sensor="binary_sensor.open"
    ) == (None, 5.0)


async def test_compressed_air_comes_with_a_caution(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("gate", "g1")
    caution = "close off the supply and bleed the line before hands go near it"
    assert caution in form.help("actuator_sort")
    sections = TEXTS["config"]["step"]["gates"]["sections"]
    page = sections["other_gates"]["data_description"]["actuator_sort"]
    assert caution in page
