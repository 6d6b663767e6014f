"""An automation of every blueprint does what the blueprint says, with its own values and with others."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

from homeassistant.const import EVENT_HOMEASSISTANT_STARTED
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_fire_time_changed,
    async_mock_service,
)
from pytest_homeassistant_custom_component.test_util.aiohttp import AiohttpClientMocker

from custom_components.gatewright.shop.alarms import AlarmKind, Condition
from custom_components.gatewright.shop.plan import COLLECTOR as COLLECTOR_PART

from .blueprint_helpers import (
    FakePhone,
    automate,
    blueprints_here,
    collector_device,
)
from .workshop import COLLECTOR, LAMP, SAW_POWER, Workshop, system_entry

DAY = timedelta(days=1)
BIN = "binary_sensor.bin_full"
AIR_SUPPLY = "binary_sensor.air_supply_low"
SWEEP = "switch.floor_sweep"
EMPTIED_AT = "sensor.dust_collector_bin_last_emptied"
PHASE = "sensor.dust_collector_phase"
BUTTON = "event.wall_button"
SATELLITE = "assist_satellite.workshop"


@pytest.fixture(autouse=True)
def _blueprints() -> Iterator[None]:
    with blueprints_here():
        yield


@pytest.fixture
async def system(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Return a system at rest at noon that watches its bin and its compressed air."""
    workshop.put(BIN, "off")
    workshop.put(AIR_SUPPLY, "off")
    assert await async_setup_component(hass, "homeassistant", {})
    await hass.config.async_set_time_zone("UTC")
    now = datetime.now(UTC)
    tomorrow = now.replace(hour=12, minute=0, second=0, microsecond=0) + DAY
    workshop.freezer.tick(tomorrow - now)
    entry = system_entry(bin_full=BIN, bin_answer="warn", air_supply=AIR_SUPPLY)
    await workshop.start(entry)
    # An automation that waits is never done: the hub must not be waited for.
    workshop.hangs.add("automation")
    return entry


@pytest.fixture
async def phone(
    hass: HomeAssistant, aioclient_mock: AiohttpClientMocker, workshop: Workshop
) -> FakePhone:
    phone = FakePhone(hass, aioclient_mock)
    await phone.register()
    return phone


async def put(workshop: Workshop, entity_id: str, state: str) -> None:
    workshop.put(entity_id, state)
    await workshop.settle()


def since_midnight() -> timedelta:
    now = datetime.now(UTC)
    return now - now.replace(hour=0, minute=0, second=0, microsecond=0)


async def tap(
    workshop: Workshop, phone: FakePhone, push: dict[str, Any], title: str
) -> None:
    phone.tap(push, title)
    await workshop.settle()


# The bin


async def test_the_bin_is_told_and_emptied(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    device = collector_device(hass, system)
    await automate(hass, "bin_alert", system=device, phone=phone.device_id)
    await put(workshop, BIN, "on")
    (push,) = phone.pushes()
    assert push["title"] == "The bin of Dust collector is full"
    assert push["message"].startswith("Pull the plug")
    assert [action["title"] for action in push["data"]["actions"]] == [
        "Emptied",
        "Remind me in an hour",
    ]

    assert workshop.state(EMPTIED_AT) == "unknown"
    await tap(workshop, phone, push, "Emptied")
    await put(workshop, BIN, "off")
    taken_back = phone.pushes()
    assert taken_back
    for gone in taken_back:
        assert gone["message"] == "clear_notification"
        assert gone["data"]["tag"] == push["data"]["tag"]
    assert workshop.state(EMPTIED_AT) != "unknown"
    # The sensor agrees: there is nothing more to say.
    await workshop.pass_time(3700, 60)
    assert phone.pushes() == []


async def test_a_bin_that_still_counts_as_full_is_told(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    device = collector_device(hass, system)
    await automate(hass, "bin_alert", system=device, phone=phone.device_id)
    await put(workshop, BIN, "on")
    (push,) = phone.pushes()
    await tap(workshop, phone, push, "Emptied")
    assert [gone["message"] for gone in phone.pushes()] == ["clear_notification"]
    await workshop.pass_time(11, 1)
    (again,) = phone.pushes()
    assert again["title"] == "The bin still counts as full. Look at its sensor."


async def test_a_reminder_comes_while_the_bin_is_full(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    device = collector_device(hass, system)
    await automate(hass, "bin_alert", system=device, phone=phone.device_id)
    await put(workshop, BIN, "on")
    (push,) = phone.pushes()
    for _ in range(2):
        await tap(workshop, phone, push, "Remind me in an hour")
        await workshop.pass_time(3590, 60)
        assert phone.pushes() == []
        await workshop.pass_time(20, 5)
        (push,) = phone.pushes()
        assert push["title"] == "The bin of Dust collector is full"
    await tap(workshop, phone, push, "Remind me in an hour")
    await put(workshop, BIN, "off")
    assert [gone["message"] for gone in phone.pushes()] == ["clear_notification"]
    await workshop.pass_time(3700, 60)
    assert phone.pushes() == []


async def test_the_bin_alert_in_other_words_at_another_time(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    await automate(
        hass,
        "bin_alert",
        system=collector_device(hass, system),
        phone=phone.device_id,
        remind_after={"minutes": 5},
        message="Stecker ziehen, Behälter leeren.",
        emptied_button="Geleert",
        later_button="In fünf Minuten",
    )
    await put(workshop, BIN, "on")
    (push,) = phone.pushes()
    assert push["message"] == "Stecker ziehen, Behälter leeren."
    await tap(workshop, phone, push, "In fünf Minuten")
    await workshop.pass_time(301, 10)
    (push,) = phone.pushes()
    await tap(workshop, phone, push, "Geleert")
    assert [gone["message"] for gone in phone.pushes()] == ["clear_notification"]


async def test_a_full_bin_is_told_again_after_a_restart(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    device = collector_device(hass, system)
    await automate(hass, "bin_alert", system=device, phone=phone.device_id)
    await put(workshop, BIN, "on")
    (push,) = phone.pushes()
    # What waits for the hour would be gone with the hub.
    await tap(workshop, phone, push, "Remind me in an hour")
    hass.bus.async_fire(EVENT_HOMEASSISTANT_STARTED)
    await workshop.settle()
    (again,) = phone.pushes()
    assert again["title"] == push["title"]
    assert again["data"]["tag"] == push["data"]["tag"]
    await put(workshop, BIN, "off")
    phone.pushes()


async def test_an_empty_bin_is_not_told_after_a_restart(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    device = collector_device(hass, system)
    await automate(hass, "bin_alert", system=device, phone=phone.device_id)
    hass.bus.async_fire(EVENT_HOMEASSISTANT_STARTED)
    await workshop.settle()
    assert phone.pushes() == []


@pytest.mark.parametrize("early", [True, False])
async def test_a_bin_that_is_soon_full_is_told_if_wanted(
    hass: HomeAssistant,
    workshop: Workshop,
    system: MockConfigEntry,
    phone: FakePhone,
    early: bool,
) -> None:
    device = collector_device(hass, system)
    more = {"early": True} if early else {}
    await automate(hass, "bin_alert", system=device, phone=phone.device_id, **more)
    nearly = Condition(AlarmKind.BIN_NEARLY_FULL, COLLECTOR_PART)
    system.runtime_data.shop.note_outside(nearly, present=True)
    system.runtime_data.advance()
    await workshop.settle()
    titles = [push["title"] for push in phone.pushes()]
    assert titles == ["The bin of Dust collector will soon be full"][:early]


# Every alarm


async def test_an_alarm_is_told_with_cause_and_advice(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    device = collector_device(hass, system)
    await automate(hass, "alarm_alert", system=device, phone=phone.device_id)
    await put(workshop, AIR_SUPPLY, "on")
    (push,) = phone.pushes()
    assert push["title"] == "Compressed air for the gates of Dust collector is low"
    assert push["message"].startswith("Cause: ")
    assert "What to do: Look at the compressor" in push["message"]
    await put(workshop, AIR_SUPPLY, "off")
    (over,) = phone.pushes()
    assert over["title"].startswith("Over: Compressed air")
    assert over["data"]["tag"] == push["data"]["tag"]


async def test_some_alarms_are_left_out_and_others_do_more(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    done = async_mock_service(hass, "light", "turn_on")
    await automate(
        hass,
        "alarm_alert",
        system=collector_device(hass, system),
        phone=phone.device_id,
        left_out=["bin_full"],
        tell_cleared=False,
        also=[{"action": "light.turn_on", "data": {"why": "{{ title }}"}}],
    )
    await put(workshop, BIN, "on")
    await put(workshop, BIN, "off")
    assert phone.pushes() == []
    await put(workshop, AIR_SUPPLY, "on")
    await put(workshop, AIR_SUPPLY, "off")
    push, gone = phone.pushes()
    assert gone["message"] == "clear_notification"
    assert gone["data"]["tag"] == push["data"]["tag"]
    assert [call.data["why"] for call in done] == [push["title"]]


# A button on the wall


def press(workshop: Workshop, kind: str) -> None:
    """Press the button: its state is the instant, as of every event."""
    now = datetime.now(UTC).isoformat(timespec="milliseconds")
    workshop.put(BUTTON, now, {"event_type": kind, "device_class": "button"})


async def test_a_button_asks_for_air(
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
        "What to do: Look at the compressor and the shut-off valve."
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
        "The dust collector starts.",
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
    """Come to twenty past twelve, and let the automation be."""
    await workshop.pass_time(1260, 30)
    await hass.services.async_call(
        "automation", "turn_off", {"entity_id": f"automation.{name}"}, blocking=True
    )


async def test_a_working_day_is_told(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    told = async_mock_service(hass, "notify", "send_message")
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
    (call,) = told
    assert call.data["entity_id"] == ["notify.pocket"]
    assert call.data["title"] == "The workshop today"
    assert "Table saw" in call.data["message"]


async def test_a_day_without_work_is_told_only_if_wanted(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    told = async_mock_service(hass, "notify", "send_message")
    await automate(
        hass,
        "day_summary",
        system=collector_device(hass, system),
        notifiers=["notify.pocket"],
        time="12:20:00",
    )
    await end_of(hass, workshop, "day_summary")
    assert told == []


async def test_a_day_without_work_in_other_words(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry
) -> None:
    told = async_mock_service(hass, "notify", "send_message")
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
    assert told == []
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
    assert workshop.state(PHASE) == "resting"
    await workshop.pass_time(60 * minutes - 30, 10)
    assert workshop.state(LAMP) == "on"
    await workshop.pass_time(60, 10)
    assert workshop.state(LAMP) == "off"
