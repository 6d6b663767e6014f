"""Sizing as an action and as a printable page."""

from dataclasses import replace
import threading
from typing import Any
from unittest.mock import patch

from homeassistant.core import Context, HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import entity_registry as er
from homeassistant.setup import async_setup_component
from homeassistant.util.unit_system import METRIC_SYSTEM, US_CUSTOMARY_SYSTEM
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator
import voluptuous as vol

from custom_components.gatewright.core.airflow import solver
from custom_components.gatewright.core.airflow.sizing import METRIC_SIZES

from .air_shop import FAN, ducted_parts
from .workshop import Workshop, change_part, system_entry

PAGE = "/api/gatewright/system/sizing"
INCH = 0.0254
LISTED = [
    {"machine": "Table saw", "distance": 3},
    {"machine": "Planer", "distance": 6, "port": 150},
    {"machine": "Belt sander", "distance": 8, "kind": "sander", "hose": 2},
]


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Return a running system with ducts and a fan, in metric units."""
    hass.config.units = METRIC_SYSTEM
    assert await async_setup_component(hass, "http", {})
    entry = system_entry(ducted_parts(), **FAN)
    await workshop.start(entry)
    return entry


async def _size(
    hass: HomeAssistant, *, context: Context | None = None, **data: Any
) -> Any:
    return await hass.services.async_call(
        "gatewright",
        "size_ducts",
        {"config_entry_id": "system", **data},
        blocking=True,
        return_response=True,
        context=context,
    )


async def test_the_ducts_that_were_entered(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    found = await _size(hass)
    assert found["fan"]
    assert found["not_placed"] == []
    widths = {row["name"]: row["diameter"] for row in found["segments"]}
    # The planer has only its port: it draws at the width of the duct.
    assert widths.keys() == {"Main", "Saw branch", "Far end", "Saw gate", "Sweep gate"}
    assert set(widths.values()) <= set(METRIC_SIZES)
    assert widths["Main"] >= max(widths["Saw branch"], widths["Far end"])
    assert {row["kind"] for row in found["segments"]} == {"duct", "pickup"}
    assert [one["name"] for one in found["sets"]] == [
        "Table saw",
        "Planer",
        "Floor sweep",
    ]
    # Every figure is the solver's for the sized tree.
    saw = found["sets"][0]
    rows = {row["segment"]: row for row in saw["table"]}
    assert list(rows) == ["Saw gate", "Saw branch", "Main"]
    assert rows["Main"]["flow"] == pytest.approx(saw["flow"])
    assert rows["Main"]["static"] == pytest.approx(-saw["suction"])
    assert sum(rows["Main"]["losses"].values()) == rows["Main"]["loss"]
    assert rows["Saw gate"]["static"] > rows["Main"]["static"]
    assert saw["ratio"] >= found["ratio"] == min(s["ratio"] for s in found["sets"])
    kinds = {item["item"] for item in found["materials"]}
    assert {"pipe", "hose", "elbow", "branch", "gate", "hose_clamp"} <= kinds


async def test_a_newcomer_gets_a_pipe_list_from_a_list_of_machines(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Machines are known, and nothing about ducts or a fan."""
    hass.config.units = METRIC_SYSTEM
    entry = system_entry()
    await workshop.start(entry)
    change_part(hass, entry, "saw", kind="table_saw")
    change_part(hass, entry, "planer", kind="planer")
    await workshop.settle()
    found = await _size(
        hass, machines=LISTED, together=[{"machines": ["planer", "table saw"]}]
    )
    assert found["listed"]
    assert not found["fan"]
    # Without a fan everything has its margin, and the duty shows the cost.
    assert found["verdict"] == "enough"
    assert found["changes"] == []
    assert [point for point in found["duty"] if point["governs"]]
    assert [one["name"] for one in found["sets"]] == [
        "Table saw",
        "Planer",
        "Belt sander",
        "Planer + Table saw",
    ]
    for one in found["sets"]:
        assert one["ratio"] == pytest.approx(1.15, rel=1e-4)
    assert [row["name"] for row in found["segments"]][:3] == [
        "main 1",
        "main 2",
        "main 3",
    ]
    pipe = sum(i["length"] for i in found["materials"] if i["item"] == "pipe")
    hose = sum(i["length"] for i in found["materials"] if i["item"] == "hose")
    assert pipe == pytest.approx(1.1 * (8 + 3 * 2.5))
    assert hose == pytest.approx(1.1 * 4)
    assert found["text"].splitlines()[0] == (
        "Enough airflow for every machine, with the margin."
    )
    assert "- Main 1: 160 mm, 3.0 m" in found["text"]
    assert "addresses" not in found


async def test_figures_are_entered_in_the_units_of_the_system(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    hass.config.units = US_CUSTOMARY_SYSTEM
    found = await _size(
        hass,
        machines=[{"machine": "Saw two", "distance": 10, "flow": 400, "port": 4}],
        sizes=[4, 5, 6],
        use_fan=False,
    )
    assert found["sizes"] == [pytest.approx(size * INCH) for size in (4, 5, 6)]
    [one] = found["sets"]
    assert one["table"][0]["required"] == pytest.approx(400 * 0.3048**3 / 60)
    assert found["segments"][0]["length"] == pytest.approx(10 * 0.3048)
    assert "in, 10.0 ft" in found["text"]
    usual = await _size(hass)
    assert usual["sizes"][0] == pytest.approx(3 * INCH)
    metric = await _size(hass, series="metric")
    assert metric["sizes"] == list(METRIC_SIZES)


async def test_a_weak_fan_falls_short_and_says_what_would_do(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """The planer on 150 mm needs more than a fan with a third of the flow delivers."""
    weak = [[flow / 3, pressure] for flow, pressure in FAN["fan_points"]]
    hass.config_entries.async_update_entry(
        entry, data={**entry.data, "fan_points": weak}
    )
    await hass.async_block_till_done()
    found = await _size(hass)
    assert found["verdict"] == "too_little"
    assert found["ratio"] < 1
    last = found["changes"][-1]
    assert last["change"] == "stronger_fan"
    assert last["verdict"] == "enough"
    assert last["pressure"] > 0
    ratios = [found["ratio"], *(change["ratio"] for change in found["changes"])]
    assert ratios == sorted(ratios)
    assert "Too little airflow for some machines" in found["text"]
    assert "Use a stronger fan" in found["text"]


async def test_a_fan_counts_as_it_was_found_to_be(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """A calibration that found a fifth less pressure leaves less for every machine."""
    before = await _size(hass)
    shop = entry.runtime_data.air.shop
    weaker = shop.network.adjusted(fan=0.8)
    with patch(
        "custom_components.gatewright.features.airflow.sizing_request.read_shop",
        return_value=replace(shop, network=weaker),
    ):
        after = await _size(hass)
    assert after["ratio"] < before["ratio"] * 0.97


async def test_fans_are_compared(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    strong = [[q * 3600 * 2, p * 2] for q, p in FAN["fan_points"]]
    weak = [[q * 3600 / 3, p / 2] for q, p in FAN["fan_points"]]
    found = await _size(
        hass,
        use_fan=False,
        bleed=True,
        fans=[
            {"name": "Strong", "points": strong},
            {"name": "Weak", "points": weak},
        ],
    )
    assert {fan["name"]: fan["verdict"] for fan in found["fans"]} == {
        "Strong": "enough",
        "Weak": "too_little",
    }


async def test_everything_open_and_balanced_by_gates(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    names = ["Table saw", "Planer", "Floor sweep"]
    found = await _size(hass, balanced=True, together=[{"machines": names}])
    every = found["sets"][-1]
    needed = sum(row["required"] for row in every["table"])
    assert every["flow"] == pytest.approx(1.15 * needed, rel=1e-3)


@pytest.mark.parametrize(
    ("data", "key"),
    [
        (
            {"machines": [{"machine": "Nobody", "distance": 3}]},
            "sizing_unknown_machine",
        ),
        ({"together": [{"machines": ["Nobody", "Planer"]}]}, "sizing_unknown_machine"),
        ({"together": [{"machines": ["Planer", "planer"]}]}, "sizing_together"),
        (
            {"machines": [LISTED[0], {"machine": "table saw", "distance": 4}]},
            "sizing_machine_twice",
        ),
        (
            {"machines": [{"machine": "Hood", "distance": 4, "kind": "bench_hood"}]},
            "sizing_flow_unknown",
        ),
        (
            {"machines": [{"machine": "Planer", "distance": 400}]},
            "sizing_impossible",
        ),
        ({"sizes": [5000]}, "sizing_impossible"),
        (
            {"fans": [{"name": "Odd", "points": [[0, 1], [0, 2]]}]},
            "sizing_impossible",
        ),
    ],
)
async def test_what_cannot_be_sized_is_reported(
    hass: HomeAssistant, entry: MockConfigEntry, data: dict[str, Any], key: str
) -> None:
    with pytest.raises(ServiceValidationError) as refused:
        await _size(hass, **data)
    assert refused.value.translation_key == key


@pytest.mark.parametrize(
    "data",
    [
        {"machines": [{"machine": "Planer", "distance": 0}]},
        {"machines": [{"machine": "", "distance": 3}]},
        {"machines": [{"machine": "Planer", "distance": 3, "kind": "rocket"}]},
        {"margin": 200},
        {"sizes": []},
        {"series": "cubit"},
        {"fans": [{"name": "Odd", "points": [[1, 2, 3]]}]},
    ],
)
async def test_what_makes_no_sense_is_refused(
    hass: HomeAssistant, entry: MockConfigEntry, data: dict[str, Any]
) -> None:
    with pytest.raises(vol.Invalid):
        await _size(hass, **data)


async def test_a_system_without_ducts_says_what_to_do(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    with pytest.raises(ServiceValidationError) as refused:
        await _size(hass)
    assert refused.value.translation_key == "sizing_no_ducts"


async def test_the_page(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_client: ClientSessionGenerator,
    hass_client_no_auth: ClientSessionGenerator,
) -> None:
    """It needs a signed-in user, or the URL that the action returns."""
    stranger = await hass_client_no_auth()
    assert (await stranger.get(PAGE)).status == 401
    client = await hass_client()
    page = await (await client.get(PAGE)).text()
    assert "Table saw" in page
    assert "Main 1" not in page
    # The page shows the action's last request.
    found = await _size(hass, machines=LISTED)
    answer = await stranger.get(found["addresses"]["sizing"])
    assert answer.status == 200
    text = await answer.text()
    assert "Belt sander" in text
    assert "Main 1" in text
    hass.config.units = US_CUSTOMARY_SYSTEM
    # As long as it can still be computed: 8 m is 8 ft now, and the port 150 in.
    assert (await client.get(PAGE)).status == 404


async def test_the_assessment_leads_to_the_page(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_client_no_auth: ClientSessionGenerator,
) -> None:
    found: Any = await hass.services.async_call(
        "gatewright",
        "assess_airflow",
        {"config_entry_id": "system"},
        blocking=True,
        return_response=True,
    )
    stranger = await hass_client_no_auth()
    assert (await stranger.get(found["addresses"]["sizing"])).status == 200


async def test_a_page_of_nothing(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    assert await async_setup_component(hass, "http", {})
    await workshop.start(system_entry())
    client = await hass_client()
    assert (await client.get(PAGE)).status == 404


async def test_the_page_is_only_for_who_may_see_the_system(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_client: ClientSessionGenerator,
    hass_admin_user: MockUser,
) -> None:
    hass_admin_user.groups = []
    client = await hass_client()
    assert (await client.get(PAGE)).status == 404


async def test_what_somebody_may_not_see_has_no_name(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """A visitor who sees the collector and the planer sees no other machine."""
    user = MockUser(name="Visitor").add_to_hass(hass)
    registry = er.async_get(hass)
    seen = [
        entity_id
        for unique_id in ("system_collector", "planer_request")
        if (
            entity_id := registry.async_get_entity_id("switch", "gatewright", unique_id)
        )
    ]
    assert len(seen) == 2
    user.mock_policy({"entities": {"entity_ids": dict.fromkeys(seen, True)}})
    context = Context(user_id=user.id)
    found = await _size(hass, context=context)
    assert [one["name"] for one in found["sets"]] == ["Planer"]
    assert "Saw gate" not in str(found)
    assert "Table saw" not in str(found)
    with pytest.raises(ServiceValidationError) as refused:
        await _size(hass, machines=[LISTED[0]], context=context)
    assert refused.value.translation_key == "sizing_unknown_machine"
    user.mock_policy({"entities": {"entity_ids": {"switch.lamp": True}}})
    with pytest.raises(ServiceValidationError) as refused:
        await _size(hass, context=context)
    assert refused.value.translation_key == "no_such_system"


async def test_home_assistant_keeps_running_meanwhile(
    hass: HomeAssistant, entry: MockConfigEntry, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is solved in the event loop's thread."""
    loop = threading.get_ident()
    threads: set[int] = set()
    iterate = solver._iterate

    def watched(*args: Any) -> Any:
        threads.add(threading.get_ident())
        return iterate(*args)

    monkeypatch.setattr(solver, "_iterate", watched)
    await _size(hass)
    assert threads
    assert loop not in threads
