"""What an owner sees on the screen: areas, the logbook's texts, figures."""

from typing import Any

from homeassistant.components.logbook import (
    LOGBOOK_ENTRY_ICON,
    LOGBOOK_ENTRY_MESSAGE,
    LOGBOOK_ENTRY_NAME,
)
from homeassistant.const import ATTR_UNIT_OF_MEASUREMENT
from homeassistant.core import Event, HomeAssistant
from homeassistant.helpers import (
    area_registry as ar,
    device_registry as dr,
    entity_registry as er,
    label_registry as lr,
)
from pytest_homeassistant_custom_component.common import async_capture_events

from custom_components.gatewright import logbook
from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.runtime.events import EVENT_ALARM, EVENT_SWITCHING

from .workshop import (
    COLLECTOR,
    PLANER_POWER,
    SAW_POWER,
    SWEEP_GATE,
    Workshop,
    add_part,
    machine,
    standard_parts,
    system_entry,
)


def logbook_text(hass: HomeAssistant, event: Event[Any]) -> dict[str, str]:
    """Return the logbook's text of an event."""
    described: dict[str, logbook.Described] = {}

    def describe(domain: str, kind: str, how: logbook.Described) -> None:
        assert domain == DOMAIN
        described[kind] = how

    logbook.async_describe_events(hass, describe)
    return described[str(event.event_type)](event)


async def test_a_pickup_is_where_its_gate_is(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    area = ar.async_get(hass).async_create("Machine room").id
    er.async_get(hass).async_update_entity(SWEEP_GATE, area_id=area)
    loose = machine("loose", "Loose hose", gates=[], needs_air=False)
    entry = system_entry([*standard_parts(), loose])
    await workshop.start(entry)

    def area_of(part: str) -> str | None:
        device = dr.async_get(hass).async_get_device_by_identifier(
            (DOMAIN, part), entry.entry_id
        )
        assert device
        return device.area_id

    assert area_of("sweep_gate") == area
    assert area_of("sweep") == area
    assert area_of("saw") is None
    assert area_of("loose") is None


async def test_what_has_no_place_of_its_own_is_where_the_collector_is(
    hass: HomeAssistant, workshop: Workshop, device_registry: dr.DeviceRegistry
) -> None:
    """And everything has one label, which is the owner's from then on."""
    shop = ar.async_get(hass).async_create("Shop").id
    room = ar.async_get(hass).async_create("Machine room").id
    er.async_get(hass).async_update_entity(COLLECTOR, area_id=shop)
    er.async_get(hass).async_update_entity(SWEEP_GATE, area_id=room)
    entry = system_entry()
    await workshop.start(entry)

    def device(part: str) -> dr.DeviceEntry:
        found = device_registry.async_get_device_by_identifier(
            (DOMAIN, part), entry.entry_id
        )
        assert found
        return found

    areas = {part: device(part).area_id for part in ("system", "saw", "sweep")}
    assert areas == {"system": shop, "saw": shop, "sweep": room}
    (label,) = lr.async_get(hass).async_list_labels()
    assert label.name == "Dust collection"
    for part in ("system", "saw", "sweep", "planer_gate"):
        assert device(part).labels == {label.label_id}
    device_registry.async_update_device(device("system").id, area_id=room, labels=set())
    device_registry.async_update_device(device("saw").id, area_id=None, labels=set())
    add_part(hass, entry, machine("lathe", "Lathe", gates=["sweep_gate"]))
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert (device("saw").area_id, device("saw").labels) == (None, set())
    assert (device("lathe").area_id, device("lathe").labels) == (room, set())


async def test_the_logbook_shows_starts_and_stops(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    events = async_capture_events(hass, EVENT_SWITCHING)
    await workshop.start(system_entry())
    workshop.watts(SAW_POWER, 1400)
    workshop.watts(PLANER_POWER, 900)
    await workshop.pass_time(2)
    workshop.watts(SAW_POWER, 3)
    workshop.watts(PLANER_POWER, 2)
    await workshop.pass_time(20)
    started, stopped = (logbook_text(hass, event) for event in events)
    assert started == {
        LOGBOOK_ENTRY_NAME: "Dust collector",
        LOGBOOK_ENTRY_MESSAGE: "started because Table saw and Planer run",
        LOGBOOK_ENTRY_ICON: "mdi:fan",
    }
    assert stopped[LOGBOOK_ENTRY_ICON] == "mdi:fan-off"


async def test_the_logbook_shows_alarms(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    events = async_capture_events(hass, EVENT_ALARM)
    await workshop.start(system_entry())
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    workshop.watts(SAW_POWER, "unavailable")
    await workshop.pass_time(65, 5)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(2)
    raised, cleared = (logbook_text(hass, event) for event in events)
    assert raised == {
        LOGBOOK_ENTRY_NAME: "Dust collector",
        LOGBOOK_ENTRY_MESSAGE: "alarm: Table saw has lost its reading",
        LOGBOOK_ENTRY_ICON: "mdi:alert",
    }
    assert (
        cleared[LOGBOOK_ENTRY_MESSAGE] == "alarm over: Table saw has lost its reading"
    )
    assert cleared[LOGBOOK_ENTRY_ICON] == "mdi:check"


async def test_counts_have_no_unit(hass: HomeAssistant, workshop: Workshop) -> None:
    """Because one cut is not "1 cuts"."""
    await workshop.start(system_entry())
    for entity_id in ("sensor.dust_collector_starts", "sensor.table_saw_cuts"):
        state = hass.states.get(entity_id)
        assert state
        assert state.state == "0"
        assert ATTR_UNIT_OF_MEASUREMENT not in state.attributes
