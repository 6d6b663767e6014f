"""A system that is added from a set-up file, on the first page of the forms."""

import json
from typing import Any

from aiohttp import FormData
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.features.plan.drafts import DRAFTS

from .flow_helpers import Form
from .test_setup_file import exported
from .workshop import COLLECTOR, Workshop, system_entry

type Data = dict[str, Any]


class Newcomer:
    """Somebody at the first page, with a browser and a file."""

    def __init__(self, hass: HomeAssistant, client: Any) -> None:
        """Stand before the form."""
        self.form = Form(hass)
        self.client = client

    async def choose(self, content: str | bytes, **typed: Any) -> Form:
        """Upload a file on the first page, and submit it."""
        if not self.form.result:
            await self.form.start()
        form = FormData()
        form.add_field("file", content, filename="setup.json")
        answer = await self.client.post("/api/file_upload", data=form)
        file_id = (await answer.json())["file_id"]
        return await self.form.send(setup_file=file_id, **typed)


@pytest.fixture
async def file(hass: HomeAssistant, workshop: Workshop) -> Data:
    """Return the set-up of the standard workshop, which is gone again."""
    for component in ("http", "config", "file_upload"):
        assert await async_setup_component(hass, component, {})
    await workshop.start(system_entry())
    found = await exported(hass)
    await hass.config_entries.async_remove("system")
    await hass.async_block_till_done()
    return found


@pytest.fixture
async def newcomer(
    hass: HomeAssistant, file: Data, hass_client: ClientSessionGenerator
) -> Newcomer:
    """Return somebody at the first page."""
    return Newcomer(hass, await hass_client())


@pytest.mark.parametrize("watch", [True, False])
async def test_a_file_becomes_a_system(
    hass: HomeAssistant, workshop: Workshop, file: Data, newcomer: Newcomer, watch: bool
) -> None:
    form = await newcomer.choose(json.dumps(file))
    assert form.step == "setup_review"
    shown = form.result["description_placeholders"]
    assert shown["system"] == "Dust collector"
    assert shown["changes"].splitlines()[0] == "- Add Saw gate"
    assert form.values == {"watch_only": True}
    await form.send(watch_only=watch)
    await hass.async_block_till_done()
    entry = form.created
    assert entry.title == "Dust collector"
    assert ("watch_since" in entry.data) is watch
    assert form.result["description"] == ("monitor_only" if watch else None)
    # It's sent to the browser.
    assert json.dumps([form.result["data"], form.result["subentries"]])
    # What was exported is what is there: the very same file.
    again = await exported(hass, entry.entry_id)
    assert {**again, "written_by": ""} == {**file, "written_by": ""}
    await workshop.saw_runs()
    assert workshop.state(COLLECTOR) == ("off" if watch else "on")


async def test_its_plan_becomes_the_draft(
    hass: HomeAssistant, file: Data, newcomer: Newcomer
) -> None:
    file["plan"] = {
        "format": "gatewright-plan",
        "version": 1,
        "items": [{"id": "i", "type": "machine", "bound": "saw", "x": 3, "y": 3}],
        "ducts": [],
        "gates": [],
    }
    form = await newcomer.choose(json.dumps(file))
    await form.send()
    await hass.async_block_till_done()
    draft = hass.data[DRAFTS][form.created.entry_id]
    assert [item.bound for item in draft.plan.items] == ["saw"]


async def test_what_was_typed_stays_where_the_file_holds_no_set_up(
    hass: HomeAssistant, file: Data, newcomer: Newcomer
) -> None:
    form = await newcomer.choose("{", name="Cyclone", switch=COLLECTOR)
    assert form.step == "user"
    assert form.errors == {"more": "no_setup"}
    told = form.result["description_placeholders"]["no_setup"]
    assert told.startswith("This isn't a JSON file.")
    assert form.values["name"] == "Cyclone"
    assert "setup_file" not in form.values
    await newcomer.choose(b"\xff\xfe\xff")
    assert form.errors == {"more": "no_file"}
    # It can be gone on without the file.
    await form.send()
    assert form.step == "machines"


async def test_nothing_is_added_with_a_fault(
    hass: HomeAssistant, workshop: Workshop, file: Data, newcomer: Newcomer
) -> None:
    form = await newcomer.choose(json.dumps(file))
    assert form.errors == {}
    # Meanwhile somebody else has set the collector up.
    await workshop.load(system_entry(entry_id="other", title="Other"))
    await form.send()
    assert form.step == "setup_review"
    assert form.errors == {"base": "setup_faults"}
    assert "Other" in form.result["description_placeholders"]["changes"]
    assert [entry.entry_id for entry in hass.config_entries.async_entries(DOMAIN)] == [
        "other"
    ]


async def test_without_a_file_a_switch_has_to_be_chosen(
    hass: HomeAssistant, file: Data, newcomer: Newcomer
) -> None:
    form = await newcomer.form.start()
    await form.send(name="")
    assert form.errors == {"switch": "switch_missing", "name": "name_missing"}
    await form.send(name="Cyclone", switch=COLLECTOR)
    assert form.step == "machines"
