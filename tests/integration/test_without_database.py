"""Home Assistant starts while its recorder's database server is offline."""

import asyncio
from unittest.mock import AsyncMock

from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_set_domains_to_be_loaded, async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockModule, mock_integration

from custom_components.gatewright.const import DOMAIN

from .workshop import Workshop, system_entry


@pytest.mark.parametrize("order", [(DOMAIN, "logbook"), ("logbook", DOMAIN)])
async def test_home_assistant_without_its_database_collects_all_the_same(
    hass: HomeAssistant, workshop: Workshop, order: tuple[str, str]
) -> None:
    """It gives up on the recorder after a while, and on everything that needs history."""
    needs = {"recorder", "logbook"}
    for domain in needs:
        fails = AsyncMock(return_value=False)
        mock_integration(hass, MockModule(domain, async_setup=fails))
    entry = system_entry()
    entry.add_to_hass(hass)
    async_set_domains_to_be_loaded(hass, {*needs, DOMAIN})
    # As at a start: the recorder before everything else, the rest together.
    assert not await async_setup_component(hass, "recorder", {})
    done = await asyncio.gather(
        *(async_setup_component(hass, domain, {}) for domain in order)
    )
    await hass.async_block_till_done()
    assert dict(zip(order, done, strict=True)) == {"logbook": False, DOMAIN: True}
    assert entry.state is ConfigEntryState.LOADED
    await workshop.pass_time(11, 1)
    workshop.calls.clear()
    await workshop.saw_runs()
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    assert workshop.saw_gate.is_closed is False
