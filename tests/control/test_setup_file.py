"""A set-up as a file: what is read, refused, written and compared, without Home Assistant."""

import json
from pathlib import Path
import re
from typing import Any

import pytest

from custom_components.gatewright.core.plan.fields import UnreadablePlanError
from custom_components.gatewright.core.setup_file.comparing import changes, matched
from custom_components.gatewright.core.setup_file.document import (
    ENTITY_KEYS,
    KINDS,
    MOVED_KEYS,
    PART_KEYS,
    PURGE_KEY,
)
from custom_components.gatewright.core.setup_file.exchange import (
    with_entities,
    with_parts,
)
from custom_components.gatewright.core.setup_file.reading import (
    MOST_PARTS,
    read_setup,
    read_setup_text,
)
from custom_components.gatewright.core.setup_file.settings import (
    SettingsReader,
    settings_of,
)
from custom_components.gatewright.core.setup_file.writing import write_setup
from custom_components.gatewright.core.stored.system import StoredSystem
from custom_components.gatewright.core.stored.table import defaults_of, keys_of
from custom_components.gatewright.forms.entity_usage import ROLES, EntityRole

from .test_stored import KINDS as STORED, WRITTEN

PAGE = Path(__file__).parents[2] / "docs" / "setup-file.md"
EXAMPLE: dict[str, Any] = json.loads(
    re.search(r"```json\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL)[1]  # type: ignore[index]
)


def example(**more: Any) -> dict[str, Any]:
    """Return the page's example, with something else in it."""
    copied: dict[str, Any] = json.loads(json.dumps(EXAMPLE))
    return copied | more


def refused(raw: Any) -> list[tuple[str, str]]:
    """Return why a file is refused, and where."""
    with pytest.raises(UnreadablePlanError) as err:
        read_setup(raw)
    return [(one.code, one.path) for one in err.value.refusals]


def test_the_page_s_example_is_read_and_written_the_same() -> None:
    setup = read_setup(EXAMPLE)
    assert setup.unknown == ()
    assert setup.data["run_on"] == 3
    assert setup.data["coast"] == 10
    # What a form always stores is there, so that nothing is told to be lacking.
    assert setup.data["confirm"] == 10
    assert [part.name for part in setup.parts] == [
        "Saw gate",
        "Sweep gate",
        "Table saw",
    ]
    assert setup.parts[2].data["needs_air"] is True
    written = write_setup(setup, "0.2.0")
    assert read_setup(written) == setup
    assert read_setup_text(json.dumps(written)) == setup
    for part, row in zip(EXAMPLE["parts"], written["parts"], strict=True):
        assert part["settings"].items() <= row["settings"].items()


@pytest.mark.parametrize("written", WRITTEN)
def test_what_0_1_0_stored_goes_through_a_file_whole(written: dict[str, Any]) -> None:
    kind, data = STORED[written["kind"]], written["data"]
    reader = SettingsReader()
    settings = json.loads(json.dumps(settings_of(kind, data)))
    found = reader.read(kind, settings, "there")
    assert (reader.refusals, reader.unknown) == ([], [])
    state = {"watch_since", "remembers"}
    known = {key: data[key] for key in keys_of(kind) - state if key in data}
    assert known.items() <= found.items()
    assert kind.from_data(found) == kind.from_data(defaults_of(kind) | known)


def test_the_tables_name_every_entity_and_part() -> None:
    # Phones are told; nothing else of a system depends on them.
    assert {*ROLES, "phones"} == ENTITY_KEYS
    moved = {
        key
        for key, role in ROLES.items()
        if role in (EntityRole.ACTUATOR, EntityRole.LINKED_DEVICE, EntityRole.DRIVE)
    }
    assert moved == MOVED_KEYS
    stored = {
        *keys_of(StoredSystem),
        *(k for kind in KINDS.values() for k in keys_of(kind)),
    }
    assert stored > {*ENTITY_KEYS, *PART_KEYS, PURGE_KEY}


@pytest.mark.parametrize(
    ("raw", "found"),
    [
        (None, [("not_a_setup", "format")]),
        ([], [("not_a_setup", "format")]),
        ({"format": "gatewright-plan", "version": 1}, [("not_a_setup", "format")]),
        (example(version=2), [("wrong_version", "version")]),
        (example(version=True), [("wrong_version", "version")]),
        (example(name=""), [("missing", "name")]),
        (example(name="  "), [("missing", "name")]),
        (example(name=3), [("wrong_type", "name")]),
        (example(collector=None), [("wrong_type", "collector")]),
        (example(collector={}), [("missing", "collector.switch")]),
        (
            example(collector={"switch": "switch.x", "timing": 3}),
            [("wrong_type", "collector.timing")],
        ),
        (
            example(collector={"switch": "switch.x", "timing": {"spin_down": -1}}),
            [("wrong_value", "collector.timing.spin_down")],
        ),
        (example(parts={}), [("wrong_type", "parts")]),
        (example(parts=[3]), [("wrong_type", "parts[0]")]),
        (example(parts=[{}] * (MOST_PARTS + 1)), [("too_many", "parts")]),
        (
            example(parts=[{"id": "a", "type": "robot", "name": "A"}]),
            [("unknown_choice", "parts[0].type")],
        ),
        (
            example(parts=[EXAMPLE["parts"][1], EXAMPLE["parts"][1]]),
            [("duplicate_id", "parts[1].id")],
        ),
        (
            example(parts=[{"id": "a", "type": "gate", "name": "A"}]),
            [("wrong_type", "parts[0].settings")],
        ),
        (example(plan={}), [("not_a_plan", "plan.format")]),
    ],
)
def test_what_is_wrong_is_refused_with_its_place(
    raw: Any, found: list[tuple[str, str]]
) -> None:
    assert refused(raw) == found


@pytest.mark.parametrize("text", ["", "{", "[" * 100_000])
def test_what_is_no_json_is_refused(text: str) -> None:
    with pytest.raises(UnreadablePlanError) as err:
        read_setup_text(text)
    assert err.value.refusals[0].code == "not_json"


def test_settings_of_a_later_version_are_named() -> None:
    raw = example()
    raw["collector"]["timing"]["encore"] = 3
    raw["parts"][2]["settings"]["spare"] = "x"
    # How a system stands is none of its settings.
    raw["collector"]["remembers"] = True
    setup = read_setup(raw)
    assert setup.unknown == (
        "collector.timing.encore",
        "collector.remembers",
        "parts[2].settings.spare",
    )
    assert "remembers" not in setup.data


def test_a_diagnostics_file_holds_a_setup() -> None:
    assert read_setup({"home_assistant": {}, "data": {"setup": EXAMPLE}}) == read_setup(
        EXAMPLE
    )


def test_what_refers_to_others_is_exchanged() -> None:
    setup = read_setup(EXAMPLE)
    saw = setup.parts[2].data
    other = with_parts(saw, {"g1": "a", "g2": "b"}.get)
    assert other["gates"] == ["a"]
    assert other["clearing"] == [{"gates": ["b"], "duration": 5}]
    assert with_parts(saw, {"g1": "a"}.get)["clearing"][0]["gates"] == []
    assert with_entities(saw, str.upper)["sensor"] == "SENSOR.SAW_POWER"
    # Nothing else with the same word is touched, and nothing is changed in place.
    assert with_entities(saw, str.upper)["kind"] == "table_saw"
    assert saw["gates"] == ["g1"]
    assert ("Table saw", "g2") in list(setup.references())
    assert ("Dust collector", "g2") in list(setup.references())
    assert ("Saw gate", "actuator", "cover.saw_gate") in list(setup.entities())


def test_what_changes_is_told_setting_by_setting() -> None:
    old = read_setup(EXAMPLE)
    raw = example(name="Cyclone")
    raw["collector"]["timing"]["spin_down"] = 12
    raw["parts"][0]["name"] = "Front gate"
    raw["parts"][2]["settings"]["hold"] = 20
    del raw["parts"][1]
    raw["parts"].append(
        {
            "id": "d1",
            "type": "duct",
            "name": "Main",
            "settings": {
                "diameter": 0.15,
                "length": 3,
                "material": "galvanized",
                "entry_angle": 30,
            },
        }
    )
    found = changes(read_setup(raw), old)
    assert [(one.code, one.name) for one in found] == [
        ("renamed", "Cyclone"),
        ("changed", "Cyclone"),
        ("renamed", "Front gate"),
        ("changed", "Table saw"),
        ("added", "Main"),
        ("removed", "Sweep gate"),
    ]
    (change,) = found[1].settings
    assert (change.path, change.before, change.after) == ("timing.spin_down", 10, 12)
    assert changes(old, old) == []


def test_a_part_is_found_by_id_and_else_by_kind_and_name() -> None:
    old = read_setup(EXAMPLE)
    raw = example()
    raw["parts"][0]["id"] = "elsewhere"
    raw["parts"][2]["settings"]["gates"] = ["elsewhere"]
    raw["parts"][1]["name"] = "Another name"
    assert matched(read_setup(raw), old) == {"elsewhere": "g1", "g2": "g2", "m1": "m1"}
    # A machine of a gate's name is no gate.
    raw["parts"][0]["name"] = "Table saw"
    assert "elsewhere" not in matched(read_setup(raw), old)
