"""A system at rest, a phone, and the blueprints where Home Assistant looks for them."""

from collections.abc import Iterator
from datetime import UTC, datetime

from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
)
from pytest_homeassistant_custom_component.test_util.aiohttp import AiohttpClientMocker

from ..workshop import Workshop, system_entry
from .helpers import (
    AIR_SUPPLY,
    BIN,
    DAY,
    FakePhone,
    blueprints_here,
)


@pytest.fixture(autouse=True)
def _blueprints() -> Iterator[None]:
    with blueprints_here():
        yield


@pytest.fixture
async def system(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Return a system at rest at noon, with a bin sensor and a compressed air sensor."""
    workshop.put(BIN, "off")
    workshop.put(AIR_SUPPLY, "off")
    assert await async_setup_component(hass, "homeassistant", {})
    await hass.config.async_set_time_zone("UTC")
    now = datetime.now(UTC)
    tomorrow = now.replace(hour=12, minute=0, second=0, microsecond=0) + DAY
    workshop.freezer.tick(tomorrow - now)
    entry = system_entry(bin_full=BIN, bin_answer="warn", air_supply=AIR_SUPPLY)
    await workshop.start(entry)
    # A waiting automation never finishes: don't wait for it.
    workshop.hangs.add("automation")
    return entry


@pytest.fixture
async def phone(
    hass: HomeAssistant, aioclient_mock: AiohttpClientMocker, workshop: Workshop
) -> FakePhone:
    phone = FakePhone(hass, aioclient_mock)
    await phone.register()
    return phone
