"""The bin and every other alarm on a phone, with the blueprints' defaults and with other values."""

from typing import Any

from homeassistant.const import EVENT_HOMEASSISTANT_STARTED
from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_mock_service,
)

from custom_components.gatewright.core.config import COLLECTOR as COLLECTOR_PART
from custom_components.gatewright.core.control.alarms import AlarmKind, Condition
from custom_components.gatewright.core.inputs import ConditionReported

from ..workshop import Workshop
from .helpers import (
    AIR_SUPPLY,
    BIN,
    FakePhone,
    automate,
    collector_device,
    put,
)

EMPTIED_AT = "sensor.dust_collector_bin_last_emptied"
EMPTIED_BUTTON = "button.dust_collector_bin_emptied"


async def tap(
    workshop: Workshop, phone: FakePhone, push: dict[str, Any], title: str
) -> None:
    phone.tap(push, title)
    await workshop.settle()


# The bin


async def test_the_bin_is_reported_and_emptied(
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
    # The sensor agrees: nothing more to report.
    await workshop.pass_time(3700, 60)
    assert phone.pushes() == []


async def test_a_bin_that_still_counts_as_full_is_reported(
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
    assert again["title"] == "The bin still counts as full. Check its sensor."


async def test_emptied_of_an_hour_ago_does_not_empty_a_bin_that_fills(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    """The alert stayed on a phone that was off; the bin was emptied meanwhile."""
    device = collector_device(hass, system)
    await automate(hass, "bin_alert", system=device, phone=phone.device_id)
    await put(workshop, BIN, "on")
    (old,) = phone.pushes()
    await workshop.call("press", EMPTIED_BUTTON)
    await put(workshop, BIN, "off")
    at = workshop.state(EMPTIED_AT)
    phone.pushes()
    await workshop.saw_runs()
    await workshop.pass_time(3600, 60)
    await tap(workshop, phone, old, "Emptied")
    assert workshop.state(EMPTIED_AT) == at
    assert [push["message"] for push in phone.pushes()] == ["clear_notification"]
    # Nor does it offer a reminder of what is over.
    await tap(workshop, phone, old, "Remind me in an hour")
    await workshop.pass_time(3700, 60)
    assert {push["message"] for push in phone.pushes()} == {"clear_notification"}
    # The next alert has buttons of its own, which work.
    await put(workshop, BIN, "on")
    (new,) = phone.pushes()
    await tap(workshop, phone, new, "Emptied")
    await put(workshop, BIN, "off")
    assert workshop.state(EMPTIED_AT) != at
    await workshop.pass_time(15, 1)


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


async def test_a_full_bin_is_reported_again_after_a_restart(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    device = collector_device(hass, system)
    await automate(hass, "bin_alert", system=device, phone=phone.device_id)
    await put(workshop, BIN, "on")
    (push,) = phone.pushes()
    # Whatever waits for the hour would be gone with Home Assistant.
    await tap(workshop, phone, push, "Remind me in an hour")
    hass.bus.async_fire(EVENT_HOMEASSISTANT_STARTED)
    await workshop.settle()
    (again,) = phone.pushes()
    assert again["title"] == push["title"]
    assert again["data"]["tag"] == push["data"]["tag"]
    await put(workshop, BIN, "off")
    phone.pushes()


async def test_an_empty_bin_is_not_reported_after_a_restart(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    device = collector_device(hass, system)
    await automate(hass, "bin_alert", system=device, phone=phone.device_id)
    hass.bus.async_fire(EVENT_HOMEASSISTANT_STARTED)
    await workshop.settle()
    assert phone.pushes() == []


@pytest.mark.parametrize("early", [True, False])
async def test_a_bin_that_is_soon_full_is_reported_if_wanted(
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
    system.runtime_data.context.handle(ConditionReported(nearly, present=True))
    await workshop.settle()
    titles = [push["title"] for push in phone.pushes()]
    assert titles == ["The bin of Dust collector is nearly full"][:early]


# Every alarm


async def test_an_alarm_is_reported_with_cause_and_advice(
    hass: HomeAssistant, workshop: Workshop, system: MockConfigEntry, phone: FakePhone
) -> None:
    device = collector_device(hass, system)
    await automate(hass, "alarm_alert", system=device, phone=phone.device_id)
    await put(workshop, AIR_SUPPLY, "on")
    (push,) = phone.pushes()
    assert push["title"] == "Compressed air for the gates of Dust collector is low"
    assert push["message"].startswith("The pressure is below its limit")
    assert "Check the compressor" in push["message"].split("What to do: ")[1]
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
