"""The set-up of a system as a file: export, dry run, import, and rights."""

import json
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import entity_registry as er
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser
from pytest_homeassistant_custom_component.components.diagnostics import (
    get_diagnostics_for_config_entry,
)
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.plan.reading import read
from custom_components.gatewright.core.plan.writing import write
from custom_components.gatewright.features.plan.drafts import DRAFTS, RevisionCause

from .workshop import (
    COLLECTOR,
    LAMP,
    PLANER_GATE,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    change_part,
    gate,
    machine,
    standard_parts,
    system_entry,
)

type Data = dict[str, Any]

PURGED = machine(
    "lathe",
    "Lathe",
    gates=["saw_gate"],
    clearing=[{"gates": ["sweep_gate"], "duration": 7.0}],
    companions=[LAMP],
)


async def act(hass: HomeAssistant, action: str, **data: Any) -> Any:
    """Use an action, and return its answer."""
    return await hass.services.async_call(
        DOMAIN, action, data, blocking=True, return_response=True
    )


async def exported(hass: HomeAssistant, entry_id: str = "system") -> Data:
    """Return a system's file, as on disk."""
    found = await act(hass, "export_setup", config_entry_id=entry_id)
    loaded: Data = json.loads(json.dumps(found))
    return loaded


def codes(rows: list[Data]) -> list[str]:
    """Return the codes of what a dry run found."""
    return [row["code"] for row in rows]


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Set the standard workshop up, with a machine with all kinds of references."""
    entry = system_entry([*standard_parts(), PURGED], altitude=431.0)
    await workshop.start(entry)
    return entry


def draw(hass: HomeAssistant) -> None:
    """Draw a plan with the saw's gate on it."""
    plan = read(
        {
            "format": "gatewright-plan",
            "version": 1,
            "items": [
                {"id": "c", "type": "collector", "x": 0, "y": 0},
                {"id": "i", "type": "machine", "bound": "saw", "x": 3, "y": 3},
            ],
            "ducts": [
                {
                    "id": "d",
                    "name": "Main",
                    "points": [{"x": 3, "y": 0}, {"x": 0, "y": 0}],
                    "diameter": 0.15,
                    "end": {"to": "collector"},
                }
            ],
            "gates": [{"id": "g", "bound": "saw_gate", "duct": "d", "items": ["i"]}],
        }
    )
    hass.data[DRAFTS]["system"].put(plan, RevisionCause.SAVED, None)


async def test_the_file_names_entities_and_parts(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    registry = er.async_get(hass)
    stored = registry.async_get(SAW_GATE)
    assert stored is not None
    change_part(hass, entry, "saw_gate", actuator=stored.id)
    draw(hass)
    found = await exported(hass)
    assert found["name"] == "Dust collector"
    assert found["collector"]["switch"] == COLLECTOR
    assert found["collector"]["timing"]["shutoff_delay"] == 3
    assert found["collector"]["air"] == {"altitude": 431}
    parts = {part["id"]: part for part in found["parts"]}
    # By its entity id, whatever it is stored under.
    assert parts["saw_gate"]["settings"]["actuator"] == SAW_GATE
    lathe = parts["lathe"]["settings"]
    assert lathe["purge"] == [{"gates": ["sweep_gate"], "duration": 7}]
    assert lathe["linked_devices"] == [LAMP]
    assert found["plan"]["gates"][0]["bound"] == "saw_gate"


async def test_what_refers_to_nothing_is_left_out(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    hass.config_entries.async_remove_subentry(entry, "sweep_gate")
    await workshop.settle()
    found = await exported(hass)
    parts = {part["id"]: part for part in found["parts"]}
    assert parts["sweep"]["settings"]["gates"] == []
    assert found["collector"]["hand_gates"] == []
    tried = await act(hass, "import_setup", config_entry_id="system", setup=found)
    assert tried["faults"] == []


async def test_a_dry_run_of_the_own_file_changes_nothing(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    found = await exported(hass)
    for sent in (found, json.dumps(found)):
        assert await act(
            hass, "import_setup", config_entry_id="system", setup=sent
        ) == {
            "imported": False,
            "faults": [],
            "warnings": [],
            "changes": [],
            "missing_entities": [],
        }


async def test_a_file_is_tried_then_imported_into_a_system_that_runs(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    draw(hass)
    found = await exported(hass)
    hass.data[DRAFTS]["system"].discard(None)
    found["name"] = "Cyclone"
    found["collector"]["timing"]["shutoff_delay"] = 8
    found["parts"] = [part for part in found["parts"] if part["id"] != "planer"]
    found["parts"][0]["name"] = "Front gate"
    found["parts"].append(
        {
            "id": "bench",
            "type": "machine",
            "name": "Bench hood",
            "settings": {
                "kind": "bench_hood",
                "gates": ["saw_gate"],
                "collect_while_running": True,
                "hold": 0,
            },
        }
    )
    await workshop.saw_runs()
    before = {key: dict(part.data) for key, part in entry.subentries.items()}
    tried = await act(hass, "import_setup", config_entry_id="system", setup=found)
    assert [row["text"] for row in tried["changes"]] == [
        "Rename Dust collector to Cyclone",
        "Change 1 setting of Cyclone",
        "Rename Saw gate to Front gate",
        "Add Bench hood",
        "Remove Planer",
    ]
    assert tried["changes"][1]["settings"] == [
        {"setting": "timing.shutoff_delay", "before": 3.0, "after": 8}
    ]
    assert before == {key: dict(part.data) for key, part in entry.subentries.items()}
    assert entry.title == "Dust collector"

    done = await act(
        hass, "import_setup", config_entry_id="system", setup=found, dry_run=False
    )
    await workshop.settle()
    assert done["imported"] is True
    assert done["config_entry_id"] == "system"
    assert entry.title == "Cyclone"
    assert entry.data["run_on"] == 8
    assert "planer" not in entry.subentries
    assert entry.subentries["saw_gate"].title == "Front gate"
    assert entry.subentries["bench"].title == "Bench hood"
    assert hass.data[DRAFTS]["system"].plan.gates[0].bound == "saw_gate"
    # The saw was served all the while.
    assert workshop.state(COLLECTOR) == "on"
    assert workshop.sent() == []
    again = await act(hass, "import_setup", config_entry_id="system", setup=found)
    assert again["changes"] == []


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (lambda file: file["parts"][3]["settings"].update(gates=["x"]), "unknown_part"),
        (lambda file: file["parts"][3]["settings"].update(stop=900), "unusable"),
        (lambda file: file["collector"].update(switch="switch.vac"), "moved_elsewhere"),
        (lambda file: file.update(version=9), "wrong_version"),
        (lambda file: file["plan"].update(version=9), "wrong_version"),
        (
            lambda file: file["collector"]["timing"].update(spin_down="long"),
            "wrong_value",
        ),
    ],
)
async def test_nothing_is_written_where_something_is_wrong(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    spoil: Any,
    code: str,
) -> None:
    other = system_entry(
        [], title="Vac", entry_id="other", switch="switch.vac", hand_gates=[]
    )
    await workshop.load(other)
    draw(hass)
    found = await exported(hass)
    found["parts"][0]["name"] = "Front gate"
    spoil(found)
    tried = await act(hass, "import_setup", config_entry_id="system", setup=found)
    assert codes(tried["faults"])[0] == code
    assert tried["faults"][0]["text"].endswith(".")
    with pytest.raises(ServiceValidationError) as err:
        await act(
            hass, "import_setup", config_entry_id="system", setup=found, dry_run=False
        )
    assert err.value.translation_key == "setup_not_imported"
    assert entry.subentries["saw_gate"].title == "Saw gate"


async def test_a_file_becomes_a_system_on_another_home_assistant(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    draw(hass)
    found = await exported(hass)
    await hass.config_entries.async_remove(entry.entry_id)
    await workshop.settle()
    found["parts"][0]["settings"]["actuator"] = "cover.left_behind"
    tried = await act(hass, "import_setup", setup=found)
    assert tried["faults"] == []
    assert tried["missing_entities"] == ["cover.left_behind"]
    assert [row["text"] for row in tried["warnings"]] == [
        "cover.left_behind isn't on this Home Assistant (Saw gate)."
    ]
    done = await act(
        hass,
        "import_setup",
        setup=found,
        entities={"cover.left_behind": SAW_GATE},
        dry_run=False,
    )
    await workshop.settle()
    assert done["missing_entities"] == []
    made = hass.config_entries.async_get_entry(done["config_entry_id"])
    assert made is not None
    assert made.state.value == "loaded"
    # It moves nothing until somebody goes live.
    assert "watch_since" in made.data
    assert made.unique_id == made.data["switch"]
    registry = er.async_get(hass)
    stored = registry.async_get(SAW_GATE)
    assert stored is not None
    # Stored so that a rename is survived.
    assert made.subentries["saw_gate"].data["actuator"] == stored.id
    draft = hass.data[DRAFTS][made.entry_id]
    assert write(draft.plan)["gates"][0]["bound"] == "saw_gate"
    again = await exported(hass, made.entry_id)
    found["parts"][0]["settings"]["actuator"] = SAW_GATE
    assert again == found


async def test_a_file_fills_a_system_that_was_only_begun(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    """On a new Home Assistant: a collector and a pickup by forms, then the file."""
    found = await exported(hass)
    await hass.config_entries.async_remove(entry.entry_id)
    await workshop.settle()
    begun = system_entry(
        [machine("first", "Pickup", gates=[])],
        title="Shop",
        entry_id="begun",
        hand_gates=[],
    )
    await workshop.start(begun)
    tried = await act(hass, "import_setup", config_entry_id="begun", setup=found)
    assert tried["faults"] == tried["warnings"] == []
    await act(hass, "import_setup", config_entry_id="begun", setup=found, dry_run=False)
    await workshop.settle()
    assert await exported(hass, "begun") == found
    await workshop.saw_runs()
    assert workshop.state(COLLECTOR) == "on"


async def test_a_second_system_gets_names_and_ids_of_its_own(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    found = await exported(hass)
    tried = await act(hass, "import_setup", setup=found)
    assert set(codes(tried["faults"])) == {"moved_elsewhere"}
    exchange = {
        COLLECTOR: "switch.other",
        SAW_GATE: "cover.other",
        PLANER_GATE: "switch.third",
        "valve.sweep_gate_actuator": "valve.other",
        LAMP: "switch.fourth",
    }
    tried = await act(hass, "import_setup", setup=found, entities=exchange)
    assert tried["faults"] == []
    taken = [row["new"] for row in tried["warnings"] if row["code"] == "name_taken"]
    assert taken[:2] == ["Dust collector 2", "Saw gate 2"]
    done = await act(
        hass,
        "import_setup",
        setup=found,
        entities=exchange,
        dry_run=False,
        monitor_only=False,
    )
    made = hass.config_entries.async_get_entry(done["config_entry_id"])
    assert made is not None
    assert not made.subentries.keys() & entry.subentries.keys()
    saws = {part.title: part for part in made.subentries.values()}
    (saw_gate,) = saws["Table saw 2"].data["gates"]
    assert made.subentries[saw_gate].title == "Saw gate 2"
    assert "watch_since" not in made.data


async def test_names_that_are_twice_in_the_file_are_told_apart(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    found = await exported(hass)
    found["parts"][1]["name"] = "saw gate"
    tried = await act(hass, "import_setup", config_entry_id="system", setup=found)
    assert tried["warnings"][0]["text"] == (
        "The name saw gate is taken. It becomes saw gate 2."
    )


async def test_monitor_only_is_no_setting(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry(watch_since="2026-11-20T08:00:00+00:00", remembers=True)
    await workshop.start(entry)
    found = await exported(hass)
    assert "2026-11-20" not in json.dumps(found)
    found["collector"]["timing"]["spin_down"] = 12
    await act(
        hass, "import_setup", config_entry_id="system", setup=found, dry_run=False
    )
    await workshop.settle()
    assert entry.data["watch_since"] == "2026-11-20T08:00:00+00:00"
    assert entry.data["remembers"] is True
    assert entry.data["coast"] == 12


async def test_the_file_is_downloaded_by_administrators(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_client: ClientSessionGenerator,
    hass_client_no_auth: ClientSessionGenerator,
    hass_admin_user: MockUser,
) -> None:
    assert await async_setup_component(hass, "http", {})
    entry = system_entry([gate("g", "Gate", actuator=SAW_GATE)], hand_gates=[])
    await workshop.start(entry)
    address = "/api/gatewright/system/setup.json"
    client = await hass_client()
    answer = await client.get(address)
    assert answer.status == 200
    assert "dust_collector_setup_" in answer.headers["Content-Disposition"]
    assert await answer.json() == await exported(hass)
    assert (await (await hass_client_no_auth()).get(address)).status == 401
    hass_admin_user.groups = []
    assert (await client.get(address)).status == 404


async def test_diagnostics_hold_it_without_the_place(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_client: ClientSessionGenerator,
) -> None:
    kept: Any = await get_diagnostics_for_config_entry(hass, hass_client, entry)
    found = await exported(hass)
    assert (
        kept["setup"]["collector"]
        == {
            **found["collector"],
            "air": kept["setup"]["collector"].get("air", {}),
        }
        or "air" not in kept["setup"]["collector"]
    )
    assert "431" not in json.dumps(kept["setup"])
    # A whole diagnostics file can be imported.
    tried = await act(
        hass, "import_setup", config_entry_id="system", setup={"data": kept}
    )
    assert tried["faults"] == []
    (change,) = tried["changes"]
    assert [row["setting"] for row in change["settings"]] == ["air.altitude"]


async def test_a_reading_that_is_not_there_is_no_fault(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    found = await exported(hass)
    hass.states.async_remove(SAW_POWER)
    tried = await act(hass, "import_setup", config_entry_id="system", setup=found)
    assert tried["missing_entities"] == [SAW_POWER]
    assert codes(tried["warnings"]) == ["missing_entity"]


async def test_what_a_later_version_knows_is_left_out_and_reported(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    found = await exported(hass)
    found["collector"]["timing"] |= {"encore": 3, "spin_down": 12, "shutoff_delay": 4}
    tried = await act(hass, "import_setup", config_entry_id="system", setup=found)
    assert [row["text"] for row in tried["warnings"]] == [
        "This version doesn't know collector.timing.encore. It's left out."
    ]
    assert [row["text"] for row in tried["changes"]] == [
        "Change 2 settings of Dust collector"
    ]


async def test_a_refusal_says_what_was_expected(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    found = await exported(hass)
    found["parts"] = {}
    tried = await act(hass, "import_setup", config_entry_id="system", setup=found)
    (fault,) = tried["faults"]
    assert (fault["code"], fault["path"]) == ("wrong_type", "parts")
    assert fault["text"] == "parts must be a list."


@pytest.mark.parametrize("sort", ["gate", "machine"])
async def test_a_part_that_another_system_has_by_that_id_gets_another(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, sort: str
) -> None:
    """Also one with an id that no entity could have."""
    found = await exported(hass)
    row = next(part for part in found["parts"] if part["type"] == sort)
    row = {**row, "id": "no good: ü", "name": "New one"}
    row["settings"] = {**row["settings"], "actuator": None, "sensor": None}
    row["settings"] |= (
        {"kind": "hand", "open_sensor": "binary_sensor.contact"}
        if (sort == "gate")
        else {"gates": ["saw_gate"]}
    )
    found["parts"].append(row)
    done = await act(
        hass, "import_setup", config_entry_id="system", setup=found, dry_run=False
    )
    await workshop.settle()
    assert done["imported"] is True
    (made,) = (part for part in entry.subentries.values() if part.title == "New one")
    assert len(made.subentry_id) == 26
