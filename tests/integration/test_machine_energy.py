"""The energy of a machine, by the counter of its own plug."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import device_registry as dr, entity_registry as er
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.runtime.entity_references import energy_beside

from .test_record import summary
from .workshop import SAW_POWER, Workshop, change_system, system_entry

COUNTER = "sensor.table_saw_plug_energy"
ENERGY = "sensor.table_saw_energy"
COST = "sensor.table_saw_energy_cost"


def register(hass: HomeAssistant, device: str, entity_id: str, **more: Any) -> None:
    """Register a plug's entity on its device."""
    if not hass.config_entries.async_entries("plugs"):
        MockConfigEntry(domain="plugs").add_to_hass(hass)
    (plugs,) = hass.config_entries.async_entries("plugs")
    made = dr.async_get(hass).async_get_or_create(
        config_entry_id=plugs.entry_id, identifiers={("plugs", device)}
    )
    domain, _, name = entity_id.partition(".")
    if hass.states.get(entity_id):
        hass.states.async_remove(entity_id)
    found = er.async_get(hass).async_get_or_create(
        domain,
        "plugs",
        name,
        suggested_object_id=name,
        device_id=made.id,
        config_entry=plugs,
        **more,
    )
    assert found.entity_id == entity_id


def counter(
    hass: HomeAssistant,
    entity_id: str = COUNTER,
    device: str = "saw",
    state_class: str | None = "total_increasing",
) -> None:
    """Register an energy counter."""
    register(
        hass,
        device,
        entity_id,
        original_device_class="energy",
        capabilities=None if state_class is None else {"state_class": state_class},
    )


def show(workshop: Workshop, kilowatt_hours: float | str) -> None:
    """Let the plug show a count."""
    workshop.put(COUNTER, str(kilowatt_hours), {"unit_of_measurement": "kWh"})


@pytest.fixture
def plug(hass: HomeAssistant, workshop: Workshop) -> None:
    """Put a counter on the device of the saw's plug."""
    register(hass, "saw", SAW_POWER)
    counter(hass)
    workshop.watts(SAW_POWER, 3)
    show(workshop, 812.0)


@pytest.mark.usefixtures("plug")
async def test_a_machine_has_its_own_energy_and_cost(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry(energy_price=0.5)
    await workshop.start(entry)
    assert workshop.state(ENERGY) == "0.0"
    await workshop.saw_runs()
    show(workshop, 812.5)
    await workshop.pass_time(10, 1)
    # In another unit, as a plug's owner may choose.
    workshop.put(COUNTER, "813000", {"unit_of_measurement": "Wh"})
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(20, 1)
    assert workshop.state(ENERGY) == "1.0"
    assert workshop.attribute(ENERGY, "unit_of_measurement") == "kWh"
    assert workshop.attribute(ENERGY, "state_class") == "total_increasing"
    assert workshop.state(COST) == "0.5"
    found = await summary(hass, period="day")
    (saw,) = found["machines"]
    assert saw["energy_kwh"] == pytest.approx(1.0)
    assert saw["cost"] == pytest.approx(0.5)
    # The planer's plug counts nothing: it has no such entities.
    assert hass.states.get("sensor.planer_energy") is None
    # Without a price there is no cost.
    change_system(hass, entry, energy_price=None)
    await hass.async_block_till_done()
    assert hass.states.get(COST) is None


@pytest.mark.usefixtures("plug")
async def test_what_is_used_while_the_system_is_away_is_counted(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    show(workshop, 812.25)
    assert await hass.config_entries.async_unload(entry.entry_id)
    show(workshop, "unavailable")
    show(workshop, 812.75)
    assert await hass.config_entries.async_setup(entry.entry_id)
    await workshop.pass_time(30, 1)
    show(workshop, 813.0)
    await workshop.pass_time(1)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(3)
    assert workshop.state(ENERGY) == "1.0"


@pytest.mark.usefixtures("plug")
@pytest.mark.as_delivered
async def test_it_is_off_at_first(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    await workshop.start(system_entry(energy_price=0.5))
    for entity_id in (ENERGY, COST):
        found = entity_registry.async_get(entity_id)
        assert found
        assert found.disabled_by is er.RegistryEntryDisabler.INTEGRATION


async def test_which_counter_is_a_plug_s(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Two sockets on one device, each with counters of several kinds."""
    for socket in ("left", "right"):
        register(hass, "strip", f"sensor.{socket}_power")
        counter(hass, f"sensor.{socket}_energy_yesterday", "strip", None)
        counter(hass, f"sensor.{socket}_energy_total", "strip", "total")
        counter(hass, f"sensor.{socket}_energy_today", "strip")
    assert energy_beside(hass, "sensor.left_power") == "sensor.left_energy_today"
    assert energy_beside(hass, "sensor.right_power") == "sensor.right_energy_today"
    register(hass, "clamp", "sensor.lathe_current")
    assert energy_beside(hass, "sensor.lathe_current") is None
    # What is in no registry has no device.
    assert energy_beside(hass, SAW_POWER) is None
