"""Readings and commands cross a network protocol, and the broker may fail in the middle of a run."""

import asyncio

from .devices import Devices
from .shop import PartsShop

AIR = "binary_sensor.planer_collecting"
SAW_AIR = "binary_sensor.table_saw_collecting"
PLANER_POWER = "sensor.planer_plug_power"

OUTAGE = 3.0
"""How long the broker is gone [s]; Home Assistant retries every ten seconds."""


def order(devices: Devices, since: int) -> list[tuple[str, str]]:
    """Return the events since a place in the record, in order."""
    return [(happening.device, happening.what) for happening in devices.record[since:]]


async def test_a_run_over_mqtt(shop: PartsShop) -> None:
    devices, states = shop.devices, shop.client.states
    mark = devices.mark()
    devices.run("planer")
    await states.until_state(AIR, "on")
    assert devices.collector_on
    assert devices.gates == {"planer_gate": "open", "table_saw_gate": "closed"}
    assert devices.happened("planer_gate", mark) == ["told OPEN", "open"]
    assert devices.happened("collector", mark) == ["told ON", "on"]
    happened = order(devices, mark)
    assert happened.index(("planer_gate", "open")) < happened.index(("collector", "on"))
    assert states.state("cover.planer_gate") == "open"

    devices.rest("planer")
    await shop.until_resting()
    await shop.until(lambda: devices.gates["planer_gate"] == "closed", "a shut gate")
    happened = order(devices, mark)
    off = happened.index(("collector", "off"))
    assert off < happened.index(("planer_gate", "told CLOSE"))
    assert devices.happened("collector", mark) == ["told ON", "on", "told OFF", "off"]


async def test_the_broker_goes_and_comes_back_in_a_run(shop: PartsShop) -> None:
    devices, states = shop.devices, shop.client.states
    mark, seen = devices.mark(), len(states.changes)
    devices.run("planer")
    devices.run("table_saw")
    await states.until_state(AIR, "on")
    await states.until_state(SAW_AIR, "on")

    shop.broker.kill()
    await states.until_state(PLANER_POWER, "unavailable")
    # Work continues while nothing is reported; one machine is turned off meanwhile.
    devices.rest("table_saw")
    await asyncio.sleep(OUTAGE)
    assert devices.collector_on
    await shop.broker.start()
    await states.until(
        lambda: (states.number(PLANER_POWER) or 0) > 1000, 30, what="the plug's return"
    )

    # The stopped machine is noticed, and its gate closes; the other one was served all the time.
    await states.until_state(SAW_AIR, "off")
    await shop.until(lambda: devices.gates["table_saw_gate"] == "closed", "a shut gate")
    assert devices.gates["planer_gate"] == "open"
    assert devices.happened("collector", mark) == ["told ON", "on"]
    assert devices.happened("planer_gate", mark) == ["told OPEN", "open"]
    assert states.state(AIR) == "on"
    assert states.state("binary_sensor.planer_running") == "on"
    assert states.state(shop.own("problem")) == "off"
    said = [c.new for c in states.changes[seen:] if c.entity_id == AIR]
    assert "off" not in said

    devices.rest("planer")
    await shop.until_resting()
    await shop.until(lambda: devices.gates["planer_gate"] == "closed", "a shut gate")
    assert devices.happened("collector", mark) == ["told ON", "on", "told OFF", "off"]
    alarms = [
        c.new for c in states.changes[seen:] if c.entity_id == shop.own("problem")
    ]
    assert "on" not in alarms
