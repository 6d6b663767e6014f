"""Data stored by 0.1.0 stays as it is when an owner saves every page unchanged."""

from collections.abc import Awaitable, Callable, Iterator, Mapping
from functools import partial
import json
from pathlib import Path
import re
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from .flow_helpers import Form, Hub, gate, machine, system, without_engine
from .test_old_names import old_entry
from .workshop import Workshop

WRITTEN: list[dict[str, Any]] = json.loads(
    (Path(__file__).parents[1] / "control" / "stored_by_0_1_0.json").read_text()
)
REGISTERED = re.compile(r"[0-9a-f]{32}")
KINDS_OF_SENSORS: Mapping[str, tuple[str, str, str | None]] = {
    "air_supply": ("sensor", "kPa", "pressure"),
    "bin_level": ("sensor", "mm", "distance"),
    "filter_pressure": ("sensor", "Pa", "pressure"),
    "particles": ("sensor", "mg/m³", "pm25"),
    "power": ("sensor", "W", "power"),
    "suction": ("sensor", "Pa", "pressure"),
}
"""Domain, unit and class of a field's entity; others are on or off."""
ON_OFF = {
    "attached": "binary_sensor",
    "bin_full": "binary_sensor",
    "emergency": "binary_sensor",
    "open_sensor": "binary_sensor",
    "shut_sensor": "binary_sensor",
    "cleaning": "switch",
    "companions": "switch",
    "drive": "fan",
    "room_cleaner": "switch",
    "switch": "switch",
}


def kept(hass: HomeAssistant, entry: MockConfigEntry) -> dict[str, Any]:
    """Return a copy of everything stored of a system and its parts, by location.

    Entities appear under their present ids, however they're stored, and an empty list
    means nothing.
    """
    registry = er.async_get(hass)
    stored: dict[str, Any] = {"": entry.title}
    stored |= {f".{key}": value for key, value in entry.data.items()}
    for part_id, part in entry.subentries.items():
        stored[part_id] = part.title
        stored |= {f"{part_id}.{key}": value for key, value in part.data.items()}
    copy: dict[str, Any] = json.loads(json.dumps(stored))
    for key, value in copy.items():
        known = registry.entities.get_entry(value) if isinstance(value, str) else None
        copy[key] = known.entity_id if known else value
    return {key: value for key, value in copy.items() if value != []}


def changed(before: dict[str, Any], after: dict[str, Any]) -> dict[str, Any]:
    """Return the stored data that changed."""
    return {
        key: (before.get(key), after.get(key))
        for key in before.keys() | after.keys()
        if before.get(key) != after.get(key)
    }


async def save_all(hass: HomeAssistant, entry: MockConfigEntry, kind: str = "") -> None:
    """Save every page of the settings and of all parts, or of one type of parts, unchanged."""
    pages: list[Callable[[], Awaitable[Form]]] = [
        Form(hass, entry).change,
        Form(hass, entry).reconfigure,
    ]
    pages += [
        partial(Form(hass, entry).part, part.subentry_type, part_id)
        for part_id, part in entry.subentries.items()
        if kind in ("", part.subentry_type)
    ]
    for open_page in pages:
        form = await open_page()
        await form.send()
        assert form.errors == {}, form.said
        assert form.saved or form.ended == "reconfigure_successful"


async def test_a_whole_system(hass: HomeAssistant, workshop: Workshop) -> None:
    entry = old_entry(hass)
    await workshop.load(entry)
    before = kept(hass, entry)
    await save_all(hass, entry)
    assert changed(before, kept(hass, entry)) == {}
    await hass.async_block_till_done()
    assert workshop.state("switch.dust_collector") == "off"


class OldHome:
    """The entities that the stored data refers to, as far as it shows."""

    def __init__(self, hass: HomeAssistant) -> None:
        """Start empty."""
        self.hub = Hub(hass)
        self._known: dict[str, str] = {}

    def with_entities(self, data: Mapping[str, Any]) -> dict[str, Any]:
        """Return the data with registered entities behind the references it has."""
        fields = {*KINDS_OF_SENSORS, *ON_OFF, "actuator", "sensor"}
        return {
            key: value
            if key not in fields
            else [self._entity(key, one, data) for one in value]
            if isinstance(value, list)
            else self._entity(key, value, data)
            for key, value in data.items()
        }

    def _entity(self, key: str, reference: str, data: Mapping[str, Any]) -> str:
        if reference not in self._known:
            self._known[reference] = self._add(key, reference, data)
        return self._known[reference]

    def _add(self, key: str, reference: str, data: Mapping[str, Any]) -> str:
        state, unit, of = "off", None, None
        domain = ON_OFF.get(key, "switch" if data.get("inverted") else "cover")
        if "drive" in data and data["drive"] == reference:
            domain = "fan"
        if key in KINDS_OF_SENSORS:
            domain, unit, of = KINDS_OF_SENSORS[key]
        if key == "sensor":
            domain, unit = "sensor", data.get("unit")
            state = "0" if unit else "idle"
            of = {"W": "power", "A": "current"}.get(unit or "")
        entity_id, device = reference, None
        if REGISTERED.fullmatch(reference):
            entity_id = device = f"{domain}.{key}_{len(self._known)}"
        domain = entity_id.partition(".")[0]
        if key != "sensor" and domain in ("sensor", "number", "input_number"):
            state = "0"
        if domain in ("binary_sensor", "input_boolean", "switch"):
            unit = of = None
        features = {"cover": 3, "fan": 49}.get(domain)
        attributes: dict[str, Any] = {"device_class": of} if of else {}
        if features:
            attributes["supported_features"] = features
        return self.hub.add(
            entity_id,
            f"{key} {len(self._known)}",
            state,
            unit=unit,
            device=device,
            **attributes,
        )


@pytest.fixture
def home(hass: HomeAssistant) -> Iterator[OldHome]:
    """Return a home for stored data, in which the integration doesn't run."""
    with without_engine(hass):
        yield OldHome(hass)


@pytest.mark.parametrize(
    "written",
    [
        pytest.param(written, id=f"{written['kind']}-{number}")
        for number, written in enumerate(WRITTEN)
    ],
)
async def test_what_the_forms_of_0_1_0_stored(
    hass: HomeAssistant, home: OldHome, written: dict[str, Any]
) -> None:
    kind, data = written["kind"], home.with_entities(written["data"])
    parts: dict[str, Any] = {
        f"g{number}": gate(f"Gate {number}", home.hub.damper(f"Gate {number} actuator"))
        for number in (1, 2, 3)
    }
    for above, duct_id in ((None, "d1"), ("d1", "d3"), (None, "d4")):
        run = {"diameter": 0.15, "length": 2.0, "duct_material": "spiral"}
        ends = {"entry_angle": 0.0, "elbows": []} | ({"into": above} if above else {})
        parts[duct_id] = ("duct", f"Duct {duct_id}", run | ends)
    for other in set(data.get("gates", ())) - set(parts):
        parts[other] = gate("Another gate", home.hub.damper("Another actuator"))
    parts["pickup"] = machine("Pickup", "g1", "g2", "g3")
    if kind == "system":
        entry = system(hass, "Old shop", data["switch"], parts=parts)
        hass.config_entries.async_update_entry(entry, data=data)
    else:
        parts["old"] = (kind, "Old part", data)
        home.hub.add("switch.collector", "Collector relay")
        entry = system(hass, parts=parts)
    before = kept(hass, entry)
    place = "" if kind == "system" else "old"
    assert {key for key, value in data.items() if value != []} == {
        key.removeprefix(f"{place}.") for key in before if key.startswith(f"{place}.")
    }
    await save_all(hass, entry, kind)
    assert changed(before, kept(hass, entry)) == {}
