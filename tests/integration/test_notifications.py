"""The integration's notifications: what, when, how, and what their buttons do."""

import logging
from typing import Any

from homeassistant.auth.models import User
from homeassistant.auth.permissions import PolicyPermissions
from homeassistant.auth.permissions.models import PermissionLookup
from homeassistant.core import Context, CoreState, HomeAssistant, ServiceCall
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import (
    device_registry as dr,
    entity_registry as er,
    issue_registry as ir,
)
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_mock_service,
)

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.stored.phones import is_time
from custom_components.gatewright.features.notifications.message import SERIOUS
from custom_components.gatewright.features.notifications.on_show import OnShow
from custom_components.gatewright.features.notifications.taps import (
    DONE_BY,
    EVENT_TAPPED,
)

from .test_record import saw_for
from .test_restart import forget_the_process, restart
from .workshop import SAW_GATE, SAW_POWER, Workshop, change_system, system_entry

PHONE = "notify.pocket"
ACTION = "mobile_app_pocket"
MAIL = "notify.mail"
BIN = "binary_sensor.bin_full"

type Calls = list[ServiceCall]


@pytest.fixture
def phone(hass: HomeAssistant) -> str:
    """Return the stored data of a phone whose app action doesn't exist yet."""
    owner = MockConfigEntry(domain="mobile_app")
    owner.add_to_hass(hass)
    device = dr.async_get(hass).async_get_or_create(
        config_entry_id=owner.entry_id,
        identifiers={("mobile_app", "p")},
        name="Pocket",
    )
    entry = er.async_get(hass).async_get_or_create(
        "notify",
        "mobile_app",
        "p",
        suggested_object_id="pocket",
        config_entry=owner,
        device_id=device.id,
    )
    assert entry.entity_id == PHONE
    return entry.id


@pytest.fixture
def messages(hass: HomeAssistant) -> Calls:
    """Return the phone's messages."""
    return async_mock_service(hass, "notify", ACTION)


async def arrived(hass: HomeAssistant) -> None:
    """Wait until everything has been sent."""
    await hass.async_block_till_done(wait_background_tasks=True)


async def start(
    hass: HomeAssistant, workshop: Workshop, phones: list[str], **data: Any
) -> MockConfigEntry:
    """Set up the standard workshop with a bin sensor and phones."""
    workshop.put(BIN, "off")
    entry = system_entry(phones=phones, bin_full=BIN, **data)
    await workshop.start(entry)
    return entry


async def fill_bin(workshop: Workshop) -> None:
    """Let the bin's sensor report full, for long enough."""
    workshop.put(BIN, "on")
    await workshop.pass_time(25, 1)
    await arrived(workshop.hass)


async def test_an_alarm_is_reported_and_taken_back(
    hass: HomeAssistant, workshop: Workshop, phone: str, messages: Calls
) -> None:
    await start(hass, workshop, [phone])
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(30, 1)
    await arrived(hass)
    sent = {call.data["data"]["tag"]: call.data for call in messages}
    tag = "gatewright_system_gate_not_moving_saw_gate"
    assert tag in sent
    message = sent[tag]
    assert "Saw gate" in message["title"]
    assert "**" not in message["message"]
    assert len(message["message"]) > 40
    assert message["data"]["channel"] == "Dust collector"
    assert "actions" not in message["data"]
    assert "push" not in message["data"]
    messages.clear()
    workshop.deaf.clear()
    workshop.watts(SAW_POWER, 2)
    workshop.saw_gate.by_hand(is_closed=False)
    await workshop.pass_time(200, 2)
    await arrived(hass)
    back = [call.data for call in messages if call.data["data"]["tag"] == tag]
    assert back == [{"message": "clear_notification", "data": {"tag": tag}}]


async def test_what_was_reported_before_a_restart_is_taken_back_after_it(
    hass: HomeAssistant, workshop: Workshop, phone: str, messages: Calls
) -> None:
    entry = await start(hass, workshop, [phone])
    await fill_bin(workshop)
    messages.clear()
    assert await hass.config_entries.async_reload(entry.entry_id)
    await workshop.settle()
    workshop.put(BIN, "off")
    await workshop.pass_time(120, 1)
    await arrived(hass)
    assert [call.data["message"] for call in messages] == ["clear_notification"]


@pytest.fixture
async def full(
    hass: HomeAssistant,
    workshop: Workshop,
    phone: str,
    messages: Calls,
    hass_storage: dict[str, Any],
) -> ServiceCall:
    """Show a full bin on the phone, and forget that it was sent."""
    await start(hass, workshop, [phone])
    await fill_bin(workshop)
    # Long enough at rest for a contact that goes off to mean "emptied".
    await workshop.pass_time(60, 1)
    (call,) = messages
    messages.clear()
    return call


async def test_after_a_restart_nothing_is_reported_twice(
    hass: HomeAssistant, workshop: Workshop, messages: Calls, full: ServiceCall
) -> None:
    await restart(hass, workshop)
    await workshop.pass_time(300, 5)
    await arrived(hass)
    assert messages == []
    workshop.put(BIN, "off")
    await workshop.pass_time(120, 1)
    await arrived(hass)
    tag = full.data["data"]["tag"]
    assert [call.data for call in messages] == [
        {"message": "clear_notification", "data": {"tag": tag}}
    ]


async def test_what_is_over_before_the_phone_is_there_is_taken_back_once_it_is(
    hass: HomeAssistant, workshop: Workshop, full: ServiceCall
) -> None:
    """While Home Assistant starts, the phone's app comes after us."""
    await forget_the_process(hass)
    hass.services.async_remove("notify", ACTION)
    hass.set_state(CoreState.not_running)
    workshop.put(BIN, "off")
    assert await hass.config_entries.async_setup("system")
    await workshop.pass_time(120, 1)
    messages = async_mock_service(hass, "notify", ACTION)
    await workshop.pass_time(2)
    assert messages == []
    hass.set_state(CoreState.running)
    hass.bus.async_fire_internal("homeassistant_started")
    await arrived(hass)
    tag = full.data["data"]["tag"]
    assert [call.data for call in messages] == [
        {"message": "clear_notification", "data": {"tag": tag}}
    ]


async def test_what_is_over_without_the_alarm_being_recalled_is_taken_back(
    hass: HomeAssistant,
    workshop: Workshop,
    messages: Calls,
    full: ServiceCall,
    hass_storage: dict[str, Any],
) -> None:
    await forget_the_process(hass)
    workshop.put(BIN, "off")
    hass_storage["gatewright.system"]["data"]["alarms"] = []
    assert await hass.config_entries.async_setup("system")
    await arrived(hass)
    assert [call.data["message"] for call in messages] == ["clear_notification"]


async def test_a_part_that_was_renamed_is_taken_back_by_its_old_tag(
    hass: HomeAssistant, workshop: Workshop, messages: Calls, full: ServiceCall
) -> None:
    entry = hass.config_entries.async_get_known_entry("system")
    hass.config_entries.async_update_entry(entry, title="Cyclone")
    await restart(hass, workshop)
    workshop.put(BIN, "off")
    await workshop.pass_time(120, 1)
    await arrived(hass)
    assert [call.data["data"]["tag"] for call in messages] == [full.data["data"]["tag"]]


@pytest.mark.parametrize("away", [0, 5000])
async def test_a_reminder_outlasts_a_restart(
    hass: HomeAssistant,
    workshop: Workshop,
    messages: Calls,
    full: ServiceCall,
    away: int,
) -> None:
    await tap(hass, buttons(full)["Remind me in an hour"])
    await workshop.pass_time(1800, 100)
    await forget_the_process(hass)
    await workshop.pass_time(away, 1000)
    assert await hass.config_entries.async_setup("system")
    await workshop.pass_time(1, 1)
    await arrived(hass)
    # What was due while Home Assistant was away comes at once.
    assert len(messages) == bool(away)
    await workshop.pass_time(1900, 100)
    await arrived(hass)
    (again,) = messages
    assert again.data["data"]["tag"] == full.data["data"]["tag"]
    await restart(hass, workshop)
    await workshop.pass_time(4000, 100)
    await arrived(hass)
    assert len(messages) == 1


@pytest.mark.parametrize(
    "kept",
    [
        None,
        3,
        {},
        {"tags": 3, "reminders": None},
        {"tags": [["bin_full"], ["never", "x", "y"], 3], "reminders": [["bin_full"]]},
        {"tags": [["bin_full", 1, "x"]], "reminders": [["bin_full", "x", "soon"]]},
    ],
)
def test_what_cannot_be_read_of_what_was_on_show_is_left_out(kept: object) -> None:
    assert OnShow.read(kept).save() == {"tags": [], "reminders": []}


def test_what_was_on_show_is_read_as_it_was_written() -> None:
    kept = {
        "tags": [["bin_full", "collector", "gatewright_x"]],
        "reminders": [["bin_full", "collector", "2026-11-29T10:00:00+00:00"]],
    }
    assert OnShow.read(kept).save() == kept


@pytest.mark.parametrize(
    ("topics", "expected"), [(["bin"], True), (["alarms", "summary"], False)]
)
async def test_only_what_was_chosen_is_reported(
    hass: HomeAssistant,
    workshop: Workshop,
    phone: str,
    messages: Calls,
    topics: list[str],
    expected: bool,
) -> None:
    await start(hass, workshop, [phone], phone_topics=topics)
    await fill_bin(workshop)
    assert bool(messages) is expected
    workshop.put(BIN, "off")
    await workshop.pass_time(120, 1)
    await arrived(hass)
    assert len(messages) == (2 if expected else 0)


async def test_several_phones_and_what_is_no_phone(
    hass: HomeAssistant, workshop: Workshop, phone: str, messages: Calls
) -> None:
    mails = async_mock_service(hass, "notify", "send_message")
    workshop.put(MAIL, "unknown")
    await start(hass, workshop, [phone, MAIL])
    await fill_bin(workshop)
    assert len(messages) == 1
    (mail,) = mails
    assert mail.data["entity_id"] == MAIL
    assert mail.data["title"] == messages[0].data["title"]
    workshop.put(BIN, "off")
    await workshop.pass_time(120, 1)
    await arrived(hass)
    # A mail can't be withdrawn.
    assert len(mails) == 1
    assert len(messages) == 2


async def test_serious_alarms_sound_on_a_silent_phone_where_that_was_chosen(
    hass: HomeAssistant, workshop: Workshop, phone: str, messages: Calls
) -> None:
    smoke = "binary_sensor.smoke"
    workshop.put(smoke, "off")
    entry = await start(hass, workshop, [phone], emergency=[smoke])
    for critical in (False, True):
        change_system(hass, entry, phone_critical=critical)
        await workshop.settle()
        messages.clear()
        workshop.put(smoke, "on")
        await workshop.pass_time(2)
        await arrived(hass)
        data = next(
            call.data["data"]
            for call in messages
            if "fire_shutdown" in call.data["data"]["tag"]
        )
        # It comes at once in any case.
        assert data["priority"] == "high"
        assert ("push" in data) is critical
        # No button can end the fire alarm shutdown.
        assert "actions" not in data
        workshop.put(smoke, "off")
        await workshop.pass_time(2)
        await hass.services.async_call(
            DOMAIN,
            "reset_fire_shutdown",
            {"entity_id": "switch.dust_collector"},
            blocking=True,
        )
        await workshop.pass_time(70, 1)
    await fill_bin(workshop)
    assert "push" not in messages[-1].data["data"]


def test_no_button_of_a_serious_alarm() -> None:
    assert not SERIOUS & DONE_BY.keys()


def buttons(call: ServiceCall) -> dict[str, str]:
    """Return the actions of a message's buttons by their words."""
    return {row["title"]: row["action"] for row in call.data["data"]["actions"]}


async def tap(hass: HomeAssistant, action: object, user: User | None = None) -> None:
    """Tap a button, like the app."""
    context = Context(user_id=None if user is None else user.id)
    hass.bus.async_fire(EVENT_TAPPED, {"action": action}, context=context)
    await arrived(hass)


async def test_emptied_is_noted_and_a_bin_that_stays_full_is_reported_again(
    hass: HomeAssistant, workshop: Workshop, phone: str, messages: Calls
) -> None:
    await start(hass, workshop, [phone], bin_volume=0.16)
    await fill_bin(workshop)
    shown = buttons(messages[0])
    assert list(shown) == ["Emptied", "Remind me in an hour"]
    emptied = workshop.state("sensor.dust_collector_bin_last_emptied")
    await tap(hass, shown["Emptied"])
    await workshop.settle()
    assert workshop.state("sensor.dust_collector_bin_last_emptied") != emptied
    await workshop.pass_time(11, 1)
    await arrived(hass)
    assert len(messages) == 2
    assert messages[1].data["data"]["tag"] == messages[0].data["data"]["tag"]
    # What is over doesn't count.
    again = workshop.state("sensor.dust_collector_bin_last_emptied")
    await tap(hass, shown["Emptied"])
    assert workshop.state("sensor.dust_collector_bin_last_emptied") == again
    await tap(hass, buttons(messages[1])["Emptied"])
    workshop.put(BIN, "off")
    await workshop.pass_time(90, 1)
    await arrived(hass)
    assert messages[-1].data["message"] == "clear_notification"


async def test_remind_me_later(
    hass: HomeAssistant, workshop: Workshop, phone: str, messages: Calls
) -> None:
    await start(hass, workshop, [phone])
    await fill_bin(workshop)
    await tap(hass, buttons(messages[0])["Remind me in an hour"])
    await workshop.pass_time(3500, 100)
    assert len(messages) == 1
    await workshop.pass_time(200, 100)
    await arrived(hass)
    assert len(messages) == 2
    await tap(hass, buttons(messages[1])["Remind me in an hour"])
    workshop.put(BIN, "off")
    await workshop.pass_time(3800, 100)
    await arrived(hass)
    tag = messages[0].data["data"]["tag"]
    later = [call.data for call in messages[2:] if call.data["data"]["tag"] == tag]
    assert [call["message"] for call in later] == ["clear_notification"]


@pytest.mark.parametrize(
    "action",
    [
        None,
        3,
        "",
        "GATEWRIGHT_PHONE_done_other_x",
        "GATEWRIGHT_PHONE_done_system_",
        "GATEWRIGHT_PHONE_done_system_nothing",
    ],
)
async def test_taps_that_mean_nothing_here(
    hass: HomeAssistant, workshop: Workshop, phone: str, messages: Calls, action: object
) -> None:
    await start(hass, workshop, [phone])
    await fill_bin(workshop)
    await tap(hass, action)
    await workshop.pass_time(20, 1)
    assert len(messages) == 1


async def test_a_tap_has_the_rights_of_whoever_holds_the_phone(
    hass: HomeAssistant,
    workshop: Workshop,
    phone: str,
    messages: Calls,
    hass_read_only_user: User,
    caplog: pytest.LogCaptureFixture,
) -> None:
    await start(hass, workshop, [phone], bin_volume=0.16)
    lookup = PermissionLookup(er.async_get(hass), dr.async_get(hass))
    hass_read_only_user.__dict__["permissions"] = PolicyPermissions({}, lookup)
    await fill_bin(workshop)
    emptied = workshop.state("sensor.dust_collector_bin_last_emptied")
    await tap(hass, buttons(messages[0])["Emptied"], hass_read_only_user)
    assert workshop.state("sensor.dust_collector_bin_last_emptied") == emptied
    assert "A tap on a phone was not taken" in caplog.text
    assert "Traceback" not in caplog.text


async def test_no_buttons_where_they_are_not_wanted(
    hass: HomeAssistant, workshop: Workshop, phone: str, messages: Calls
) -> None:
    await start(hass, workshop, [phone], phone_buttons=False)
    await fill_bin(workshop)
    assert "actions" not in messages[0].data["data"]


async def test_the_day_is_reported_after_work(
    hass: HomeAssistant, workshop: Workshop, phone: str, messages: Calls
) -> None:
    entry = await start(hass, workshop, [phone], phone_summary_at="09:30")
    # It is nine in the morning there.
    await workshop.pass_time(1900, 20)
    await arrived(hass)
    assert messages == []
    await saw_for(workshop, 60)
    change_system(hass, entry, phone_summary_at="09:45")
    await workshop.settle()
    await workshop.pass_time(900, 10)
    await arrived(hass)
    (day,) = (call.data for call in messages)
    assert day["title"] == "Dust collector today"
    assert "Table saw" in day["message"]
    change_system(hass, entry, phone_summary_at="10:00", phone_topics=["alarms"])
    await workshop.settle()
    await workshop.pass_time(1200, 20)
    await arrived(hass)
    assert len(messages) == 1


@pytest.mark.parametrize(
    "err", [HomeAssistantError("no network"), TimeoutError(), ValueError("odd")]
)
async def test_a_phone_that_cannot_be_reached_is_reported_once_and_without_a_traceback(
    hass: HomeAssistant,
    workshop: Workshop,
    phone: str,
    caplog: pytest.LogCaptureFixture,
    err: Exception,
) -> None:
    fails = True
    got: Calls = []

    async def take(call: ServiceCall) -> None:
        if fails:
            raise err
        got.append(call)

    hass.services.async_register("notify", ACTION, take)
    await start(hass, workshop, [phone])
    await fill_bin(workshop)
    workshop.put(BIN, "off")
    await workshop.pass_time(120, 1)
    await arrived(hass)
    issue_id = f"phone_system_{phone}"
    issue = ir.async_get(hass).async_get_issue(DOMAIN, issue_id)
    assert issue is not None
    assert issue.translation_placeholders == {
        "phone": PHONE,
        "system": "Dust collector",
    }
    warned = [
        record
        for record in caplog.records
        if record.name.startswith("custom_components.gatewright")
        and record.levelno >= logging.WARNING
    ]
    assert len(warned) == 1
    assert warned[0].exc_info is None
    fails = False
    await fill_bin(workshop)
    assert len(got) == 1
    assert ir.async_get(hass).async_get_issue(DOMAIN, issue_id) is None


async def test_a_phone_that_is_gone(
    hass: HomeAssistant, workshop: Workshop, phone: str, messages: Calls
) -> None:
    entry = await start(hass, workshop, [phone, "notify.never"])
    er.async_get(hass).async_remove(PHONE)
    await fill_bin(workshop)
    issues = ir.async_get(hass).issues
    lost = {key for _, key in issues if key.startswith("phone_system_")}
    assert lost == {f"phone_system_{phone}", "phone_system_notify.never"}
    # Deselected: nothing to send.
    change_system(hass, entry, phones=[])
    await workshop.settle()
    assert not [key for _, key in issues if key.startswith("phone_system_")]
    assert messages == []


async def test_a_phone_without_its_action_gets_plain_messages(
    hass: HomeAssistant, workshop: Workshop, phone: str
) -> None:
    sent = async_mock_service(hass, "notify", "send_message")
    await start(hass, workshop, [phone])
    await fill_bin(workshop)
    assert [call.data["entity_id"] for call in sent] == [PHONE]


async def test_removed_with_the_system(
    hass: HomeAssistant, workshop: Workshop, phone: str
) -> None:
    entry = await start(hass, workshop, ["notify.never"])
    await fill_bin(workshop)
    await hass.config_entries.async_remove(entry.entry_id)
    await arrived(hass)
    issues = ir.async_get(hass).issues
    assert not [key for _, key in issues if key.startswith("phone_system_")]


@pytest.mark.parametrize(
    ("value", "right"),
    [
        ("18:00", True),
        ("00:00:00", True),
        ("23:59:59", True),
        ("24:00", False),
        ("8:00", False),
        ("18:60", False),
        ("18:00:00.5", False),
        (18, False),
        (None, False),
    ],
)
def test_a_time_of_day(value: object, right: bool) -> None:
    assert is_time(value) is right
