"""Tools for language models, through Home Assistant's own interface for them."""

from types import SimpleNamespace
from typing import Any

from homeassistant.components.homeassistant.exposed_entities import async_expose_entity
from homeassistant.core import Context, HomeAssistant
from homeassistant.helpers import llm
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockUser

from custom_components.gatewright.const import DOMAIN

from .workshop import COLLECTOR, SAW_POWER, Workshop, system_entry

SMOKE = "binary_sensor.smoke"


@pytest.fixture
async def shop(hass: HomeAssistant, workshop: Workshop) -> Workshop:
    """Return the standard workshop with tools for models."""
    for component in ("homeassistant", "intent", "llm"):
        assert await async_setup_component(hass, component, {})
    hass.states.async_set(SMOKE, "off")
    await workshop.start(system_entry(emergency=[SMOKE]))
    return workshop


async def tools(hass: HomeAssistant, context: Context | None = None) -> llm.APIInstance:
    """Return the tools that a model gets."""
    return await llm.async_get_api(
        hass,
        llm.LLM_API_ASSIST,
        llm.LLMContext(
            platform="test",
            context=context or Context(),
            language="en",
            assistant="conversation",
            device_id=None,
        ),
    )


async def use(
    hass: HomeAssistant, tool: str, context: Context | None = None, **args: Any
) -> Any:
    """Let a model use a tool of ours."""
    api = await tools(hass, context)
    return await answer(hass, api, llm.ToolInput(f"{DOMAIN}__{tool}", args))


async def answer(
    hass: HomeAssistant, api: llm.APIInstance, asked: llm.ToolInput
) -> Any:
    """Return a tool's answer."""
    found = await api.async_call_tool(asked)
    await hass.async_block_till_done()
    return in_full(found)


def in_full(found: Any) -> Any:
    """Return a tool's complete result; before 2026.10 it was the bare data."""
    if isinstance(found, dict):
        return SimpleNamespace(data=found, error="error" in found)
    return found


def said(tool: llm.Tool) -> Any:
    """Return a tool's annotations; before 2026.10 there were none."""
    found: Any = tool.annotations
    return SimpleNamespace(**found) if isinstance(found, dict) else found


def ours(api: llm.APIInstance) -> dict[str, llm.Tool]:
    """Return our tools by name."""
    return {tool.name: tool for tool in api.tools if tool.name.startswith(DOMAIN)}


async def test_only_these_tools_are_offered(
    hass: HomeAssistant, shop: Workshop
) -> None:
    """None allows blocked starts, resets a fire alarm shutdown or moves anything else."""
    api = await tools(hass)
    offered = ours(api)
    assert offered.keys() == {
        f"{DOMAIN}__{name}"
        for name in (
            "shop_state",
            "explain_alarms",
            "turn_on_collection",
            "turn_off_collection",
        )
    }
    for name, tool in offered.items():
        assert tool.title
        assert tool.description
        assert said(tool).open_world is False
        assert said(tool).read_only is name.endswith(("state", "alarms"))
    # Home Assistant's own tools for switches reach neither, as they aren't exposed.
    assert "lockout" not in api.api_prompt.replace("A lockout can only", "")


async def test_nothing_that_is_offered_undoes_a_start_block_or_a_fire_shutdown(
    hass: HomeAssistant, shop: Workshop
) -> None:
    await shop.call("turn_on", "switch.dust_collector_block_starts")
    hass.states.async_set(SMOKE, "on")
    await shop.pass_time(1)
    hass.states.async_set(SMOKE, "off")
    await shop.pass_time(1)
    sequence = hass.config_entries.async_entries(DOMAIN)[0].runtime_data.sequence
    assert sequence.fire_shutdown
    for tool in ("shop_state", "explain_alarms"):
        assert not (await use(hass, tool)).error
    for tool in ("turn_on_collection", "turn_off_collection"):
        for machine in ("Floor sweep", "Table saw"):
            found = await use(hass, tool, machine=machine)
            assert found.error is (tool == "turn_on_collection")
    assert sequence.start_block
    assert sequence.fire_shutdown
    assert shop.state(COLLECTOR) == "off"


async def test_a_model_sees_the_shop(hass: HomeAssistant, shop: Workshop) -> None:
    await shop.saw_runs()
    (system,) = (await use(hass, "shop_state")).data["systems"]
    assert system["name"] == "Dust collector"
    assert system["phase"] == "collecting"
    assert system["start_block"] is False
    machines = {machine["name"]: machine for machine in system["machines"]}
    assert machines["Table saw"]["running"] is True
    assert machines["Table saw"]["collecting"] is True
    assert machines["Planer"]["collecting"] is False
    assert system["alarms"] == []
    assert 0 < system["collector_seconds_today"] < 10


async def test_a_model_requests_dust_collection_and_withdraws_it(
    hass: HomeAssistant, shop: Workshop
) -> None:
    found = await use(hass, "turn_on_collection", machine="Floor sweep", minutes=2)
    assert not found.error
    assert found.data["requested"] is True
    await shop.pass_time(2)
    assert shop.state(COLLECTOR) == "on"
    found = await use(hass, "turn_off_collection", machine="Floor sweep")
    assert found.data["requested"] is False
    await shop.pass_time(5)
    assert shop.state(COLLECTOR) == "off"


async def test_the_limit_is_kept(hass: HomeAssistant, shop: Workshop) -> None:
    await use(hass, "turn_on_collection", machine="Table saw", minutes=1)
    await shop.pass_time(57, 3)
    assert shop.state(COLLECTOR) == "on"
    await shop.pass_time(10, 1)
    assert shop.state(COLLECTOR) == "off"


@pytest.mark.parametrize(
    "args",
    [
        {"machine": "Teapot"},
        {"machine": "Floor sweep", "minutes": 0},
        {"machine": "Floor sweep", "minutes": 500},
        {"machine": "Floor sweep", "lockout": False},
        {},
    ],
)
async def test_what_makes_no_sense_is_reported(
    hass: HomeAssistant, shop: Workshop, args: dict[str, Any]
) -> None:
    found = await use(hass, "turn_on_collection", **args)
    assert found.error
    assert str(found.data["error"]).startswith("Invalid arguments")
    await shop.pass_time(2)
    assert shop.sent() == []


async def test_a_refusal_has_its_reason(hass: HomeAssistant, shop: Workshop) -> None:
    await shop.call("turn_on", "switch.dust_collector_block_starts")
    found = await use(hass, "turn_on_collection", machine="Floor sweep")
    assert found.error
    assert "Starts of Dust collector are blocked" in str(found.data["error"])


async def test_an_alarm_is_explained(hass: HomeAssistant, shop: Workshop) -> None:
    assert (await use(hass, "explain_alarms")).data == {"alarms": []}
    shop.watts(SAW_POWER, "unavailable")
    await shop.pass_time(62, 2)
    (alarm,) = (await use(hass, "explain_alarms")).data["alarms"]
    assert alarm["part"] == "Table saw"
    assert alarm["title"] == "Table saw has lost its reading"
    happened, _, advice = alarm["explanation"].partition("\n\n**What to do:** ")
    assert happened.startswith("There has been no usable reading")
    assert "The machine counts as stopped" in happened
    assert advice.startswith("Check the plug")


async def test_who_may_not_does_not(hass: HomeAssistant, shop: Workshop) -> None:
    user = MockUser(name="Guest").add_to_hass(hass)
    user.mock_policy(
        {"entities": {"entity_ids": {"switch.planer_dust_collection": True}}}
    )
    context = Context(user_id=user.id)
    for tool in ("turn_on_collection", "turn_off_collection"):
        found = await use(hass, tool, context, machine="Floor sweep")
        assert found.error
        assert not (await use(hass, tool, context, machine="Planer")).error
    assert shop.state("switch.floor_sweep") == "off"


async def test_what_is_not_exposed_is_neither_seen_nor_moved(
    hass: HomeAssistant, shop: Workshop
) -> None:
    async_expose_entity(hass, "conversation", "switch.floor_sweep", False)
    (system,) = (await use(hass, "shop_state")).data["systems"]
    names = {machine["name"] for machine in system["machines"]}
    assert names == {"Table saw", "Planer"}
    assert (await use(hass, "turn_on_collection", machine="Floor sweep")).error
    async_expose_entity(hass, "conversation", "switch.dust_collector", False)
    assert ours(await tools(hass)) == {}


async def test_a_machine_that_is_gone_meanwhile_is_reported(
    hass: HomeAssistant, shop: Workshop
) -> None:
    api = await tools(hass)
    entry = hass.config_entries.async_entries(DOMAIN)[0]
    hass.config_entries.async_remove_subentry(entry, "sweep")
    await hass.async_block_till_done()
    asked = llm.ToolInput(f"{DOMAIN}__turn_on_collection", {"machine": "Floor sweep"})
    assert (await answer(hass, api, asked)).error
