"""Each start and stop of the collector leaves its reason in the logbook."""

from typing import Any

from homeassistant.core import Event, HomeAssistant, callback
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import async_capture_events
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.control.enums import Cause
from custom_components.gatewright.logbook import async_describe_events
from custom_components.gatewright.runtime.devices import collector_device_id
from custom_components.gatewright.runtime.events import EVENT_ALARM, EVENT_SWITCHING

from .workshop import (
    COLLECTOR,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    machine,
    standard_parts,
    system_entry,
)

STOPPED = "stopped: shut-off delay over"


@pytest.fixture
def entries(hass: HomeAssistant) -> list[str]:
    """Return a list that fills with the logbook's texts."""
    messages: list[str] = []
    describers: dict[str, Any] = {}

    @callback
    def describe(domain: str, event: str, describer: Any) -> None:
        assert domain == DOMAIN
        describers[event] = describer

    async_describe_events(hass, describe)
    assert describers.keys() == {EVENT_SWITCHING, EVENT_ALARM}

    @callback
    def note(event: Event[dict[str, Any]]) -> None:
        described = describers[str(event.event_type)](event)
        assert described["name"] == "Dust collector"
        messages.append(described["message"])

    for event in describers:
        hass.bus.async_listen(event, note)
    return messages


async def test_a_machine_is_the_reason(
    hass: HomeAssistant, workshop: Workshop, entries: list[str]
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(20)
    assert entries == ["started because Table saw runs", STOPPED]


async def test_two_machines_are_the_reason(
    hass: HomeAssistant, workshop: Workshop, entries: list[str]
) -> None:
    workshop.watts(SAW_POWER, 1400)
    workshop.watts(PLANER_POWER, 1450)
    await workshop.start(system_entry())
    (message,) = entries
    assert message.startswith("started because Table saw and Planer run")


async def test_three_machines_are_listed_as_a_person_does(
    hass: HomeAssistant, workshop: Workshop, entries: list[str]
) -> None:
    parts = [
        *standard_parts(),
        machine("lathe", "Lathe", gates=["saw_gate"], sensor="sensor.lathe_power"),
    ]
    for sensor in (SAW_POWER, PLANER_POWER, "sensor.lathe_power"):
        workshop.watts(sensor, 1400)
    await workshop.start(system_entry(parts))
    (message,) = entries
    assert message.startswith("started because Table saw, Planer and Lathe run")


async def test_a_request_a_hand_and_a_start_block_are_reasons(
    hass: HomeAssistant, workshop: Workshop, entries: list[str]
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(2)
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    await workshop.pass_time(20)
    await workshop.call("turn_off", "switch.dust_collector_block_starts")
    workshop.collector.by_hand(is_on=True)
    await workshop.pass_time(2)
    workshop.collector.by_hand(is_on=False)
    await workshop.pass_time(20)
    await workshop.call("turn_on", "switch.dust_collector")
    await workshop.pass_time(2)
    assert entries == [
        "started because dust collection was turned on at Floor sweep",
        "stopped: starts blocked",
        "was started by hand",
        "was stopped by hand",
        "was started by hand",
    ]


async def test_a_clearing_step_is_a_reason(
    hass: HomeAssistant, workshop: Workshop, entries: list[str]
) -> None:
    parts = standard_parts()
    parts[3] = machine(
        "saw",
        "Table saw",
        gates=["saw_gate"],
        sensor=SAW_POWER,
        needs_air=False,
        clearing=[{"gates": ["sweep_gate"], "duration": 5.0}],
    )
    await workshop.start(system_entry(parts))
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30)
    assert entries == ["started to purge Table saw", STOPPED]


async def test_an_alarm_and_its_end_are_reported(
    hass: HomeAssistant, workshop: Workshop, entries: list[str]
) -> None:
    await workshop.start(system_entry())
    workshop.watts(SAW_POWER, "unavailable")
    await workshop.pass_time(65, 1)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(2)
    raised, cleared = entries
    assert raised.startswith("alarm: ")
    assert cleared.startswith("alarm over: ")
    assert "Table saw" in raised
    assert raised.removeprefix("alarm: ") == cleared.removeprefix("alarm over: ")


@pytest.mark.parametrize("cause", Cause)
@pytest.mark.parametrize("on", [True, False])
async def test_every_cause_has_its_words(
    hass: HomeAssistant, workshop: Workshop, entries: list[str], cause: Cause, on: bool
) -> None:
    await workshop.start(system_entry())
    hass.bus.async_fire(
        EVENT_SWITCHING,
        {
            "name": "Dust collector",
            "on": on,
            "cause": cause.value,
            "machines": ["Table saw"],
        },
    )
    (message,) = entries
    assert " " in message
    assert "{" not in message


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("de", "startete, weil Table saw und Planer laufen"),
        ("fr", "a démarré car Table saw et Planer tournent"),
    ],
)
async def test_it_is_reported_in_home_assistants_language(
    hass: HomeAssistant,
    workshop: Workshop,
    entries: list[str],
    language: str,
    said: str,
) -> None:
    hass.config.language = language
    workshop.watts(SAW_POWER, 1400)
    workshop.watts(PLANER_POWER, 1450)
    await workshop.start(system_entry())
    assert entries == [said]


async def test_events_belong_to_the_device_of_the_collector(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    events = async_capture_events(hass, EVENT_SWITCHING)
    alarms = async_capture_events(hass, EVENT_ALARM)
    workshop.deaf.add(SAW_GATE)
    workshop.fails[COLLECTOR] = OSError()
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.saw_runs()
    await workshop.pass_time(20)
    assert events
    assert alarms
    for event in (*events, *alarms):
        assert event.data["entry_id"] == entry.entry_id
        assert event.data["device_id"] == collector_device_id(hass, entry)
        assert event.data["name"] == "Dust collector"


@pytest.mark.parametrize("by", ["device_ids", "entity_ids"])
async def test_the_logbook_shows_it(
    recorder_mock: Any,
    hass: HomeAssistant,
    workshop: Workshop,
    hass_ws_client: WebSocketGenerator,
    by: str,
) -> None:
    """In Home Assistant's own logbook: on the page of the collector's device, and on a card.

    A card on a dashboard filters by entity.
    """
    for component in ("http", "logbook"):
        assert await async_setup_component(hass, component, {})
    begin = dt_util.utcnow()
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    await async_wait_recording_done(hass)
    whose = {
        "device_ids": [collector_device_id(hass, entry)],
        "entity_ids": ["switch.dust_collector"],
    }
    client = await hass_ws_client()
    await client.send_json_auto_id(
        {
            "type": "logbook/get_events",
            "start_time": begin.isoformat(),
            by: whose[by],
        }
    )
    answer = await client.receive_json()
    assert answer["success"]
    found = [
        (item["name"], item["message"])
        for item in answer["result"]
        if item.get("domain") == DOMAIN
    ]
    assert found == [("Dust collector", "started because Table saw runs")]


async def test_the_end_of_a_phase_does_not_fill_the_logbook(
    recorder_mock: Any,
    hass: HomeAssistant,
    workshop: Workshop,
    hass_ws_client: WebSocketGenerator,
) -> None:
    """A run from start to rest shows its phases, without any instants."""
    for component in ("http", "logbook"):
        assert await async_setup_component(hass, component, {})
    await workshop.start(system_entry())
    begin = dt_util.utcnow()
    await workshop.pass_time(1)
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(25)
    await async_wait_recording_done(hass)
    client = await hass_ws_client()
    await client.send_json_auto_id(
        {"type": "logbook/get_events", "start_time": begin.isoformat()}
    )
    entries: dict[str, list[str]] = {}
    for item in (await client.receive_json())["result"]:
        if "entity_id" in item:
            entries.setdefault(item["entity_id"], []).append(item["state"])
    assert entries["sensor.dust_collector_phase"][-4:] == [
        *("collecting", "shutting_off", "spinning_down", "idle")
    ]
    assert entries["sensor.table_saw_phase"] == ["running", "idle"]
    ours = {
        name for name in entries if name.startswith(("sensor.dust", "sensor.table"))
    }
    assert ours == {"sensor.dust_collector_phase", "sensor.table_saw_phase"}
