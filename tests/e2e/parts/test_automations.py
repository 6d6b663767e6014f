"""Automations with every trigger run, and so do those of the blueprints that act."""

from collections import Counter
from typing import Any

from custom_components.gatewright.trigger import TRIGGERS

from .devices import CLEAN, LOADED
from .shop import PartsShop

FIRED = "workshop_fired"


async def test_every_trigger_fires(shop: PartsShop) -> None:
    devices, states = shop.devices, shop.client.states
    fired: Counter[str] = Counter()
    await shop.client.socket.subscribe(
        "subscribe_events",
        lambda event: fired.update([event["data"]["trigger"]]),
        event_type=FIRED,
    )
    # A real process can't bring about the end of a day.
    wanted = set(TRIGGERS) - {"summary_ready"}
    planer = await shop.device_of("binary_sensor.planer_collecting")
    for name in wanted:
        target = planer if name.startswith("machine_") else shop.device_id
        await shop.automate(
            f"on_{name}",
            {
                "mode": "parallel",
                "triggers": [
                    {"trigger": f"gatewright.{name}", "target": {"device_id": target}}
                ],
                "actions": [{"event": FIRED, "event_data": {"trigger": name}}],
            },
        )

    devices.run("planer")
    await states.until_state("binary_sensor.planer_collecting", "on")
    # A gate is closed by hand while its machine runs: dust collection is lost, and an alarm says so.
    devices.move_gate("planer_gate", "closed")
    await states.until_state("binary_sensor.planer_collecting", "off")
    devices.rest("planer")
    await states.until_state(shop.own("problem"), "off")
    await shop.until_resting()
    devices.fill_bin()
    devices.load_filter(LOADED)
    await states.until(lambda: fired["bin_due"] > 0 and fired["filter_due"] > 0)
    devices.fill_bin(full=False)
    devices.load_filter(CLEAN)
    await states.until_state(shop.own("problem"), "off")
    await shop.until(lambda: set(fired) == wanted, "an event of every trigger")
    assert fired["machine_started"] == fired["machine_collection_lost"] == 1
    assert fired["machine_finished"] == 1


async def test_the_wall_button_and_the_air_cleaner(shop: PartsShop) -> None:
    devices = shop.devices
    await shop.use_blueprint(
        "wall_button", button=["event.wall_button"], air="switch.floor_sweep"
    )
    await shop.use_blueprint(
        "air_cleaner",
        phase=shop.own("phase"),
        cleaner=["switch.air_cleaner"],
        minutes=0,
    )
    await shop.use_blueprint("announcement", system=shop.device_id, say_start=True)
    devices.press("press_end")
    await shop.until(lambda: devices.collector_on, "air at the floor sweep")
    assert devices.sweep_gate_on
    await shop.until(lambda: devices.cleaner_on, "the start of the air cleaner")
    devices.press("long_press_start")
    await shop.until_resting()
    await shop.until(lambda: not devices.cleaner_on, "the end of the air cleaner")
    triggered: Any = shop.client.states.attribute(
        "automation.announcement", "last_triggered"
    )
    assert triggered is not None
