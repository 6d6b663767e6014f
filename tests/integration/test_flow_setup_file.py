"""The pages that export a set-up and import another one."""

import json
import re
from typing import Any

from aiohttp import FormData
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from .test_setup_file import exported
from .workshop import Workshop, system_entry

type Data = dict[str, Any]


class Pages:
    """A user of the pages, with a browser."""

    def __init__(self, hass: HomeAssistant, entry_id: str, client: Any) -> None:
        """Start at the menu."""
        self.flow = hass.config_entries.options
        self.entry_id = entry_id
        self.client = client
        self.shown: Any = {}

    async def open(self) -> None:
        """Open the page about the file."""
        self.shown = await self.flow.async_init(self.entry_id)
        assert "setup_file" in self.shown["menu_options"]
        await self.send(next_step_id="setup_file")

    async def send(self, **typed: Any) -> None:
        """Submit the page."""
        self.shown = await self.flow.async_configure(self.shown["flow_id"], typed)

    async def upload(self, content: str | bytes) -> None:
        """Choose a file, and submit the page."""
        form = FormData()
        form.add_field("file", content, filename="setup.json")
        answer = await self.client.post("/api/file_upload", data=form)
        await self.send(file=(await answer.json())["file_id"])


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Set the standard workshop up in a Home Assistant with uploads."""
    for component in ("http", "config", "file_upload"):
        assert await async_setup_component(hass, component, {})
    entry = system_entry()
    await workshop.start(entry)
    return entry


@pytest.fixture
async def pages(
    hass: HomeAssistant, entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> Pages:
    """Return the page about the file."""
    pages = Pages(hass, entry.entry_id, await hass_client())
    await pages.open()
    return pages


async def test_the_file_is_handed_out(
    hass: HomeAssistant,
    pages: Pages,
    hass_client_no_auth: ClientSessionGenerator,
) -> None:
    # Signed for the user of the page: an administrator.
    flow = "/api/config/config_entries/options/flow"
    begun = await pages.client.post(flow, json={"handler": "system"})
    flow_id = (await begun.json())["flow_id"]
    chosen = {"next_step_id": "setup_file"}
    shown = await pages.client.post(f"{flow}/{flow_id}", json=chosen)
    link = (await shown.json())["description_placeholders"]["download"]
    found = re.fullmatch(
        r'<a href="(/api/[^"]+)" target="_blank">Download the set-up</a>', link
    )
    assert found is not None, link
    address = found[1]
    answer = await (await hass_client_no_auth()).get(address)
    assert answer.status == 200
    assert await answer.json() == await exported(hass)
    # Without a file it's back to the menu.
    await pages.send()
    assert pages.shown["step_id"] == "init"


async def test_without_a_server_there_is_nothing_to_download(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    pages = Pages(hass, "system", None)
    await pages.open()
    link = pages.shown["description_placeholders"]["download"]
    assert link == "Download the set-up"


async def test_a_file_is_looked_at_and_then_imported(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, pages: Pages
) -> None:
    found = await exported(hass)
    found["name"] = "Cyclone"
    found["parts"] = [part for part in found["parts"] if part["id"] != "planer"]
    found["parts"][0]["settings"]["actuator"] = "cover.nowhere"
    await pages.upload(json.dumps(found))
    assert pages.shown["step_id"] == "setup_review"
    assert pages.shown["description_placeholders"]["changes"].splitlines() == [
        "- cover.nowhere isn't on this Home Assistant (Saw gate).",
        "- Rename Dust collector to Cyclone",
        "- Change 1 setting of Saw gate",
        "- Remove Planer",
    ]
    assert entry.title == "Dust collector"
    await pages.send()
    await workshop.settle()
    assert pages.shown["step_id"] == "init"
    assert entry.title == "Cyclone"
    assert "planer" not in entry.subentries


async def test_the_own_file_changes_nothing(hass: HomeAssistant, pages: Pages) -> None:
    await pages.upload(json.dumps(await exported(hass)))
    shown = pages.shown["description_placeholders"]["changes"]
    assert shown == "- Nothing changes."


async def test_what_cannot_be_read_is_reported_where_it_was_chosen(
    hass: HomeAssistant, pages: Pages
) -> None:
    await pages.upload("{")
    assert pages.shown["errors"] == {"file": "no_setup"}
    reported = pages.shown["description_placeholders"]["no_setup"]
    assert reported.startswith("This isn't a JSON file.")
    await pages.upload(b"\xff\xfe\xff")
    assert pages.shown["errors"] == {"file": "no_file"}
    await pages.send(file="00000000000000000000000000000000")
    assert pages.shown["errors"] == {"file": "no_file"}


async def test_nothing_is_imported_with_a_fault(
    hass: HomeAssistant, entry: MockConfigEntry, pages: Pages
) -> None:
    found = await exported(hass)
    found["name"] = "Cyclone"
    found["parts"][3]["settings"]["gates"] = ["nowhere"]
    await pages.upload(json.dumps(found))
    for _ in range(2):
        assert pages.shown["step_id"] == "setup_review"
        assert pages.shown["errors"] == {"base": "setup_faults"}
        changes = pages.shown["description_placeholders"]["changes"]
        assert "Table saw refers to nowhere, which isn't in the file." in changes
        await pages.send()
    assert entry.title == "Dust collector"


async def test_a_long_list_is_cut(hass: HomeAssistant, pages: Pages) -> None:
    found = await exported(hass)
    for number in range(60):
        part = {**found["parts"][0], "id": f"g{number}", "name": f"Gate {number}"}
        found["parts"].append(part)
    await pages.upload(json.dumps(found))
    lines = pages.shown["description_placeholders"]["changes"].splitlines()
    assert len(lines) == 41
    assert lines[-1] == "- And 20 more"


async def test_a_system_that_does_not_run_has_no_file(
    hass: HomeAssistant, entry: MockConfigEntry, pages: Pages
) -> None:
    await pages.upload(json.dumps(await exported(hass)))
    await hass.config_entries.async_unload(entry.entry_id)
    await pages.send()
    assert pages.shown["reason"] == "not_loaded"
    again = Pages(hass, entry.entry_id, pages.client)
    await again.open()
    assert again.shown["reason"] == "not_loaded"
