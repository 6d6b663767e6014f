"""What a stranger needs to understand a report about a shop."""

import json
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import device_registry as dr
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import get_system_health_info
from pytest_homeassistant_custom_component.components.diagnostics import (
    get_diagnostics_for_config_entry,
    get_diagnostics_for_device,
)
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.gatewright.const import DOMAIN

from .workshop import COLLECTOR, SAW_GATE, SAW_POWER, Workshop, system_entry


async def test_a_report_shows_settings_states_and_targets(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    entry = system_entry(altitude=431.0)
    await workshop.start(entry)
    await workshop.saw_runs()
    found: Any = await get_diagnostics_for_config_entry(hass, hass_client, entry)

    assert found["entry"]["data"]["altitude"] == "**REDACTED**"
    assert "431" not in json.dumps(found["entry"])
    titles = {part["title"] for part in found["entry"]["subentries"]}
    assert {"Table saw", "Saw gate"} <= titles
    heard = {part["entity_id"]: part for part in found["entities"].values()}
    assert heard[SAW_POWER]["state"] == "1400"
    assert heard[SAW_POWER]["attributes"]["unit_of_measurement"] == "W"
    assert heard[COLLECTOR]["state"] == "on"
    assert found["sequence"]["phase"] == "collecting"
    assert found["sequence"]["demanding"] == ["saw"]
    assert found["machines"]["saw"] == {
        "phase": "running",
        "requested": False,
        "attached": True,
        "has_air": True,
        "running": True,
        "starting": False,
        "stopping": False,
        "missing": False,
        "lost": False,
        "stuck": False,
        "report_interval": None,
        "settles_too_soon": False,
    }
    # A pickup without a motor has no plug.
    assert "running" not in found["machines"]["sweep"]
    assert found["actuators"]["saw_gate"] == {
        "want": True,
        "reported": True,
        "stands": True,
        "reachable": True,
        "failed": False,
        "order": None,
        "time_left": None,
    }
    assert found["wrong_now"] == []
    assert found["memory"]["phase"] == "collecting"


async def test_a_system_that_is_not_going_has_a_report_too(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    entry = system_entry(altitude=431.0)
    await workshop.start(entry)
    await hass.config_entries.async_unload(entry.entry_id)
    found: Any = await get_diagnostics_for_config_entry(hass, hass_client, entry)

    assert found["entry"]["state"] == "not_loaded"
    assert found["entry"]["data"]["altitude"] == "**REDACTED**"
    heard = {part["entity_id"]: part for part in found["entities"].values()}
    assert SAW_POWER in heard
    assert "sequence" not in found


async def test_a_fault_is_in_the_report(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(15)
    found: Any = await get_diagnostics_for_config_entry(hass, hass_client, entry)

    assert ["gate_not_moving", "saw_gate"] in found["wrong_now"]
    assert found["actuators"]["saw_gate"]["failed"] is True
    assert any("gate_not_moving" in issue for issue in found["issues"])


async def test_a_lost_entity_is_in_the_report(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    entry = system_entry(bin_full="binary_sensor.bin", bin_answer="warn")
    await workshop.start(entry)
    found: Any = await get_diagnostics_for_config_entry(hass, hass_client, entry)

    assert found["entities"]["binary_sensor.bin"]["state"] is None


async def test_runs_are_in_the_report(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30)
    found: Any = await get_diagnostics_for_config_entry(hass, hass_client, entry)

    [run] = found["last_runs"]
    assert run["machine"] == "saw"
    assert run["run_time"] == pytest.approx(6, abs=2)
    assert 0 < run["ended_ago"] <= 30
    assert run["without"] == {}


async def test_what_was_measured_is_in_the_report(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    entry = system_entry(spin_up=2.5)
    await workshop.start(entry)
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    workshop.saw_gate.become(is_closed=False)
    await workshop.pass_time(2)
    found: Any = await get_diagnostics_for_config_entry(hass, hass_client, entry)

    measured = found["measured"]
    assert measured["spin_up"] == 2.5
    assert measured["spin_ups"] == []
    assert measured["gates"].keys() == {"saw_gate", "planer_gate", "sweep_gate"}
    assert measured["gates"]["saw_gate"]["opening"] == [pytest.approx(2, abs=0.6)]
    assert measured["gates"]["planer_gate"]["opening"] == []


async def test_a_run_without_dust_collection_is_in_the_report_with_its_reason(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(60, 1)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30)
    found: Any = await get_diagnostics_for_config_entry(hass, hass_client, entry)
    [run] = found["last_runs"]
    assert run["air_time"] == 0
    assert run["without"]["gate_stuck"] > 30
    assert sum(run["without"].values()) == pytest.approx(run["run_time"], abs=0.1)


async def test_a_device_has_the_report_of_its_system(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    device = dr.async_get(hass).async_get_device_by_identifier(
        (DOMAIN, "saw"), entry.entry_id
    )
    assert device is not None
    found: Any = await get_diagnostics_for_device(hass, hass_client, entry, device)

    assert found["asked_about"] == ["saw"]
    assert found["sequence"]["phase"] == "idle"


async def test_system_health_counts_the_shop(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    assert await async_setup_component(hass, "system_health", {})
    await workshop.start(system_entry())
    info = await get_system_health_info(hass, DOMAIN)

    assert info == {
        "systems": 1,
        "systems_at_work": 1,
        "machines": 3,
        "gates": 3,
        "missing_entities": 0,
        "alarms": 0,
    }
