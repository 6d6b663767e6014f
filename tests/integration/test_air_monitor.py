"""The airflow of a running shop: what is shown, and when it's computed anew."""

from unittest.mock import patch

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er, issue_registry as ir
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.core.airflow import Network, solve
from custom_components.gatewright.entity import GatewrightEntity

from .air_shop import FAN, PLACES, ducted_parts
from .workshop import (
    COLLECTOR,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    change_part,
    change_system,
    system_entry,
)

SAW_FLOW = "sensor.table_saw_airflow"
PLANER_FLOW = "sensor.planer_airflow"
FLOW = "sensor.dust_collector_airflow"
SUCTION = "sensor.dust_collector_suction"
MAIN = "sensor.dust_collector_lowest_main_velocity"
PASCAL = {"unit_of_measurement": "Pa", "device_class": "pressure"}


@pytest.fixture
async def entry(workshop: Workshop) -> MockConfigEntry:
    """Return a running system with ducts and a fan."""
    entry = system_entry(ducted_parts(), **FAN)
    await workshop.start(entry)
    return entry


async def test_flows_follow_the_gates(
    workshop: Workshop, entry: MockConfigEntry
) -> None:
    assert workshop.state(FLOW) == "0.0"
    assert workshop.state(SAW_FLOW) == "0.0"
    assert workshop.state("binary_sensor.table_saw_airflow_too_low") == "off"
    await workshop.saw_runs()
    await workshop.pass_time(6)
    alone = float(workshop.state(SAW_FLOW))
    assert alone == float(workshop.state("sensor.table_saw_airflow_alone"))
    assert alone == float(workshop.state(FLOW))
    # The core's result for the same gates, in m3/h.
    shop = entry.runtime_data.air.shop
    solution = solve(shop.network, {"saw_gate"})
    assert alone == pytest.approx(solution.flow * 3600, abs=0.1)
    assert float(workshop.state(SUCTION)) == pytest.approx(solution.suction, abs=0.1)
    assert float(workshop.state(MAIN)) == pytest.approx(
        solution.main_velocity, abs=0.01
    )
    assert workshop.state(PLANER_FLOW) == "0.0"
    workshop.watts(PLANER_POWER, 2000)
    await workshop.pass_time(8)
    both = float(workshop.state(SAW_FLOW))
    assert both < alone
    assert float(workshop.state(FLOW)) > alone
    assert float(workshop.state(FLOW)) == pytest.approx(
        both + float(workshop.state(PLANER_FLOW)), abs=0.2
    )


async def test_too_little_airflow_is_reported_for_a_machine_in_use(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    low = "binary_sensor.planer_airflow_too_low"
    workshop.watts(PLANER_POWER, 2000)
    await workshop.pass_time(8)
    gets = float(workshop.state(PLANER_FLOW)) / 3600
    assert workshop.state(low) == ("on" if gets < 0.3705 else "off")
    change_part(hass, entry, "planer", required_flow=gets + 0.01)
    await workshop.pass_time(1)
    assert workshop.state(low) == "on"
    change_part(hass, entry, "planer", required_flow=gets - 0.01)
    await workshop.pass_time(1)
    assert workshop.state(low) == "off"


async def test_nothing_is_solved_on_a_power_reading(
    workshop: Workshop, entry: MockConfigEntry
) -> None:
    await workshop.saw_runs()
    await workshop.pass_time(6)
    with patch.object(Network, "gate_losses", side_effect=AssertionError):
        for watts in range(1400, 1500, 7):
            workshop.watts(SAW_POWER, watts)
            await workshop.pass_time(1)
    assert float(workshop.state(FLOW)) > 0


async def test_what_stands_again_is_not_solved_again(
    workshop: Workshop, entry: MockConfigEntry
) -> None:
    await workshop.saw_runs()
    await workshop.pass_time(6)
    first = workshop.state(FLOW)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30, 1)
    assert workshop.state(FLOW) == "0.0"
    with patch.object(Network, "gate_losses", side_effect=AssertionError):
        await workshop.saw_runs()
        await workshop.pass_time(6)
    assert workshop.state(FLOW) == first
    assert entry.runtime_data.air.seen == {frozenset({"saw_gate"}): 2}


async def test_a_gate_that_says_nothing_leaves_the_air_unknown(
    workshop: Workshop, entry: MockConfigEntry
) -> None:
    await workshop.saw_runs()
    await workshop.pass_time(6)
    workshop.put(SAW_GATE, "unavailable")
    await workshop.pass_time(1)
    assert workshop.state(FLOW) == "unavailable"
    assert workshop.state(SAW_FLOW) == "unavailable"
    assert workshop.state("sensor.table_saw_airflow_alone") != "unavailable"
    workshop.put(SAW_GATE, "open")
    await workshop.pass_time(6)
    assert float(workshop.state(FLOW)) > 0
    workshop.put(COLLECTOR, "unavailable")
    await workshop.pass_time(1)
    assert workshop.state(FLOW) == "unavailable"


async def test_a_large_shop_is_solved_in_a_thread(
    workshop: Workshop, entry: MockConfigEntry
) -> None:
    with patch("custom_components.gatewright.features.airflow.manager.INLINE", 1):
        await workshop.saw_runs()
        await workshop.pass_time(6)
        assert float(workshop.state(FLOW)) > 0


async def test_without_ducts_or_fan_there_is_nothing_of_air(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    entity_registry: er.EntityRegistry,
) -> None:
    data = {key: value for key, value in entry.data.items() if key != "fan_points"}
    hass.config_entries.async_update_entry(entry, data=data)
    await workshop.settle()
    assert entry.runtime_data.air.shop is None
    for entity_id in (FLOW, SAW_FLOW, SUCTION, "binary_sensor.planer_airflow_too_low"):
        assert entity_registry.async_get(entity_id) is None
    assert not ir.async_get(hass).issues
    change_system(hass, entry, free_flow=0.7, max_suction=2600.0)
    await workshop.settle()
    assert workshop.state(FLOW) == "0.0"


async def test_figures_that_do_not_fit_are_reported(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    change_part(hass, entry, "far", length=5000.0)
    await workshop.settle()
    ((_, issue_id),) = ir.async_get(hass).issues
    issue = ir.async_get(hass).async_get_issue("gatewright", issue_id)
    assert issue
    assert issue.translation_key == "unreadable_part"
    assert issue.translation_placeholders
    assert issue.translation_placeholders["name"] == "Far end"
    # It costs that duct alone: the saw has one of its own.
    assert workshop.state(SAW_FLOW) == "0.0"
    change_part(hass, entry, "far", length=5.0)
    await workshop.settle()
    assert not ir.async_get(hass).issues
    assert workshop.state(FLOW) == "0.0"


async def test_a_removed_duct_is_bridged_and_reported(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    change_part(hass, entry, "saw_gate", **{**PLACES["saw_gate"], "duct": "main"})
    await workshop.settle()
    change_part(hass, entry, "far", into="branch")
    await workshop.settle()
    hass.config_entries.async_remove_subentry(entry, "branch")
    await workshop.settle()
    assert entry.subentries["far"].data["into"] == "main"
    issues = ir.async_get(hass)
    issue = issues.async_get_issue("gatewright", "duct_removed_system_branch")
    assert issue
    assert issue.translation_placeholders == {
        "system": "Dust collector",
        "duct": "Saw branch",
        "parts": "Far end",
        "into": "Main",
    }
    hass.config_entries.async_remove_subentry(entry, "main")
    await workshop.settle()
    assert "into" not in entry.subentries["far"].data
    assert "duct" not in entry.subentries["saw_gate"].data
    assert issues.async_get_issue("gatewright", "duct_removed_system_main")
    # The saw has lost its place, the planer has not.
    assert hass.states.get(SAW_FLOW) is None
    assert workshop.state(PLANER_FLOW) == "0.0"
    assert await hass.config_entries.async_remove(entry.entry_id)
    assert not [issue for domain, issue in issues.issues if domain == "gatewright"]


async def test_measured_beside_computed(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    workshop.put("sensor.static", "-4.0", {"unit_of_measurement": "inH₂O"})
    workshop.put("sensor.over_filter", "unknown", PASCAL)
    change_system(
        hass, entry, suction="sensor.static", filter_pressure="sensor.over_filter"
    )
    await workshop.settle()
    finding = "sensor.dust_collector_airflow_finding"
    difference = "sensor.dust_collector_suction_deviation"
    assert workshop.state(finding) == workshop.state(difference) == "unknown"
    await workshop.saw_runs()
    await workshop.pass_time(18)
    computed = float(workshop.state(SUCTION))
    assert float(workshop.state(difference)) == pytest.approx(
        4 * 249.09 - computed, abs=1
    )
    # One gauge with one set of gates: it can't tell, and gives advice.
    assert workshop.state(finding) == "undecided"
    suspects = workshop.attribute(finding, "suspects")
    assert {"filter_loaded", "weak_fan"} <= {s["finding"] for s in suspects}
    checks = workshop.attribute(finding, "checks")
    assert checks[0]["do"] == "clean_filter"
    workshop.put("sensor.static", str(computed / 249.09))
    await workshop.pass_time(11)
    assert workshop.state(finding) == "as_expected"
    workshop.put("sensor.static", str(1.25 * computed / 249.09))
    await workshop.pass_time(11)
    # A blocked hood, a fan that is better than its curve, a gauge that reads too much.
    assert workshop.state(finding) == "undecided"
    suspects = workshop.attribute(finding, "suspects")
    assert {"blocked", "strong_fan"} <= {s["finding"] for s in suspects}
    over_filter = entry.runtime_data.air.now.solution.filter_pressure
    workshop.put("sensor.static", str(computed / 249.09))
    workshop.put("sensor.over_filter", str(2 * over_filter))
    await workshop.pass_time(11)
    assert workshop.state(finding) == "filter_loaded"
    # From now on it's computed with the filter's loading, not as a clean one.
    air = entry.runtime_data.air
    assert air.gauges.loading == pytest.approx(2.0, abs=0.15)
    loaded = air.now.solution.filter_pressure
    assert loaded == pytest.approx(2 * over_filter, rel=0.1)
    assert float(workshop.state(SUCTION)) < computed
    await workshop.pass_time(11)
    assert workshop.state(finding) == "filter_loaded"
    entry.runtime_data.maintenance.filter_cleaned()
    workshop.put("sensor.over_filter", str(over_filter))
    await workshop.pass_time(22)
    assert workshop.state(finding) == "as_expected"
    assert air.gauges.loading == 1.0
    workshop.put("sensor.static", "broken")
    workshop.put("sensor.over_filter", "unavailable")
    await workshop.pass_time(11)
    assert workshop.state(finding) == "unknown"


async def test_with_us_units(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    hass.config.units = US_CUSTOMARY_SYSTEM
    entry = system_entry(ducted_parts(), **FAN)
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(6)
    solution = entry.runtime_data.air.now.solution
    assert workshop.attribute(FLOW, "unit_of_measurement") == "ft³/min"
    assert float(workshop.state(FLOW)) == pytest.approx(
        solution.flow / 4.719474e-4, rel=1e-3
    )
    assert workshop.attribute(SUCTION, "unit_of_measurement") == "inH₂O"
    assert workshop.attribute(MAIN, "unit_of_measurement") == "ft/min"
    assert float(workshop.state(MAIN)) == pytest.approx(
        solution.main_velocity / 0.00508, rel=1e-3
    )


async def test_a_drive_tells_the_speed(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    await workshop.saw_runs()
    await workshop.pass_time(6)
    full = float(workshop.state(FLOW))
    workshop.put("fan.drive", "on", {"percentage": 80})
    change_system(hass, entry, drive="fan.drive")
    await workshop.settle()
    # A filter's loss falls slower than the fan's pressure.
    assert 0.7 * full < float(workshop.state(FLOW)) < 0.8 * full
    workshop.put("fan.drive", "on", {"percentage": None})
    await workshop.settle()
    assert workshop.state(FLOW) == "unavailable"
    workshop.put("number.drive", "30", {"max": 60})
    change_system(hass, entry, drive="number.drive")
    await workshop.settle()
    assert float(workshop.state(FLOW)) < 0.5 * full
    workshop.put("number.drive", "0", {"max": 60})
    await workshop.settle()
    assert float(workshop.state(FLOW)) == full


async def test_how_fast_the_air_is_in_each_duct(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    with patch.object(GatewrightEntity, "entity_registry_enabled_default", new=True):
        entry = system_entry(ducted_parts(), **FAN)
        await workshop.start(entry)
    assert workshop.state("sensor.main_velocity") == "0.0"
    await workshop.saw_runs()
    await workshop.pass_time(6)
    solution = entry.runtime_data.air.now.solution
    assert float(workshop.state("sensor.main_velocity")) == pytest.approx(
        solution.duct_velocity("main"), abs=0.01
    )
    assert workshop.state("sensor.far_end_velocity") == "0.0"
    workshop.put(SAW_GATE, "unavailable")
    await workshop.pass_time(1)
    assert workshop.state("sensor.main_velocity") == "unavailable"
