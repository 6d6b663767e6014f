"""What weeks have shown of the filter stays known: over a restart, a shaker, a silent gauge."""

from typing import Any

from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.core.airflow import solve

from .air_shop import FAN, ducted_parts
from .test_restart import forget_the_process, restart
from .workshop import Workshop, system_entry

GAUGE = "sensor.over_filter"
STORED = "gatewright.system.upkeep"
LIMIT = 1500.0


@pytest.fixture
async def entry(workshop: Workshop, hass_storage: dict[str, Any]) -> MockConfigEntry:
    """Start a workshop with a gauge across its filter."""
    workshop.put(GAUGE, "unknown", {"unit_of_measurement": "Pa"})
    entry = system_entry(
        ducted_parts(), **FAN, filter_pressure=GAUGE, filter_limit=LIMIT
    )
    await workshop.start(entry)
    return entry


async def load(workshop: Workshop, entry: MockConfigEntry, times: float) -> None:
    """Run the saw with the filter so many times as dense as a clean one."""
    await workshop.saw_runs()
    await workshop.pass_time(8)
    air = entry.runtime_data.air
    for _ in range(4):
        # The gauge sees what this filter takes at the flow that it leaves.
        clean = air.gauges.clean.adjusted(loading=times)
        found = solve(clean, air.now.gates)
        workshop.put(GAUGE, str(found.filter_pressure))
        await workshop.pass_time(11)


async def test_the_loading_survives_a_restart(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    await load(workshop, entry, 3.0)
    assert entry.runtime_data.air.gauges.loading == pytest.approx(3.0, abs=0.15)
    workshop.put("sensor.saw_power", "3")
    await workshop.pass_time(40, 1)
    loaded = entry.runtime_data.air.machine_alone("saw")
    await restart(hass, workshop)
    air = entry.runtime_data.air
    # Nothing runs and nothing was read: what is shown is computed as it was.
    assert air.gauges.loading == pytest.approx(3.0, abs=0.15)
    assert air.shop.network.loading == air.gauges.loading
    assert air.machine_alone("saw") == pytest.approx(loaded)
    # The gauge that comes later finds what it found before.
    await load(workshop, entry, 3.0)
    assert air.gauges.loading == pytest.approx(3.0, abs=0.15)


async def test_an_older_file_tells_it_by_the_loss(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    hass_storage: dict[str, Any],
) -> None:
    """Before the loading was kept, the filter's loss was, at its own flow."""
    await load(workshop, entry, 3.0)
    await workshop.pass_time(700)
    await forget_the_process(hass)
    data = hass_storage[STORED]["data"]
    kept = data.get("value", data)
    kept.pop("filter_loading")
    assert kept["filter"]["slices"]
    assert await hass.config_entries.async_setup(entry.entry_id)
    await workshop.settle()
    assert entry.runtime_data.air.gauges.loading == pytest.approx(3.0, rel=0.1)


async def test_whoever_cleans_it_starts_from_a_clean_one(
    workshop: Workshop, entry: MockConfigEntry
) -> None:
    await load(workshop, entry, 3.0)
    maintenance = entry.runtime_data.maintenance
    maintenance.filter_replaced()
    air = entry.runtime_data.air
    assert air.gauges.loading == maintenance.keeper.filter_loading == 1.0
    assert air.shop.network.loading == 1.0
    await load(workshop, entry, 2.0)
    assert air.gauges.loading == pytest.approx(2.0, abs=0.15)
    maintenance.filter_cleaned()
    assert air.gauges.loading == 1.0


async def test_a_shaker_leaves_what_it_leaves(
    workshop: Workshop, entry: MockConfigEntry
) -> None:
    """What cleans by itself says nothing of how well it did: the gauge does."""
    await load(workshop, entry, 3.0)
    maintenance = entry.runtime_data.maintenance
    maintenance.keeper.filter_cleaned(maintenance.when())
    await load(workshop, entry, 2.4)
    assert entry.runtime_data.air.gauges.loading == pytest.approx(2.4, abs=0.15)


async def test_nothing_computed_among_what_is_measured(
    workshop: Workshop, entry: MockConfigEntry
) -> None:
    """A gauge that is silent for a while leaves a gap, and no clean filter's loss."""
    await load(workshop, entry, 3.0)
    core = entry.runtime_data.maintenance.keeper.filter
    level = core.level
    workshop.put(GAUGE, "unavailable")
    await workshop.pass_time(700)
    assert core.measured
    assert core.level == pytest.approx(level, rel=0.05)
    assert core.state().work == "nothing"
