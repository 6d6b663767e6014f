"""The assessment as an action, as a printable page and as a table."""

import asyncio
import csv
import io
from threading import get_ident
from time import perf_counter
from typing import Any
from unittest.mock import patch

from homeassistant.auth.models import Group
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import entity_registry as er, service
from homeassistant.setup import async_setup_component
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from benchmarks.airflow import shop as benchmark_shop
from custom_components.gatewright.core.airflow import solve
from custom_components.gatewright.features.airflow.assessment import assessment
from custom_components.gatewright.texts.pages import render

from .air_shop import FAN, duct, ducted_parts
from .invented_air_shop import air_shop
from .workshop import Workshop, change_part, gate, system_entry

PAGE = "/api/gatewright/system/airflow"


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Return a running system with ducts and a fan, in a Home Assistant with a web server."""
    assert await async_setup_component(hass, "http", {})
    entry = system_entry(ducted_parts(), **FAN)
    await workshop.start(entry)
    return entry


async def _assess(hass: HomeAssistant) -> Any:
    return await hass.services.async_call(
        "gatewright",
        "assess_airflow",
        {"config_entry_id": "system"},
        blocking=True,
        return_response=True,
    )


async def test_the_whole_assessment(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    await workshop.saw_runs()
    await workshop.pass_time(6)
    found = await _assess(hass)
    assert [machine["name"] for machine in found["machines"]] == [
        "Table saw",
        "Planer",
        "Floor sweep",
    ]
    saw, planer, sweep = found["machines"]
    assert saw["required_status"] == "memory"
    assert "VS-95" in saw["required_source"]
    # 350 cfm for a small saw.
    assert saw["required"] == pytest.approx(350 * 4.7194745e-4)
    shop = entry.runtime_data.air.shop
    solution = solve(shop.network, {"saw_gate"})
    assert saw["flow"] == solution.flow_of("saw_gate")
    assert saw["suction"] == solution.suction
    # The losses add up to the fan's pressure.
    steps = saw["breakdown"][0]["steps"]
    lost = sum(step["loss"] for step in steps if step["kind"] != "fan")
    assert lost == pytest.approx(saw["fan_pressure"], rel=1e-6)
    assert sum(limit["share"] for limit in saw["limits"]) == pytest.approx(1)
    gains = [row["gain"] for row in planer["what_if"]]
    assert gains == sorted(gains, reverse=True)
    assert gains[0] > 0
    assert len(found["pairs"]) == 3
    both = solve(shop.network, {"saw_gate", "planer_gate"})
    pair = found["pairs"][0]
    assert [m["name"] for m in pair["machines"]] == ["Table saw", "Planer"]
    assert pair["flow"] == both.flow
    assert pair["machines"][1]["flow"] == both.flow_of("planer_gate")
    # Each machine alone, each pair; the saw's set was seen, but is already there.
    assert [row["kind"] for row in found["combinations"]] == [
        *("machine",) * 3,
        *("pair",) * 3,
    ]
    assert {row["name"]: row["into"] for row in found["ducts"]} == {
        "Main": "",
        "Saw branch": "Main",
        "Far end": "Main",
    }
    assert found["transport_velocities"]["chips"]["source"].startswith("OSHA")
    assert sweep["transport"] == found["transport_velocities"]["chips"]["minimum"]


async def test_what_is_met_in_use_and_clearing_count_as_combinations(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    change_part(
        hass, entry, "saw", clearing=[{"gates": ["sweep_gate"], "duration": 5.0}]
    )
    change_part(hass, entry, "sweep", gates=["sweep_gate", "planer_gate"])
    await workshop.settle()
    entry.runtime_data.air.seen[
        frozenset({"saw_gate", "planer_gate", "sweep_gate"})
    ] += 1
    entry.runtime_data.air.seen[frozenset()] += 1
    kinds = {row["kind"]: row for row in (await _assess(hass))["combinations"]}
    assert kinds["purge"]["gates"] == ["Sweep gate"]
    assert kinds["pair"]["main_velocity"] > 0


async def test_a_system_without_ducts_says_so(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    with pytest.raises(ServiceValidationError) as refused:
        await _assess(hass)
    assert refused.value.translation_key == "air_not_described"


async def test_the_action_is_described(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    described = (await service.async_get_all_descriptions(hass))["gatewright"]
    assert described["assess_airflow"]["fields"].keys() == {"config_entry_id"}


async def test_pages_need_somebody_who_is_signed_in(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_client: ClientSessionGenerator,
    hass_client_no_auth: ClientSessionGenerator,
) -> None:
    stranger = await hass_client_no_auth()
    for address in (PAGE, f"{PAGE}.csv"):
        assert (await stranger.get(address)).status == 401
    client = await hass_client()
    for address in (PAGE, f"{PAGE}.csv"):
        assert (await client.get(address)).status == 200
    for address in ("/api/gatewright/nothing/airflow", "/api/gatewright//airflow"):
        assert (await client.get(address)).status == 404
    await hass.config_entries.async_unload(entry.entry_id)
    assert (await client.get(PAGE)).status == 404


async def test_pages_are_only_for_who_may_see_the_system(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_client: ClientSessionGenerator,
    hass_admin_user: MockUser,
) -> None:
    client = await hass_client()
    may_read: dict[str, Any] = {"entity_ids": {}}
    group = Group(name="Visitors", policy={"entities": may_read})
    hass_admin_user.groups = [group]
    for address in (PAGE, f"{PAGE}.csv"):
        assert (await client.get(address)).status == 404
    collector = er.async_get(hass).async_get_entity_id(
        "switch", "gatewright", "system_collector"
    )
    may_read["entity_ids"][collector] = {"read": True}
    hass_admin_user.invalidate_cache()
    for address in (PAGE, f"{PAGE}.csv"):
        assert (await client.get(address)).status == 200


async def test_signed_addresses_open_in_a_browser(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_client_no_auth: ClientSessionGenerator,
    hass_access_token: str,
) -> None:
    addresses = (await _assess(hass))["addresses"]
    stranger = await hass_client_no_auth()
    page = await stranger.get(addresses["report"])
    assert page.status == 200
    assert page.content_type == "text/html"
    assert "Floor sweep" in await page.text()


async def test_the_page_says_what_matters(
    hass: HomeAssistant, entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:
    change_part(hass, entry, "planer", title="Planer <20 in>")
    text = await (await (await hass_client()).get(PAGE)).text()
    assert "UFC 3-410-04N" in text
    assert "7-4.5" in text
    assert "from memory" in text
    assert "<svg" in text
    assert "Planer &lt;20 in&gt;" in text
    assert "<20 in>" not in text
    assert "m³/h" in text
    assert "t a safety device" in text
    # The page is complete, and fetches nothing.
    assert "http" not in text


async def test_pages_are_made_in_a_thread(
    hass: HomeAssistant, entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:
    """Templates are files: none of them is read in the event loop."""
    threads = set()

    def noted(*args: Any, **kwargs: Any) -> str:
        threads.add(get_ident())
        return render(*args, **kwargs)

    client = await hass_client()
    with (
        patch(
            "custom_components.gatewright.features.airflow.report_page.render", noted
        ),
        patch(
            "custom_components.gatewright.features.airflow.sizing_page.render", noted
        ),
    ):
        for page in (PAGE, "/api/gatewright/system/sizing"):
            assert (await client.get(page)).status == 200
    assert threads
    assert get_ident() not in threads


async def test_the_page_with_us_units(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    hass.config.units = US_CUSTOMARY_SYSTEM
    assert await async_setup_component(hass, "http", {})
    parts = ducted_parts()
    # One machine only, on a duct without a machine beside it, and one not placed.
    parts = [part for part in parts if part["subentry_id"] not in ("sweep", "planer")]
    gate = next(part for part in parts if part["subentry_id"] == "planer_gate")
    gate["data"] = {k: v for k, v in gate["data"].items() if k != "duct"}
    saw = next(part for part in parts if part["subentry_id"] == "saw")
    saw["data"] = {**saw["data"], "kind": "other"}
    idle = {**saw, "subentry_id": "idle", "title": "Idle", "unique_id": None}
    idle["data"] = {**saw["data"], "gates": ["planer_gate"]}
    parts += [idle, duct("spare", "Spare", into="far")]  # type: ignore[list-item]
    await workshop.start(system_entry(parts, **FAN))
    text = await (await (await hass_client()).get(PAGE)).text()
    for unit in ("cfm", "ft/min", "in. w.g.", "5.9 in"):
        assert unit in text
    assert "Only one machine." in text
    assert "not all their gates are on ducts: Idle" in text
    assert "need unknown" in text
    assert "no machine alone" in text


async def test_a_machine_s_flow_is_its_own(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Not the collector's flow, which is larger if an inlet is always open."""
    inlet = gate(
        "inlet", "Bench inlet", gate_kind="fixed", duct="far", hood="plain_end"
    )
    await workshop.start(system_entry([*ducted_parts(), inlet], **FAN))
    found = await _assess(hass)
    for machine in found["machines"][:2]:
        own = sum(
            pickup["flow"]
            for pickup in machine["breakdown"]
            if pickup["pickup"] != "Bench inlet"
        )
        assert machine["flow"] == pytest.approx(own, rel=1e-6)
        assert machine["flow"] < 0.9 * machine["flow_at_fan"]
        assert machine["enough"] is (machine["verdict"] != "too_little")


async def test_the_table(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    hass_client: ClientSessionGenerator,
) -> None:
    change_part(
        hass, entry, "saw", clearing=[{"gates": ["planer_gate"], "duration": 5.0}]
    )
    change_part(hass, entry, "planer", gates=["planer_gate", "saw_gate"])
    await workshop.settle()
    response = await (await hass_client()).get(f"{PAGE}.csv")
    assert response.content_type == "text/csv"
    rows = list(csv.DictReader(io.StringIO(await response.text())))
    assert [row["kind"] for row in rows] == ["alone"] * 3 + ["together"] * 6 + ["purge"]
    assert rows[0]["machine"] == "Table saw"
    shop = entry.runtime_data.air.shop
    flow = solve(shop.network, {"saw_gate"}).flow
    assert float(rows[0]["flow (m³/h)"]) == round(flow * 3600)
    assert rows[-1]["machine"] == ""


async def test_home_assistant_goes_on_while_all_pairs_are_computed(
    hass: HomeAssistant,
) -> None:
    """Of a shop with 20 ducts and 20 machines, in a thread beside the loop."""
    shop = air_shop(benchmark_shop(40))
    assert len(shop.needs) == 20
    begun = perf_counter()
    work = hass.async_add_executor_job(assessment, shop)
    longest, turns = 0.0, 0
    while not work.done():
        before = perf_counter()
        await asyncio.sleep(0)
        longest = max(longest, perf_counter() - before)
        turns += 1
    whole = perf_counter() - begun
    found = await work
    assert len(found["pairs"]) == 190
    # The interpreter switches threads every 5 ms. On a busy machine it may take longer; a blocked loop
    # would have waited for the whole.
    assert turns > 10
    assert longest < whole / 2
