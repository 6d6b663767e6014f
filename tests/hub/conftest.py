"""Fixtures for tests of the Home Assistant side."""

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
import pytest

from .workshop import Workshop


@pytest.fixture
async def workshop(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> Workshop:
    """Return a small workshop with everything idle and shut."""
    workshop = Workshop(hass, freezer)
    await workshop.open()
    return workshop
