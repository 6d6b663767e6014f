"""The bin alert on a phone, from the sensor over the broker to the tap on a button."""

import asyncio
from contextlib import suppress
from datetime import UTC, datetime, timedelta

from demo.forms import SAVED, Form
from demo.hub_client import Json

from .devices import CLEAN, LOADED
from .shop import PartsShop

EMPTIED_AT = "sensor.dust_collector_bin_last_emptied"
FULL = "The bin of Dust collector is full"
OVER = "clear_notification"

SOON = {"seconds": 2}


async def test_the_bin_alert(shop: PartsShop) -> None:
    phone = shop.phone
    await shop.use_blueprint(
        "bin_alert", system=shop.device_id, phone=shop.phone_id, remind_after=SOON
    )
    shop.devices.fill_bin()
    push = await shop.until_pushed(FULL, 0)
    assert push["message"].startswith("Pull the plug of the collector")
    assert push["push_token"] == "t"
    assert [action["title"] for action in push["data"]["actions"]] == [
        "Emptied",
        "Remind me in an hour",
    ]

    count = len(phone.pushes)
    await phone.tap(push, "Remind me in an hour")
    await shop.until_pushed(FULL, count)
    # A reminder would be lost with Home Assistant: it comes at once, and the old buttons work.
    count = len(phone.pushes)
    await shop.restart()
    await shop.until_pushed(FULL, count)
    states = shop.client.states
    assert states.state(EMPTIED_AT) == "unknown"

    count = len(phone.pushes)
    await phone.tap(push, "Emptied")
    await states.until_state(EMPTIED_AT, lambda state: state not in {None, "unknown"})
    shop.devices.fill_bin(full=False)
    await states.until_state(shop.own("problem"), "off")
    await shop.until(lambda: len(phone.pushes) > count, "the end of the alert")
    for gone in phone.pushes[count:]:
        assert gone["message"] == OVER
        assert gone["data"]["tag"] == push["data"]["tag"]


async def test_an_alarm_and_the_day_on_the_phone(shop: PartsShop) -> None:
    count = len(shop.phone.pushes)
    await shop.use_blueprint(
        "alarm_alert",
        system=shop.device_id,
        phone=shop.phone_id,
        left_out=["bin_full"],
    )
    shop.devices.load_filter(LOADED)
    push = await shop.until_pushed("The filter of Dust collector is dirty", count)
    assert push["message"].startswith("Its pressure is above the limit")
    assert "What to do: " in push["message"]
    shop.devices.load_filter(CLEAN)
    over = await shop.until_pushed(f"Over: {push['title']}", count)
    assert over["data"]["tag"] == push["data"]["tag"]

    reported = await the_day(shop, count)
    assert reported["message"].startswith("Dust collector, ")


async def test_the_integrations_own_message_over_a_restart(shop: PartsShop) -> None:
    phone = shop.phone
    form = await Form.settings(shop.client, shop.entry_id, "phones")
    await form.fill(phones=["notify.pocket"], phone_topics=["bin"])
    assert form.step == SAVED, form.result
    # The blueprint of another test may send messages of its own.
    tag = f"gatewright_{shop.entry_id}_bin_full_dust_collector"
    count = len(phone.pushes)

    def told() -> list[str]:
        since = phone.pushes[count:]
        return [push["message"] for push in since if push["data"]["tag"] == tag]

    shop.devices.fill_bin()
    await shop.until(lambda: bool(told()), "the message")
    # The memory is written once a second.
    await asyncio.sleep(2)
    count = len(phone.pushes)
    await shop.leave()
    shop.hub.kill()
    # Somebody empties the bin while nobody looks.
    shop.devices.fill_bin(full=False)
    await shop.hub.start()
    await shop.enter()
    await shop.until(lambda: bool(told()), "the end of it", 150)
    assert told() == [OVER]
    form = await Form.settings(shop.client, shop.entry_id, "phones")
    await form.fill(phones=[])


async def the_day(shop: PartsShop, count: int) -> Json:
    """Let the evening come in a moment; return what is sent then."""
    for moment in (2, 5, 10):
        soon = datetime.now(UTC) + timedelta(seconds=moment)
        await shop.use_blueprint(
            "day_summary",
            system=shop.device_id,
            notifiers=["notify.pocket"],
            time=soon.strftime("%H:%M:%S"),
            work_only=False,
        )
        # On a busy machine the moment passes before the automation listens.
        with suppress(TimeoutError):
            return await shop.until_pushed("The workshop today", count, moment + 5)
    raise AssertionError("The evening did not come")
