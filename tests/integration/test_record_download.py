"""The statistics handed out: tables to download, and a command for the cards."""

import csv
from datetime import datetime
import io
from typing import Any
from zoneinfo import ZoneInfo

from homeassistant.auth.models import User
from homeassistant.core import HomeAssistant
from homeassistant.helpers import service
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser
from pytest_homeassistant_custom_component.typing import (
    ClientSessionGenerator,
    WebSocketGenerator,
)

from custom_components.gatewright.core.statistics.runs import DAY_COLUMNS, RUN_COLUMNS

from .test_record import saw_for
from .workshop import Workshop, change_part, system_entry

RUNS = "/api/gatewright/system/runs.csv"
DAYS = "/api/gatewright/system/days.csv"

MORNING = datetime(2026, 3, 4, 9, tzinfo=ZoneInfo("Europe/Berlin"))


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Return a system in which the saw ran twice, in a Home Assistant with a web server."""
    assert await async_setup_component(hass, "http", {})
    assert await async_setup_component(hass, "websocket_api", {})
    await hass.config.async_set_time_zone("Europe/Berlin")
    workshop.freezer.move_to(MORNING)
    entry = system_entry()
    await workshop.start(entry)
    await saw_for(workshop, 60)
    change_part(hass, entry, "saw", title='=HYPERLINK("saw")')
    await workshop.settle()
    await saw_for(workshop, 30)
    return entry


async def rows(client: Any, address: str) -> list[dict[str, str]]:
    """Download a table."""
    answer = await client.get(address)
    assert answer.status == 200
    assert answer.content_type == "text/csv"
    assert answer.charset == "utf-8"
    assert "attachment" in answer.headers["Content-Disposition"]
    return list(csv.DictReader(io.StringIO(await answer.text(), newline="")))


async def test_every_run_is_a_row(
    entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:
    first, second = await rows(await hass_client(), RUNS)
    assert tuple(first) == RUN_COLUMNS
    assert first["machine"] == "Table saw"
    began = datetime.fromisoformat(first["began"])
    assert began.utcoffset() == MORNING.utcoffset()
    assert 0 < (began - MORNING).total_seconds() < 20
    assert float(first["run_time_s"]) == pytest.approx(63, abs=1)
    assert float(first["air_time_s"]) == pytest.approx(63, abs=1)
    # A name is text, whatever it looks like.
    assert second["machine"] == '\'=HYPERLINK("saw")'


async def test_every_day_is_a_row(
    entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:
    (day,) = await rows(await hass_client(), DAYS)
    assert tuple(day) == DAY_COLUMNS
    assert day["day"] == "2026-03-04"
    assert day["machine"] == '\'=HYPERLINK("saw")'
    assert (day["runs"], day["cuts"]) == ("2", "2")
    assert float(day["run_time_s"]) == pytest.approx(96, abs=2)


async def test_tables_need_somebody_who_may_see_the_system(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_client: ClientSessionGenerator,
    hass_client_no_auth: ClientSessionGenerator,
    hass_admin_user: MockUser,
) -> None:
    stranger, client = await hass_client_no_auth(), await hass_client()
    for address in (RUNS, DAYS):
        assert (await stranger.get(address)).status == 401
        nothing = address.replace("system", "nothing")
        assert (await client.get(nothing)).status == 404
    hass_admin_user.groups = []
    for address in (RUNS, DAYS):
        assert (await client.get(address)).status == 404


async def test_tables_of_a_system_that_is_not_loaded(
    hass: HomeAssistant, entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:
    await hass.config_entries.async_unload(entry.entry_id)
    assert (await (await hass_client()).get(RUNS)).status == 404


async def test_the_card_gets_the_summary_and_signed_addresses(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_ws_client: WebSocketGenerator,
    hass_client_no_auth: ClientSessionGenerator,
) -> None:
    client = await hass_ws_client()
    await client.send_json_auto_id(
        {"type": "gatewright/record", "entry_id": "system", "period": "day"}
    )
    answer = await client.receive_json()
    assert answer["success"]
    found = answer["result"]
    assert found["shop"]["runs"] == 2
    assert found["collector"]["starts"] == 2
    stranger = await hass_client_no_auth()
    assert len(await rows(stranger, found["downloads"]["runs"])) == 2
    assert len(await rows(stranger, found["downloads"]["days"])) == 1
    await client.send_json_auto_id(
        {
            "type": "gatewright/record",
            "entry_id": "system",
            "period": "custom",
            "first_day": "2026-03-04",
            "last_day": "2026-03-04",
        }
    )
    assert (await client.receive_json())["result"]["shop"] == found["shop"]


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ({"entry_id": "nothing"}, "not_found"),
        ({"entry_id": "system", "period": "custom"}, "invalid_format"),
        ({"entry_id": "system", "period": "year"}, "invalid_format"),
    ],
)
async def test_the_card_asks_for_what_is_not_there(
    entry: MockConfigEntry,
    hass_ws_client: WebSocketGenerator,
    asked: dict[str, str],
    code: str,
) -> None:
    client = await hass_ws_client()
    await client.send_json_auto_id({"type": "gatewright/record", **asked})
    answer = await client.receive_json()
    assert not answer["success"]
    assert answer["error"]["code"] == code


async def test_a_user_who_may_not_see_the_system_learns_nothing(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_ws_client: WebSocketGenerator,
    hass_admin_user: User,
) -> None:
    client = await hass_ws_client()
    hass_admin_user.groups = []
    await client.send_json_auto_id({"type": "gatewright/record", "entry_id": "system"})
    answer = await client.receive_json()
    assert answer["error"]["code"] == "not_found"


async def test_without_a_web_server_there_is_nothing_to_download(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    found = await hass.services.async_call(
        "gatewright",
        "get_summary",
        {"config_entry_id": "system"},
        blocking=True,
        return_response=True,
    )
    assert found is not None
    assert found["downloads"] == {}


async def test_the_action_is_described(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    described = (await service.async_get_all_descriptions(hass))["gatewright"]
    fields = described["get_summary"]["fields"].keys()
    assert fields == {"config_entry_id", "period", "date", "first_day", "last_day"}
