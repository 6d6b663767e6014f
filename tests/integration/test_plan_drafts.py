"""The draft of a plan: revisions, two browsers, restarts, rights, texts."""

import copy
import json
from typing import Any

from homeassistant.auth.models import User
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.helpers.translation import async_get_translations
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.plan.changes import (
    DUCT_ADDED,
    DUCT_CHANGED,
    DUCT_REMOVED,
    GATE_MOVED,
    GATE_PLACED,
    GATE_TAKEN_OFF,
    NAME,
)
from custom_components.gatewright.core.plan.checks import ERRORS, WARNINGS
from custom_components.gatewright.core.plan.stored import OF_DUCT, OF_PLACE
from custom_components.gatewright.features.plan.drafts import DRAFTS

from .air_shop import FAN, duct, ducted_parts
from .plan_shop import Browser, browser, demo_entry, start
from .test_rights import EVERYTHING, Guest
from .workshop import Workshop, add_part, standard_parts, system_entry

type Data = dict[str, Any]

NEW_TITLES = [
    "Duct 1",
    "Duct 2",
    "Far end",
    "Main",
    "Main 1",
    "Main 2",
    "Main 3",
    "Saw branch",
    "main 4",
]
NO_SUCH_THING = "not_found"


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Set the standard workshop up, with ducts."""
    made = system_entry(ducted_parts(), **FAN)
    await start(hass, workshop, made)
    return made


@pytest.fixture
async def one(
    hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator
) -> Browser:
    """Open a browser."""
    return await browser(hass, hass_ws_client)


@pytest.fixture
async def other(
    hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator
) -> Browser:
    """Open another browser."""
    return await browser(hass, hass_ws_client)


def wider(plan: Data, by: float = 0.01) -> Data:
    """Return a plan with a wider main."""
    plan = copy.deepcopy(plan)
    plan["ducts"][0]["diameter"] += by
    return plan


async def again(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    """End the process and start anew: what is in memory is gone."""
    assert await hass.config_entries.async_unload(entry.entry_id)
    hass.data["gatewright_handovers"].clear()
    del hass.data[DRAFTS]
    assert await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()


async def test_two_browsers_notice_each_other_and_nothing_is_lost(
    one: Browser, other: Browser
) -> None:
    await one.ask("subscribe")
    await other.ask("subscribe")
    got = await one.ask("get")
    assert (await other.ask("get")) == got
    first = wider(got["document"])
    saved = await one.ask("save", revision=got["revision"], document=first)
    assert saved["saved"]
    assert saved["revision"] == got["revision"] + 1
    second = wider(got["document"], 0.05)
    refused = await other.ask("save", revision=got["revision"], document=second)
    assert not refused["saved"]
    assert refused["reason"] == "stale"
    assert refused["revision"] == saved["revision"]
    assert refused["document"] == first
    assert refused["cause"] == "saved"
    # The other one was notified, and may save its own over the newest after seeing it.
    assert other.events[-1] == {
        "revision": saved["revision"],
        "cause": "saved",
        "mine": False,
    }
    over = await other.ask("save", revision=refused["revision"], document=second)
    assert over["saved"]
    assert (await one.ask("get"))["document"] == second
    assert [event["mine"] for event in one.events] == [False, True, False]


async def test_cards_are_sent_whether_somebody_has_drawn(
    hass: HomeAssistant, entry: MockConfigEntry, one: Browser, other: Browser
) -> None:
    """At first, when it is drawn, and after a reload."""
    await one.client.send_json_auto_id(
        {"type": "gatewright/subscribe", "entry_id": entry.entry_id}
    )
    assert (await one.client.receive_json())["success"]
    assert not (await one.client.receive_json())["event"].get("drawn", False)
    got = await other.ask("get")
    await other.ask("save", revision=got["revision"], document=got["document"])
    sent = await one.client.receive_json()
    while "drawn" not in sent["event"]:
        sent = await one.client.receive_json()
    assert sent["event"]["drawn"] is True
    assert await hass.config_entries.async_reload(entry.entry_id)
    while sent["event"].get("state") != "running":
        sent = await one.client.receive_json()
    assert sent["event"]["drawn"] is True


async def test_a_draft_survives_restarts_and_reloads(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    one: Browser,
    hass_storage: dict[str, Any],
) -> None:
    got = await one.ask("get")
    drawn = wider(got["document"])
    # Its problems don't prevent saving.
    drawn["ducts"][1]["end"] = None
    drawn["notes"] = "by hand"
    saved = await one.ask("save", revision=got["revision"], document=drawn)
    assert {p["code"] for p in saved["problems"]} == {"end_nowhere"}
    assert hass_storage["gatewright.system.plan"]["data"]["document"] == drawn
    await again(hass, entry)
    got = await one.ask("get")
    assert got["document"] == drawn
    assert got["revision"] == saved["revision"]
    assert got["stored"]
    assert await hass.config_entries.async_reload("system")
    await hass.async_block_till_done()
    assert (await one.ask("get"))["document"] == drawn


async def test_what_forms_change_while_nobody_looks_is_taken_over(
    hass: HomeAssistant, entry: MockConfigEntry, one: Browser
) -> None:
    got = await one.ask("get")
    await one.ask("save", revision=got["revision"], document=wider(got["document"]))
    assert await hass.config_entries.async_unload("system")
    hass.data["gatewright_handovers"].clear()
    del hass.data[DRAFTS]
    add_part(hass, entry, duct("new", "New branch", into="main"))
    assert await hass.config_entries.async_setup("system")
    await hass.async_block_till_done()
    got = await one.ask("get")
    assert {drawn["bound"] for drawn in got["document"]["ducts"]} == {
        "main",
        "branch",
        "far",
        "new",
    }
    changes = (await one.ask("preview"))["changes"]
    assert [(c["code"], c["part"]) for c in changes] == [("duct_changed", "main")]


@pytest.mark.parametrize(
    "data",
    [
        {"revision": 3},
        {"revision": "x", "cause": "saved", "document": {}, "base": {}},
        {
            "revision": 3,
            "cause": "saved",
            "document": {
                "format": "gatewright-plan",
                "version": 1,
                "items": [],
                "ducts": [],
                "gates": [],
            },
            "base": {"ducts": {"a": 1}, "places": {}, "names": {}},
        },
    ],
)
async def test_a_damaged_draft_is_put_aside_and_reported(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_storage: dict[str, Any],
    hass_ws_client: WebSocketGenerator,
    data: Data,
) -> None:
    hass_storage["gatewright.system.plan"] = {
        "version": 1,
        "minor_version": 1,
        "key": "gatewright.system.plan",
        "data": data,
    }
    await start(hass, workshop, system_entry(ducted_parts(), **FAN))
    issue = ir.async_get(hass).async_get_issue(DOMAIN, "file_lost_system_plan")
    assert issue is not None
    assert issue.translation_key == "file_lost_plan"
    got = await (await browser(hass, hass_ws_client)).ask("get")
    assert len(got["document"]["ducts"]) == 3
    assert not got["differs"]


async def test_a_draft_goes_with_its_system(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    one: Browser,
    hass_storage: dict[str, Any],
) -> None:
    got = await one.ask("get")
    await one.ask("save", revision=got["revision"], document=got["document"])
    assert "gatewright.system.plan" in hass_storage
    assert await hass.config_entries.async_remove("system")
    await hass.async_block_till_done()
    assert "gatewright.system.plan" not in hass_storage
    assert "system" not in hass.data[DRAFTS]
    assert (await one.send("get"))["error"]["code"] == NO_SUCH_THING


async def test_a_plan_with_mistakes_is_not_applied(
    entry: MockConfigEntry, one: Browser
) -> None:
    got = await one.ask("get")
    drawn = got["document"]
    drawn["ducts"][1]["end"] = None
    saved = await one.ask("save", revision=got["revision"], document=drawn)
    assert not (await one.ask("preview"))["possible"]
    refused = await one.ask("apply", revision=saved["revision"])
    assert (refused["applied"], refused["reason"]) == (False, "errors")
    assert refused["problems"][0]["at"]["kind"] == "duct"
    assert entry.subentries["branch"].data["into"] == "main"
    content = got["document"]
    for command, more in (
        ("apply", {}),
        ("discard", {}),
        ("import", {"content": content}),
    ):
        stale = await one.ask(command, revision=got["revision"], **more)
        assert stale["reason"] == "stale"
        assert not stale["applied"]
        assert not stale["saved"]
        assert stale["revision"] == saved["revision"]


async def test_what_is_no_plan_is_refused_with_the_place(one: Browser) -> None:
    got = await one.ask("get")
    drawn = copy.deepcopy(got["document"])
    drawn["ducts"][2]["points"][0]["x"] = "west"
    for command, fields in (
        ("save", {"revision": got["revision"], "document": drawn}),
        ("import", {"revision": got["revision"], "content": json.dumps(drawn)}),
        ("compute", {"document": drawn}),
        ("preview", {"document": drawn}),
        ("size", {"document": drawn}),
    ):
        refused = await one.ask(command, language="de", **fields)
        assert refused["reason"] == refused["why"] == "refused"
        (problem,) = refused["problems"]
        assert problem["path"] == "ducts[2].points[0].x"
        assert problem["text"] == "ducts[2].points[0].x muss eine Zahl sein."
    broken = await one.ask("import", revision=got["revision"], content="{")
    assert "line 1, column 2" in broken["problems"][0]["text"]
    assert (await one.ask("get")) == got


async def test_a_draft_can_be_thrown_away(one: Browser) -> None:
    got = await one.ask("get")
    drawn = wider(got["document"])
    saved = await one.ask("save", revision=got["revision"], document=drawn)
    assert saved["differs"]
    thrown = await one.ask("discard", revision=saved["revision"])
    assert thrown["document"] == got["document"]
    assert not thrown["differs"]
    assert thrown["revision"] == saved["revision"] + 1


async def test_removing_ducts_and_gates_places(
    hass: HomeAssistant, entry: MockConfigEntry, one: Browser
) -> None:
    got = await one.ask("get")
    drawn = got["document"]
    drawn["ducts"] = [d for d in drawn["ducts"] if d["bound"] != "branch"]
    for gate in drawn["gates"]:
        if gate["bound"] == "saw_gate":
            gate["duct"] = None
    drawn["gates"] = [g for g in drawn["gates"] if g["bound"] != "planer_gate"]
    saved = await one.ask("save", revision=got["revision"], document=drawn)
    preview = await one.ask("preview", language="en")
    assert [change["text"] for change in preview["changes"]] == [
        "Remove the duct Saw branch",
        "Remove Saw gate from its duct",
        "Remove Planer gate from its duct",
    ]
    await one.ask("apply", revision=saved["revision"])
    assert "branch" not in entry.subentries
    assert "duct" not in entry.subentries["saw_gate"].data
    assert entry.subentries["planer_gate"].data["gate_kind"] == "powered"
    issues = [issue for _, issue in ir.async_get(hass).issues]
    assert not [issue for issue in issues if issue.startswith("duct_removed")]


async def test_new_ducts_get_names_of_their_own(
    entry: MockConfigEntry, one: Browser
) -> None:
    got = await one.ask("get")
    drawn = got["document"]
    main = next(d for d in drawn["ducts"] if d["bound"] == "main")
    far, near = (point["x"] for point in main["points"])
    y = main["points"][0]["y"]
    for number, name in enumerate(("", "main", "")):
        x = near + (far - near) * (number + 1) / 5
        drawn["ducts"].append(
            {
                "id": f"n{number}",
                "name": name,
                "points": [{"x": x, "y": y + 9, "z": 2.4}, {"x": x, "y": y, "z": 2.4}],
                "diameter": 0.1,
                "end": {"to": "duct", "duct": main["id"]},
            }
        )
    saved = await one.ask("save", revision=got["revision"], document=drawn)
    applied = await one.ask("apply", revision=saved["revision"])
    assert applied["applied"], applied
    titles = sorted(d.title for d in entry.get_subentries_of_type("duct"))
    assert titles == NEW_TITLES
    # The piece above all new branches is the existing duct.
    assert entry.subentries["far"].data["into"] == "main"


async def test_without_a_fan_there_is_a_plan_but_no_figures(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    await start(hass, workshop, system_entry(ducted_parts()))
    drawn = await browser(hass, hass_ws_client)
    got = await drawn.ask("get")
    assert (got["computable"], got["why"]) == (False, "no_fan")
    found = await drawn.ask("compute", running=["machine saw"])
    assert (found["available"], found["why"]) == (False, "no_fan")
    # The fan's duty can be computed anyway.
    sized = await drawn.ask("size")
    assert sized["available"]
    assert sized["duty"]


async def test_a_system_without_ducts_has_a_collector_to_begin_with(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    await start(hass, workshop, system_entry(standard_parts(), **FAN))
    drawn = await browser(hass, hass_ws_client)
    got = await drawn.ask("get")
    assert [item["type"] for item in got["document"]["items"]] == ["collector"]
    assert len(got["machines"]) == 3
    found = await drawn.ask("compute")
    assert (found["available"], found["why"]) == (False, "no_ducts")
    assert (await drawn.ask("size"))["why"] == "no_ducts"


async def test_what_somebody_sees_who_is_no_administrator(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_read_only_user: User,
    hass_read_only_access_token: str,
    hass_ws_client: WebSocketGenerator,
) -> None:
    """All lines and figures, and the visible parts' names."""
    guest = Guest(hass, hass_read_only_user)
    look = {"read": True}
    guest.may(
        {
            "switch.dust_collector": look,
            "switch.planer_dust_collection": look,
            "cover.planer_gate": look,
        }
    )
    seen = await browser(hass, hass_ws_client, token=hass_read_only_access_token)
    await seen.ask("subscribe")
    for command in ("get", "compute", "size", "preview", "export"):
        fields: Data = {"all": True} if command == "compute" else {}
        found = await seen.ask(command, **fields)
        reported = json.dumps(found)
        for hidden in ("Table saw", "Saw gate", "Sweep gate", "Floor sweep"):
            assert hidden not in reported, (command, hidden)
        if command in ("get", "export"):
            assert "Planer" in reported
    got = await seen.ask("get")
    assert not got["editable"]
    assert [machine["id"] for machine in got["machines"]] == ["planer"]
    guest.may(**EVERYTHING)
    assert "Table saw" in json.dumps(await seen.ask("get"))
    for command in ("save", "import", "apply", "discard"):
        contents: dict[str, Data] = {
            "save": {"document": {}},
            "import": {"content": ""},
        }
        more = contents.get(command, {})
        answer = await seen.send(command, revision=1, **more)
        assert answer["error"]["code"] == "unauthorized"


@pytest.mark.parametrize("language", ["en", "de", "fr"])
async def test_every_code_has_words(hass: HomeAssistant, language: str) -> None:
    texts = await async_get_translations(hass, language, "selector", [DOMAIN])
    codes = {
        "plan_problem": {*ERRORS, *WARNINGS, "impossible", "not_json", "not_a_plan"}
        | {"wrong_version", "missing", "wrong_type", "out_of_range", "too_many"}
        | {"unknown_choice", "duplicate_id", "point_twice"},
        "plan_change": {
            DUCT_ADDED,
            DUCT_CHANGED,
            DUCT_REMOVED,
            GATE_PLACED,
            GATE_MOVED,
            GATE_TAKEN_OFF,
        },
        "plan_field": {*OF_DUCT, *OF_PLACE, NAME},
        "plan_type": {"number", "text", "flag", "list", "map", "pair"},
    }
    for kind, keys in codes.items():
        for key in keys:
            path = f"component.{DOMAIN}.selector.{kind}.options.{key}"
            assert texts.get(path), path


async def test_changes_are_reported_in_words(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    await start(hass, workshop, demo_entry(ducts=True))
    drawn = await browser(hass, hass_ws_client)
    got = await drawn.ask("get")
    plan = got["document"]
    for row in plan["ducts"]:
        if row["bound"] == "main_2":
            row |= {"diameter": 0.16, "name": "Wide main", "material": "spiral"}
        if row["bound"] == "jointer_branch":
            row["typed"] = {"length": 2.25, "elbows": []}
    for row in plan["gates"]:
        if row["bound"] == "jointer_gate":
            row["opening"]["hose"]["state"] = "stretched"
    found = await drawn.ask("preview", document=plan, language="en")
    texts = {
        change["text"]: [field["text"] for field in change["fields"]]
        for change in found["changes"]
    }
    assert texts == {
        "Change the duct Main 2": [
            "Name: Main 2 → Wide main",
            "Diameter: 150 mm → 160 mm",
            "Material: Galvanized sheet → Spiral pipe",
        ],
        "Change the duct Jointer branch": [
            "Length: 2.00 m → 2.25 m",
            "Elbows: 1 × 90° → none",
        ],
        "Change where Jointer gate sits": ["Hose layout: Relaxed → Stretched"],
    }
