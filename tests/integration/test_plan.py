"""The plan in Home Assistant: figures, sizes, applying, and both directions."""

from typing import Any

from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from custom_components.gatewright.core.airflow import advice, solver
from custom_components.gatewright.core.plan.reading import read
from custom_components.gatewright.features.plan.draft_shop import draft_shop
from custom_components.gatewright.features.plan.figures import figures
from custom_components.gatewright.features.plan.parts import known_of, stock_of
from custom_components.gatewright.runtime.entry_data import read_config
from tests.plan.drawn_demo import document
from tests.plan.shops import demo_ducts, demo_places

from .air_shop import FAN, ducted_parts
from .plan_shop import MACHINES, browser, demo_entry, start
from .workshop import SAW_POWER, Workshop, change_part, change_system, system_entry

type Data = dict[str, Any]


async def assessed(hass: HomeAssistant, entry_id: str = "system") -> Data:
    """Return the assessment of a system's own ducts."""
    found = await hass.services.async_call(
        "gatewright",
        "assess_airflow",
        {"config_entry_id": entry_id},
        blocking=True,
        return_response=True,
    )
    machines: Any = found["machines"] if found else None
    return {row["name"]: row for row in machines}


def own_flow(row: Data) -> float:
    """Return a machine's flow in an assessment: that of its openings."""
    return float(sum(pickup["flow"] for pickup in row["breakdown"]))


def drawing(prefix: str = "") -> Data:
    """Return the hand-drawn demo, with its gates and machines bound."""
    gates = {gate: prefix + gate for _, own in MACHINES.values() for gate in own}
    found = document(gates, {name: own for name, (_, own) in MACHINES.items()})
    for item in found["items"][1:]:
        item["bound"] = prefix + item["id"]
    return found


async def test_what_is_drawn_flows_like_what_was_entered_by_forms(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    """Within 1 %, each machine alone; the drawing is in no form of this system."""
    await start(hass, workshop, demo_entry(ducts=True))
    by_forms = await assessed(hass)
    drawn = await browser(hass, hass_ws_client)
    assert len(by_forms) == 11
    for machine, (_, gates) in MACHINES.items():
        found = await drawn.ask("compute", document=drawing(), running=[machine])
        row = by_forms[machine.replace("_", " ").capitalize()]
        mine = found["machines"][machine]
        assert mine["flow"] == pytest.approx(own_flow(row), rel=0.01), machine
        assert mine["required"] == pytest.approx(row["required"])
        assert found["collector"]["flow"] == pytest.approx(row["flow_at_fan"], rel=0.01)
        assert mine["running"]
        assert {f"g_{gate}" for gate in gates} <= set(found["open"])
        assert found["limits"][0]["kind"] == row["limits"][0]["kind"]


async def test_the_drawing_of_the_forms_flows_like_the_forms(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    await start(hass, workshop, demo_entry(ducts=True))
    by_forms = await assessed(hass)
    drawn = await browser(hass, hass_ws_client)
    got = await drawn.ask("get")
    assert not got["differs"]
    assert not got["stored"]
    names = {item["id"]: item["name"] for item in got["document"]["items"]}
    found = await drawn.ask("compute", all=True)
    assert len(found["alone"]) == 11
    for row in found["alone"]:
        own = by_forms[names[row["item"]]]
        assert row["flow"] == pytest.approx(own_flow(own), rel=1e-6)
        assert row["verdict"] == (own["verdict"] if own["required"] else None)
        assert row["set_verdict"] == own["set_verdict"]
    ratios = [row["set_ratio"] for row in found["alone"]]
    assert ratios == sorted(ratios)


async def test_a_plan_that_is_applied_is_what_the_forms_would_have_stored(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    entry = demo_entry(ducts=False)
    await start(hass, workshop, entry)
    drawn = await browser(hass, hass_ws_client)
    got = await drawn.ask("get")
    saved = await drawn.ask("save", revision=got["revision"], document=drawing())
    assert saved["saved"]
    assert saved["differs"]
    preview = await drawn.ask("preview")
    assert preview["possible"]
    codes = [change["code"] for change in preview["changes"]]
    assert codes.count("duct_added") == 11
    assert codes.count("gate_placed") == 13
    assert preview["planned"] == ["g_drop_box_gate"]
    applied = await drawn.ask("apply", revision=saved["revision"])
    assert applied["applied"]
    assert not entry.runtime_data.context.described.unread
    ducts = {d.title: d for d in entry.get_subentries_of_type("duct")}
    ids = {duct.subentry_id: name for name, duct in ducts.items()}
    assert {"Main 1", "Main 2", "Main 3", "Main 4", "Bench main"} <= ducts.keys()
    assert ids[ducts["Main 4"].data["into"]] == "Main 3"
    assert "into" not in ducts["Main 1"].data
    assert ids[ducts["Planer branch"].data["into"]] == "Main 1"
    assert ducts["Main 1"].data["diameter"] == 0.16
    saw = entry.subentries["table_saw_gate"].data
    assert ids[saw["duct"]] == "Table saw branch"
    assert saw["hose_state"] == "relaxed"
    assert saw["gate_kind"] == "hand"
    # The applied plan is the drawing again, and applying it again changes nothing.
    got = await drawn.ask("get")
    assert got["document"] == applied["document"]
    assert not got["differs"]
    again = await drawn.ask("apply", revision=got["revision"])
    assert again["changes"] == []
    assert len(entry.get_subentries_of_type("duct")) == 11


async def test_a_plan_of_another_system_gives_the_same_assessment(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    """Exported, imported into a system without ducts, applied."""
    await start(
        hass,
        workshop,
        demo_entry(ducts=True),
        demo_entry(ducts=False, entry_id="other", prefix="other_"),
    )
    first = await browser(hass, hass_ws_client)
    second = await browser(hass, hass_ws_client, "other")
    exported = await first.ask("export")
    assert exported["filename"] == "dust-collector-plan.json"
    revision = (await second.ask("get"))["revision"]
    imported = await second.ask(
        "import", revision=revision, content=exported["content"]
    )
    assert imported["unbound"] == []
    applied = await second.ask("apply", revision=imported["revision"])
    assert applied["applied"], applied
    one, other = await assessed(hass), await assessed(hass, "other")
    assert one.keys() == other.keys()
    for name, row in one.items():
        assert other[name]["flow"] == pytest.approx(row["flow"], rel=1e-9)
        assert own_flow(other[name]) == pytest.approx(own_flow(row), rel=1e-9)
        assert other[name]["set_verdict"] == row["set_verdict"]


async def test_a_plan_in_a_system_without_machines_is_computed_as_planned(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    await start(
        hass,
        workshop,
        demo_entry(ducts=True),
        demo_entry(ducts=False, entry_id="other", machines=False),
    )
    first = await browser(hass, hass_ws_client)
    second = await browser(hass, hass_ws_client, "other")
    exported = await first.ask("export")
    revision = (await second.ask("get"))["revision"]
    imported = await second.ask(
        "import", revision=revision, content=exported["content"]
    )
    assert len(imported["unbound"]) == 24 + 1
    one = (await first.ask("compute", all=True))["alone"]
    other = (await second.ask("compute", all=True))["alone"]
    flows = {row["item"]: row["flow"] for row in one}
    assert len(flows) == 11
    for row in other:
        if row["item"] in flows:
            assert row["flow"] == pytest.approx(flows[row["item"]], rel=1e-6)


async def test_the_collector_runs_on_while_a_plan_is_applied(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    entry = system_entry(ducted_parts(), **FAN)
    await start(hass, workshop, entry)
    await workshop.pass_time(11, 1)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(8)
    workshop.sent()
    looks: list[int] = []
    entry.runtime_data.context.on_replan(lambda: looks.append(1))
    drawn = await browser(hass, hass_ws_client)
    got = await drawn.ask("get")
    plan = got["document"]
    for duct in plan["ducts"]:
        duct["diameter"] = 0.2
    saved = await drawn.ask("save", revision=got["revision"], document=plan)
    applied = await drawn.ask("apply", revision=saved["revision"])
    assert [row["code"] for row in applied["changes"]] == ["duct_changed"] * 3
    assert len(looks) == 1
    await workshop.pass_time(3)
    assert workshop.sent() == []
    assert workshop.state("switch.dust_collector") == "on"


async def test_what_forms_change_is_on_the_plan(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    entry = demo_entry(ducts=True)
    await start(hass, workshop, entry)
    drawn = await browser(hass, hass_ws_client)
    got = await drawn.ask("get")
    plan = got["document"]
    moved = next(duct for duct in plan["ducts"] if duct["bound"] == "planer_branch")
    moved["points"].insert(0, {**moved["points"][0], "z": 1.0})
    saved = await drawn.ask("save", revision=got["revision"], document=plan)
    await drawn.ask("subscribe")
    change_part(hass, entry, "main_2", length=3.1, title="Long main")
    change_part(hass, entry, "jointer_branch", into="main_3")
    change_part(hass, entry, "jointer_gate", duct="main_1", hose_length=2.2)
    hass.config_entries.async_remove_subentry(entry, "drum_sander_branch")
    await hass.async_block_till_done()
    got = await drawn.ask("get")
    assert got["revision"] > saved["revision"]
    assert {event["cause"] for event in drawn.events[1:]} == {"set_up"}
    ducts = {duct["bound"]: duct for duct in got["document"]["ducts"]}
    assert "drum_sander_branch" not in ducts
    assert ducts["main_2"]["name"] == "Long main"
    # What was drawn meanwhile is still there, with everything that applying would change.
    preview = await drawn.ask("preview")
    assert [(c["code"], c["part"]) for c in preview["changes"]] == [
        ("duct_changed", "planer_branch")
    ]
    fields = {field["field"] for field in preview["changes"][0]["fields"]}
    # The elbows were typed in the form; they stay until somebody removes them.
    assert fields == {"length", "vertical"}


async def test_sizes_are_a_proposal_taken_whole_or_piece_by_piece(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    await start(hass, workshop, demo_entry(ducts=True))
    drawn = await browser(hass, hass_ws_client)
    whole = await drawn.ask("size", document=drawing())
    assert whole["available"]
    assert whole["changes"]
    assert whole["duty"]
    assert whole["materials"]
    assert whole["sets"][0]["items"]
    for change in whole["changes"]:
        assert change["after"]["diameter"] in whole["sizes"]
    # Sized again, nothing is left to change.
    again = await drawn.ask("size", document=whole["document"])
    assert again["changes"] == []
    one = next(c for c in whole["changes"] if c["key"].startswith("main/"))
    part = await drawn.ask("size", document=drawing(), take=[one["key"]])
    left = await drawn.ask("size", document=part["document"])
    keys = {change["key"] for change in left["changes"]}
    assert keys == {change["key"] for change in whole["changes"]} - {one["key"]}


async def test_the_drawing_as_it_is_has_tables_and_lists_for_paper(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    await start(hass, workshop, demo_entry(ducts=True))
    by_forms = await assessed(hass)
    drawn = await browser(hass, hass_ws_client)
    found = await drawn.ask("size", keep=True)
    assert found["changes"] == []
    for one in found["sets"]:
        flow = by_forms[one["name"]]["flow_at_fan"]
        assert one["flow"] == pytest.approx(flow, rel=0.01)
        assert one["table"][0]["segment"]
    straight = [m for m in found["materials"] if m["item"] == "pipe"]
    length = sum(m["length"] for m in straight) / (1 + found["waste"])
    assert length == pytest.approx(
        sum(data["length"] for data in demo_ducts().values())
        + sum(place.get("drop_length", 0) for place in demo_places().values()),
        rel=0.01,
    )
    elbows = [m for m in found["materials"] if m["item"] == "elbow"]
    assert sum(m["count"] for m in elbows if m["angle"] == 90) == 10 + 3


async def test_machines_that_run_together_are_sized_together(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    await start(hass, workshop, demo_entry(ducts=True))
    drawn = await browser(hass, hass_ws_client)
    both = ["machine planer", "machine table_saw"]
    alone = await drawn.ask("size")
    found = await drawn.ask("size", together=[both, ["machine hose"], ["nobody"]])
    assert len(found["sets"]) == len(alone["sets"]) + 1
    last = found["sets"][-1]
    assert last["items"] == both
    assert last["flow"] > max(one["flow"] for one in alone["sets"])


async def test_figures_that_make_no_sense_are_reported_at_their_place(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    entry = demo_entry(ducts=True)
    await start(hass, workshop, entry)
    change_system(hass, entry, inlet_diameter=5.0)
    drawn = await browser(hass, hass_ws_client)
    for command in ("compute", "size"):
        found = await drawn.ask(command)
        assert (found["available"], found["why"]) == (False, "impossible")
        assert found["at"] == {"kind": "collector", "id": ""}
        assert "dust collector" in found["text"]


async def test_new_figures_take_one_solution_of_the_network(
    hass: HomeAssistant, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`python -m benchmarks.plan` has the milliseconds."""
    config = read_config(demo_entry(ducts=True))
    solved: list[int] = []

    def counted(*args: Any, **options: Any) -> Any:
        solved.append(1)
        return solver.solve(*args, **options)

    monkeypatch.setattr(advice, "solve", counted)
    plan = read(drawing())
    shop = draft_shop(plan, config, known_of(stock_of(config)))
    assert figures(hass, shop, ["planer", "table_saw"])["available"]
    assert len(solved) == 1
    assert len(figures(hass, shop, everything=True)["alone"]) == 11
    assert len(solved) == 1 + 1 + 11
