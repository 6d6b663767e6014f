"""The simulated day as the day card gets it."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from homeassistant.auth.models import User
from homeassistant.auth.permissions import PolicyPermissions
from homeassistant.auth.permissions.models import PermissionLookup
from homeassistant.core import HomeAssistant
from homeassistant.helpers import device_registry as dr, entity_registry as er
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from .workshop import SAW_POWER, Workshop, system_entry


@pytest.fixture
async def entry(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> MockConfigEntry:
    """Return a system in which the saw ran once, all of it recorded."""
    entry = system_entry()
    await workshop.start(entry)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(20)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40, 1)
    await async_wait_recording_done(hass)
    return entry


@pytest.fixture
def allow(
    hass: HomeAssistant, hass_read_only_user: User
) -> Callable[[list[str]], None]:
    """Let the read-only user read these entities and no others."""

    def only(entity_ids: list[str]) -> None:
        policy = {
            "entities": {"entity_ids": {key: {"read": True} for key in entity_ids}}
        }
        lookup = PermissionLookup(er.async_get(hass), dr.async_get(hass))
        # Rights are computed once for each user and cached.
        hass_read_only_user.__dict__["permissions"] = PolicyPermissions(policy, lookup)

    return only


async def ask(client: Any, **asked: Any) -> Any:
    """Ask for the last hour, or for something else."""
    await client.send_json_auto_id(
        {
            "type": "gatewright/rehearse",
            "entry_id": "system",
            "start": (dt_util.utcnow() - timedelta(hours=1)).isoformat(),
            **asked,
        }
    )
    return await client.receive_json()


async def test_a_day_as_it_would_have_been(
    hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator
) -> None:
    now = dt_util.utcnow().timestamp()
    answer = await ask(await hass_ws_client(hass))
    assert answer["success"]
    day = answer["result"]
    assert set(day["machines"]) == {"saw", "planer", "sweep"}
    ((begins, ends),) = day["machines"]["saw"]["ran"]
    assert ends - begins == pytest.approx(23, abs=1)
    assert begins == pytest.approx(now - 59, abs=1.5)
    ((gets, loses),) = day["machines"]["saw"]["aired"]
    assert begins < gets < loses == ends
    assert day["machines"]["planer"] == {"ran": [], "aired": []}
    ((started, stopped),) = day["collector"]
    assert begins < started < ends < stopped < day["ends"] <= now + 1


async def test_a_user_sees_what_the_rights_allow(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    allow: Callable[[list[str]], None],
    hass_ws_client: WebSocketGenerator,
    hass_read_only_access_token: str,
) -> None:
    client = await hass_ws_client(hass, hass_read_only_access_token)
    allow(["switch.table_saw_dust_collection"])
    assert (await ask(client))["error"]["code"] == "not_found"
    allow(["switch.dust_collector", "switch.table_saw_dust_collection"])
    answer = await ask(client)
    assert set(answer["result"]["machines"]) == {"saw"}


async def test_what_cannot_be_simulated(
    hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator
) -> None:
    client = await hass_ws_client(hass)
    assert (await ask(client, entry_id="nobody"))["error"]["code"] == "not_found"
    tomorrow = (dt_util.utcnow() + timedelta(days=1)).isoformat()
    error = (await ask(client, start=tomorrow))["error"]
    assert (error["code"], error["message"]) == ("cannot_rehearse", "simulate_empty")
    assert (await ask(client, start="never"))["error"]["code"] == "invalid_format"
    # A card may ask for two days and no more.
    long = (dt_util.utcnow() - timedelta(days=20)).isoformat()
    assert (await ask(client, start=long))["success"]
    await hass.config_entries.async_unload(entry.entry_id)
    assert (await ask(client))["error"]["code"] == "not_found"


async def test_times_of_a_card_are_local_unless_they_say_otherwise(
    hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator
) -> None:
    await hass.config.async_set_time_zone("Europe/Berlin")
    client = await hass_ws_client(hass)
    here = dt_util.now().replace(tzinfo=None)
    answer = await ask(
        client, start=(here - timedelta(hours=1)).isoformat(), end=here.isoformat()
    )
    assert len(answer["result"]["machines"]["saw"]["ran"]) == 1
    for start in ("0001-01-01T00:00:00", "9999-12-31T23:59:59"):
        error = (await ask(client, start=start))["error"]
        assert error["code"] == "invalid_format"
        assert "year must be" in error["message"]
