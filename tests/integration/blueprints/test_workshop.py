"""Buttons, voices, the evening and the room, with the blueprints' defaults and with other values."""

from datetime import UTC, datetime, timedelta

from homeassistant.const import EVENT_HOMEASSISTANT_STARTED
from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_fire_time_changed,
    async_mock_service,
)

from ..workshop import COLLECTOR, LAMP, SAW_POWER, Workshop
from .helpers import (
    AIR_SUPPLY,
    automate,
    collector_device,
    put,
    since_midnight,
)

SWEEP = "switch.floor_sweep"
PHASE = "sensor.dust_collector_phase"
BUTTON = "event.wall_button"
SATELLITE = "assist_satellite.workshop"


# A button on the wall


def press(workshop: Workshop, kind: str) -> None:
    """Press the button: its state is the instant, as with every event."""
    now = datetime.now(UTC).isoformat(timespec="milliseconds")
    workshop.put(BUTTON, now, {"event_type": kind, "device_class": "button"})


async def test_a_button_requests_dust_collection(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    workshop.put(BUTTON, "unknown")
    await automate(hass, "wall_button", button=[BUTTON], air=SWEEP)
    # The very first press counts.
    press(workshop, "press_end")
    await workshop.settle()
    assert workshop.state(SWEEP) == "on"
    await workshop.pass_time(2)
    assert ("turn_on", COLLECTOR) in workshop.sent()
    press(workshop, "press_end")
    await workshop.settle()
    assert workshop.state(SWEEP) == "off"

    await workshop.pass_time(1)
    press(workshop, "press_end")
    await workshop.pass_time(1)
    press(workshop, "long_press_start")
    await workshop.settle()
    assert workshop.state(SWEEP) == "off"
    await workshop.pass_time(1)
    press(workshop, "long_press_start")
    press(workshop, "press_start")
    await workshop.settle()
    assert workshop.state(SWEEP) == "off"


async def test_a_button_that_comes_back_is_not_pressed(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    press(workshop, "press_end")
    before = hass.states.get(BUTTON)
    assert before is not None
    await automate(hass, "wall_button", button=[BUTTON], air=SWEEP)
    await put(workshop, BUTTON, "unavailable")
    workshop.put(BUTTON, before.state, before.attributes)
    await workshop.settle()
    assert workshop.state(SWEEP) == "off"


async def test_a_button_with_words_of_its_own_for_some_minutes(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    workshop.put(BUTTON, "unknown")
    await automate(
        hass,
        "wall_button",
        button=[BUTTON],
        air=SWEEP,
        press=["on_button"],
        hold=[],
        minutes=2,
    )
    press(workshop, "press_end")
    await workshop.settle()
    assert workshop.state(SWEEP) == "off"
    await workshop.pass_time(1)
    press(workshop, "on_button")
    await workshop.settle()
    assert workshop.state(SWEEP) == "on"
    await workshop.pass_time(119, 5)
    assert workshop.state(SWEEP) == "on"
    await workshop.pass_time(2)
    assert workshop.state(SWEEP) == "off"


# Said aloud


async def test_alarms_are_said_aloud(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    said = async_mock_service(hass, "assist_satellite", "announce")
    await automate(
        hass,
        "announcement",
        system=collector_device(hass, system),
        satellites=[SATELLITE],
    )
    await put(workshop, AIR_SUPPLY, "on")
    (call,) = said
    assert call.data["entity_id"] == [SATELLITE]
    assert call.data["message"] == (
        "Compressed air for the gates of Dust collector is low. "
        "What to do: Keep your hands out of the gates: they can move without warning "
        "when the pressure returns. Check the compressor and the shut-off valve. "
        "Before you loosen a hose, close the shut-off valve and bleed the line."
    )
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert len(said) == 1


async def test_speakers_say_that_the_collector_starts_but_not_at_night(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    said = async_mock_service(hass, "tts", "speak")
    await automate(
        hass,
        "announcement",
        system=collector_device(hass, system),
        speakers=["media_player.workshop"],
        voice="tts.plain",
        what_to_do=False,
        say_start=True,
        silent_from="14:00:00",
        silent_until="16:00:00",
    )
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    await put(workshop, AIR_SUPPLY, "on")
    assert [call.data["message"] for call in said] == [
        "The dust collector is starting.",
        "Compressed air for the gates of Dust collector is low.",
    ]
    assert said[0].data["media_player_entity_id"] == ["media_player.workshop"]
    assert said[0].data["entity_id"] == ["tts.plain"]
    await put(workshop, AIR_SUPPLY, "off")
    workshop.freezer.tick(timedelta(hours=3))
    async_fire_time_changed(hass)
    await put(workshop, AIR_SUPPLY, "on")
    assert len(said) == 2


async def test_a_night_has_no_alarms(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    said = async_mock_service(hass, "assist_satellite", "announce")
    await automate(
        hass,
        "announcement",
        system=collector_device(hass, system),
        satellites=[SATELLITE],
        silent_from="21:00:00",
        silent_until="07:00:00",
    )
    for hour, heard in ((22, 0), (31, 1)):
        workshop.freezer.tick(timedelta(hours=hour) - since_midnight())
        await put(workshop, AIR_SUPPLY, "on")
        await put(workshop, AIR_SUPPLY, "off")
        assert len(said) == heard, hour


# The day


async def end_of(hass: HomeAssistant, workshop: Workshop, name: str) -> None:
    """Advance to twenty past twelve, without waiting for the automation."""
    await workshop.pass_time(1260, 30)
    await hass.services.async_call(
        "automation", "turn_off", {"entity_id": f"automation.{name}"}, blocking=True
    )


async def test_a_working_day_is_reported(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    reported = async_mock_service(hass, "notify", "send_message")
    await automate(
        hass,
        "day_summary",
        system=collector_device(hass, system),
        notifiers=["notify.pocket"],
        time="12:20:00",
    )
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(180, 10)
    workshop.watts(SAW_POWER, 2)
    await end_of(hass, workshop, "day_summary")
    (call,) = reported
    assert call.data["entity_id"] == ["notify.pocket"]
    assert call.data["title"] == "The workshop today"
    assert "Table saw" in call.data["message"]


async def test_a_day_without_work_is_reported_only_if_wanted(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    reported = async_mock_service(hass, "notify", "send_message")
    await automate(
        hass,
        "day_summary",
        system=collector_device(hass, system),
        notifiers=["notify.pocket"],
        time="12:20:00",
    )
    await end_of(hass, workshop, "day_summary")
    assert reported == []


async def test_a_day_without_work_in_other_words(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    reported = async_mock_service(hass, "notify", "send_message")
    said = async_mock_service(hass, "tts", "speak")
    await automate(
        hass,
        "day_summary",
        system=collector_device(hass, system),
        time="12:20:00",
        work_only=False,
        also=[{"action": "tts.speak", "data": {"message": "{{ text }}"}}],
    )
    await end_of(hass, workshop, "day_summary")
    assert reported == []
    (call,) = said
    assert "no machine ran" in call.data["message"]


# The room


@pytest.mark.parametrize("minutes", [30, 5])
async def test_the_air_cleaner_runs_with_the_work_and_after_it(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, minutes: int
) -> None:
    more = {} if minutes == 30 else {"minutes": minutes}
    await automate(hass, "air_cleaner", phase=PHASE, cleaner=[LAMP], **more)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.state(LAMP) == "on"
    workshop.watts(SAW_POWER, 2)
    await workshop.pass_time(25, 1)
    assert workshop.state(PHASE) == "idle"
    await workshop.pass_time(60 * minutes - 30, 10)
    assert workshop.state(LAMP) == "on"
    await workshop.pass_time(60, 10)
    assert workshop.state(LAMP) == "off"


async def test_the_air_cleaner_is_left_alone_until_the_next_work(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    await automate(hass, "air_cleaner", phase=PHASE, cleaner=[LAMP])
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.state(LAMP) == "on"
    workshop.lamp.by_hand(is_on=False)
    # The system is reloaded during the work.
    assert await hass.config_entries.async_reload(system.entry_id)
    await workshop.pass_time(5)
    assert workshop.state(PHASE) == "collecting"
    assert workshop.state(LAMP) == "off"


async def test_the_air_cleaner_ends_although_home_assistant_was_restarted(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    workshop.lamp.become(is_on=True)
    await automate(hass, "air_cleaner", phase=PHASE, cleaner=[LAMP], minutes=5)
    hass.bus.async_fire(EVENT_HOMEASSISTANT_STARTED)
    await workshop.pass_time(290, 10)
    assert workshop.state(LAMP) == "on"
    await workshop.pass_time(20, 10)
    assert workshop.state(LAMP) == "off"


# Opening hours

HOURS = "input_boolean.open"
BLOCK = "switch.dust_collector_block_starts"
OWN = "switch.dust_collector"


async def test_starts_are_blocked_outside_the_hours(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    workshop.put(HOURS, "on")
    await automate(hass, "opening_hours", collector=OWN, hours=HOURS)
    await workshop.settle()
    assert workshop.state(BLOCK) == "off"
    workshop.put(HOURS, "off")
    await workshop.pass_time(2)
    assert workshop.state(BLOCK) == "on"
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    assert workshop.state(COLLECTOR) == "off"
    workshop.put(HOURS, "on")
    await workshop.pass_time(5)
    assert workshop.state(BLOCK) == "off"
    # The saw still runs: it's collected from now on.
    assert workshop.state(COLLECTOR) == "on"


async def test_a_running_machine_is_collected_to_its_end(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    workshop.put(HOURS, "on")
    await automate(hass, "opening_hours", collector=OWN, hours=HOURS, minutes=10)
    await workshop.saw_runs()
    workshop.put(HOURS, "off")
    await workshop.pass_time(300, 5)
    assert workshop.state(COLLECTOR) == "on"
    assert workshop.state(BLOCK) == "off"
    workshop.watts(SAW_POWER, 2)
    await workshop.pass_time(40, 1)
    assert workshop.state(BLOCK) == "on"


async def test_the_waiting_for_machines_has_an_end_and_is_given_up(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    workshop.put(HOURS, "on")
    await automate(hass, "opening_hours", collector=OWN, hours=HOURS, minutes=10)
    await workshop.saw_runs()
    workshop.put(HOURS, "off")
    await workshop.pass_time(300, 5)
    workshop.put(HOURS, "on")
    await workshop.pass_time(900, 10)
    assert workshop.state(BLOCK) == "off"
    workshop.put(HOURS, "off")
    await workshop.pass_time(620, 5)
    assert workshop.state(BLOCK) == "on"
    await workshop.pass_time(20, 1)
    assert workshop.state(COLLECTOR) == "off"


async def test_a_start_of_home_assistant_outside_the_hours_blocks(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    workshop.put(HOURS, "off")
    await automate(hass, "opening_hours", collector=OWN, hours=HOURS)
    hass.bus.async_fire(EVENT_HOMEASSISTANT_STARTED)
    await workshop.pass_time(2)
    assert workshop.state(BLOCK) == "on"


async def test_a_block_by_hand_is_lifted_by_the_next_opening_only(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    workshop.put(HOURS, "on")
    await automate(hass, "opening_hours", collector=OWN, hours=HOURS)
    await workshop.call("turn_on", BLOCK)
    hass.bus.async_fire(EVENT_HOMEASSISTANT_STARTED)
    await workshop.pass_time(2)
    workshop.put(HOURS, "unavailable")
    workshop.put(HOURS, "on")
    await workshop.pass_time(2)
    assert workshop.state(BLOCK) == "on"
