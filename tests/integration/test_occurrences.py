"""Old buttons don't affect the present: each belongs to one occurrence, and acts once."""

from typing import Any

from homeassistant.core import Event, HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.runtime.events import EVENT_ALARM

from .workshop import SAW_POWER, Workshop, system_entry

SMOKE = "binary_sensor.smoke"
PROBLEM = "binary_sensor.dust_collector_problem"
EMPTIED = "button.dust_collector_bin_emptied"
EMPTIED_AT = "sensor.dust_collector_bin_last_emptied"
FIX = "/api/repairs/issues/fix"


class Repair:
    """A dialog that a person has opened."""

    def __init__(self, client: Any, flow_id: str) -> None:
        """Show what was opened."""
        self.client = client
        self.flow_id = flow_id

    @classmethod
    async def open(cls, hass: HomeAssistant, client: Any, key: str) -> Repair:
        """Open the repair whose texts have this key."""
        (issue_id,) = [
            issue_id
            for (domain, issue_id), issue in ir.async_get(hass).issues.items()
            if domain == DOMAIN and issue.translation_key == key and issue.active
        ]
        answer = await client.post(FIX, json={"handler": DOMAIN, "issue_id": issue_id})
        return cls(client, (await answer.json())["flow_id"])

    async def submit(self) -> Any:
        """Submit it; return how it ended."""
        answer = await self.client.post(f"{FIX}/{self.flow_id}", json={})
        return await answer.json()


@pytest.fixture
async def sign_in(
    hass: HomeAssistant, hass_client: ClientSessionGenerator
) -> ClientSessionGenerator:
    """Return how to sign in once a system exists, in a Home Assistant with repairs."""
    for component in ("http", "repairs"):
        assert await async_setup_component(hass, component, {})
    return hass_client


async def fire(workshop: Workshop) -> None:
    """Let the detector raise the alarm and go quiet."""
    workshop.put(SMOKE, "on")
    await workshop.pass_time(15, 1)
    workshop.put(SMOKE, "off")
    await workshop.pass_time(2, 1)


async def test_a_repair_left_open_for_one_fire_does_not_reset_the_next(
    hass: HomeAssistant, workshop: Workshop, sign_in: ClientSessionGenerator
) -> None:
    workshop.put(SMOKE, "off")
    entry = system_entry(emergency=[SMOKE])
    await workshop.start(entry)
    client = await sign_in()
    sequence = entry.runtime_data.sequence
    await fire(workshop)
    left_open = await Repair.open(hass, client, "alarm_fire_shutdown")
    at_hand = await Repair.open(hass, client, "alarm_fire_shutdown")
    assert (await at_hand.submit())["type"] == "create_entry"
    await workshop.pass_time(2)
    assert not sequence.fire_shutdown
    # Fires in close succession are reported as one; that changes nothing.
    for _ in range(3):
        await fire(workshop)
        assert sequence.fire_shutdown
        ended = await left_open.submit()
        if ended.get("type") == "abort":
            assert ended["reason"] == "over"
        assert sequence.fire_shutdown
        fresh = await Repair.open(hass, client, "alarm_fire_shutdown")
        left_open = await Repair.open(hass, client, "alarm_fire_shutdown")
        assert (await fresh.submit())["type"] == "create_entry"
        await workshop.pass_time(2)
        assert not sequence.fire_shutdown


async def test_resetting_by_an_action_names_the_fire(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put(SMOKE, "off")
    heard: list[Event] = []
    hass.bus.async_listen(EVENT_ALARM, heard.append)
    entry = system_entry(emergency=[SMOKE])
    await workshop.start(entry)
    sequence = entry.runtime_data.sequence
    await fire(workshop)
    first = heard[-1].data["occurrence"]
    assert workshop.attribute(PROBLEM, "occurrences") == [first]
    assert workshop.attribute("event.dust_collector_alarm", "occurrence") == first
    await reset(hass, first)
    assert not sequence.fire_shutdown
    await workshop.pass_time(5)
    await fire(workshop)
    with pytest.raises(ServiceValidationError) as err:
        await reset(hass, first)
    assert err.value.translation_key == "occurrence_over"
    assert sequence.fire_shutdown


async def reset(hass: HomeAssistant, occurrence: str) -> None:
    """Reset a named fire alarm shutdown."""
    await hass.services.async_call(
        DOMAIN,
        "reset_fire_shutdown",
        {"entity_id": "switch.dust_collector", "occurrence": occurrence},
        blocking=True,
    )


async def test_an_occurrence_outlasts_a_restart(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    workshop.put(SMOKE, "off")
    entry = system_entry(emergency=[SMOKE])
    await workshop.start(entry)
    await fire(workshop)
    (before,) = workshop.attribute(PROBLEM, "occurrences")
    assert await hass.config_entries.async_unload("system")
    hass.data["gatewright_handovers"].clear()
    assert await hass.config_entries.async_setup("system")
    await workshop.pass_time(2)
    assert workshop.attribute(PROBLEM, "occurrences") == [before]
    await reset(hass, before)
    assert not entry.runtime_data.sequence.fire_shutdown


async def test_emptied_on_two_phones_is_one_emptying(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry(bin_volume=0.03)
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(1800, 60)
    workshop.watts(SAW_POWER, 2)
    await workshop.pass_time(30, 1)
    await workshop.call("press", EMPTIED)
    at = workshop.state(EMPTIED_AT)
    await workshop.pass_time(90, 5)
    await workshop.call("press", EMPTIED)
    assert workshop.state(EMPTIED_AT) == at
    assert len(entry.runtime_data.maintenance.keeper.bin.emptyings) == 1
    # After more work it's another one.
    await workshop.saw_runs()
    await workshop.pass_time(600, 60)
    workshop.watts(SAW_POWER, 2)
    await workshop.pass_time(30, 1)
    await workshop.call("press", EMPTIED)
    assert len(entry.runtime_data.maintenance.keeper.bin.emptyings) == 2


async def test_a_question_that_was_answered_is_not_answered_again(
    hass: HomeAssistant, workshop: Workshop, sign_in: ClientSessionGenerator
) -> None:
    """On two phones, "another week" waits one week; going live isn't undone."""
    entry = system_entry(watch_since="2026-11-10T00:00:00+00:00")
    await workshop.load(entry)
    client = await sign_in()
    one = await Repair.open(hass, client, "watched_week")
    other = await Repair.open(hass, client, "watched_week")
    url = f"{FIX}/{one.flow_id}"
    await client.post(url, json={"next_step_id": "watch_on"})
    answer = await client.post(
        f"{FIX}/{other.flow_id}", json={"next_step_id": "go_live"}
    )
    ended = await answer.json()
    assert ended.get("reason", "over") == "over"
    await workshop.settle()
    assert "watch_since" in entry.data
