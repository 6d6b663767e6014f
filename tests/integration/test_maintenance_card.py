"""The data of bin, filter and services for the cards."""

from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from .workshop import SAW_POWER, Workshop, system_entry


async def test_the_map_is_given_the_shares_and_the_names(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    entry = system_entry(
        bin_volume=0.005,
        filter_hours=1 / 3,
        services=[{"id": "belt", "name": "Belt", "hours": 0.1}],
    )
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(600, 30)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30, 1)
    client = await hass_ws_client(hass)
    await client.send_json_auto_id(
        {"type": "gatewright/subscribe", "entry_id": entry.entry_id}
    )
    assert (await client.receive_json())["success"]
    picture = (await client.receive_json())["event"]
    assert picture["upkeep"] == pytest.approx({"bin": 0.5, "filter": 0.5}, abs=0.03)
    (alarm,) = picture["alarms"]
    assert (alarm["kind"], alarm["name"]) == ("service_due", "Belt")
    assert alarm["entity"] == "sensor.dust_collector_belt_left"
    await workshop.call("press", "button.dust_collector_belt_done")
    await workshop.call("press", "button.dust_collector_bin_emptied")
    await client.send_json_auto_id({"type": "ping"})
    while (message := await client.receive_json())["type"] != "pong":
        picture |= message["event"]
    assert picture["upkeep"]["bin"] == 0.0
    assert picture["alarms"] == []


async def test_without_bin_and_filter_there_is_nothing_to_draw(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    client = await hass_ws_client(hass)
    await client.send_json_auto_id(
        {"type": "gatewright/subscribe", "entry_id": entry.entry_id}
    )
    assert (await client.receive_json())["success"]
    assert "upkeep" not in (await client.receive_json())["event"]
