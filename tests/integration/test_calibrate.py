"""Calibrating the airflow, page by page, like an owner."""

from typing import Any

from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.core.airflow import AirflowError, calibrated, solve
from custom_components.gatewright.forms.flow import calibrate

from .air_shop import FAN, ducted_parts
from .workshop import PLANER_POWER, SAW_POWER, Workshop, system_entry

PASCAL = {"unit_of_measurement": "Pa"}


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Return a shop with a suction gauge."""
    workshop.put("sensor.static", "unknown", PASCAL)
    found = system_entry(ducted_parts(), **FAN, suction="sensor.static")
    await workshop.start(found)
    return found


async def _airflow_menu(hass: HomeAssistant, entry: MockConfigEntry) -> Any:
    options = hass.config_entries.options
    result = await options.async_init(entry.entry_id)
    return await options.async_configure(result["flow_id"], {"next_step_id": "airflow"})


async def _begin(hass: HomeAssistant, entry: MockConfigEntry, *machines: str) -> Any:
    result = await _airflow_menu(hass, entry)
    assert "calibrate" in result["menu_options"]
    result = await hass.config_entries.options.async_configure(
        result["flow_id"], {"next_step_id": "calibrate"}
    )
    refused = await hass.config_entries.options.async_configure(
        result["flow_id"], {"filter_clean": False, "machines": list(machines)}
    )
    assert refused["errors"] == {"filter_clean": "filter_not_clean"}
    return await hass.config_entries.options.async_configure(
        result["flow_id"], {"filter_clean": True, "machines": list(machines)}
    )


async def test_a_shop_is_calibrated(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    air = entry.runtime_data.air
    entered = air.shop.entered
    really = calibrated(entered, 0.8, {"saw_gate": 1.4, "planer_gate": 1.2})
    flow = await _begin(hass, entry, "saw", "planer")
    assert flow["step_id"] == "calibrate_at"
    assert flow["description_placeholders"]["reading"] == "–"

    async def send(**typed: Any) -> Any:
        return await hass.config_entries.options.async_configure(flow["flow_id"], typed)

    answer = await send(how="gauge")
    assert answer["errors"] == {"base": "collector_stands"}
    await workshop.saw_runs()
    await workshop.pass_time(6)
    workshop.put("sensor.static", str(solve(really, {"saw_gate"}).suction), PASCAL)
    if (answer := await send(how="gauge"))["step_id"] == "calibrate_at":
        assert answer["errors"] in ({"base": "not_steady"}, {}, None)
    await workshop.pass_time(12)
    if answer["description_placeholders"]["left"] == "2":
        answer = await send(how="velocity")
        assert answer["errors"] == {"value": "value_missing"}
        answer = await send(how="gauge")
    # The planer's turn: the saw's gates are still open.
    assert answer["description_placeholders"]["left"] == "1"
    answer = await send(how="gauge")
    assert answer["errors"] == {"base": "other_gates_open"}
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40, 1)
    workshop.watts(PLANER_POWER, 2000)
    await workshop.pass_time(25)
    solution = solve(really, {"planer_gate"})
    area = entered.element("planer_gate").runs[0].area
    velocity = solution.flow_of("planer_gate") / area
    answer = await send(how="velocity", value=velocity)
    assert answer["step_id"] == "calibrate_found"
    text = answer["description_placeholders"]["found"]
    assert "% of the entered pressure" in text
    before = air.now.solution.flow
    answer = await send()
    assert answer["reason"] == "calibrated"
    await workshop.settle()
    stored = entry.data["calibration"]
    assert stored["after"] < stored["before"]
    assert stored["fan"][1] > 0
    assert entry.data["fan_points"] == FAN["fan_points"]
    await workshop.pass_time(2)
    air = entry.runtime_data.air
    assert air.calibrated
    assert air.shop.network.fan_scale == stored["fan"][0]
    assert air.now.solution.flow < before
    expected = solution.flow_of("planer_gate")
    assert air.now.solution.flow == pytest.approx(expected, rel=0.05)

    result = await _airflow_menu(hass, entry)
    result = await hass.config_entries.options.async_configure(
        result["flow_id"], {"next_step_id": "calibration_forget"}
    )
    result = await hass.config_entries.options.async_configure(result["flow_id"], {})
    assert result["reason"] == "calibration_forgotten"
    await workshop.settle()
    assert "calibration" not in entry.data
    assert not entry.runtime_data.air.calibrated


async def test_nothing_is_read(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    flow = await _begin(hass, entry, "saw")
    answer = await hass.config_entries.options.async_configure(
        flow["flow_id"], {"how": "skip"}
    )
    assert answer["reason"] == "nothing_read"
    assert "calibration" not in entry.data


async def test_a_shop_without_airflow_has_no_such_page(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry(ducted_parts())
    await workshop.start(entry)
    result = await _airflow_menu(hass, entry)
    assert "calibrate" not in result["menu_options"]


async def test_what_is_not_chosen_or_gone_is_said(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    options = hass.config_entries.options
    result = await _airflow_menu(hass, entry)
    result = await options.async_configure(
        result["flow_id"], {"next_step_id": "calibrate"}
    )
    result = await options.async_configure(
        result["flow_id"], {"filter_clean": True, "machines": []}
    )
    assert result["errors"] == {"machines": "nothing_chosen"}
    result = await options.async_configure(
        result["flow_id"], {"filter_clean": True, "machines": ["saw"]}
    )

    async def send(**typed: Any) -> Any:
        return await options.async_configure(result["flow_id"], typed)

    # The typed values are still there beside the error.
    answer = await send(how="velocity", value=20)
    assert answer["errors"] == {"base": "collector_stands"}
    suggested = {str(m): m.description for m in answer["data_schema"].schema}
    assert suggested["value"] == {"suggested_value": 20}
    await workshop.saw_runs()
    await workshop.pass_time(20)
    assert (await send(how="gauge"))["errors"] == {"how": "no_gauge"}

    def impossible(*_: Any) -> None:
        raise AirflowError("saw_gate", "no such flow")

    monkeypatch.setattr(calibrate, "sample", impossible)
    answer = await send(how="velocity", value=20)
    assert answer["errors"] == {"value": "value_missing"}


async def test_a_menu_that_was_left_open(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    options = hass.config_entries.options
    result = await _airflow_menu(hass, entry)
    kept, entry.runtime_data.air.shop = entry.runtime_data.air.shop, None
    again = await options.async_configure(
        result["flow_id"], {"next_step_id": "calibrate"}
    )
    assert "calibrate" not in again.get("menu_options", ())
    entry.runtime_data.air.shop = kept
    result = await _airflow_menu(hass, entry)
    assert await hass.config_entries.async_unload(entry.entry_id)
    result = await options.async_configure(
        result["flow_id"], {"next_step_id": "calibrate"}
    )
    assert result["reason"] == "not_loaded"
