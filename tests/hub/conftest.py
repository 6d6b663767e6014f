"""Fixtures for tests of the Home Assistant side."""

import math

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
import pytest

from .workshop import Workshop

MORNING = "2026-11-24T17:00:00+00:00"
"""A morning where the tests' hub is, far from midnight: what was done "today" is told."""


@pytest.fixture
async def workshop(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> Workshop:
    """Return a small workshop with everything idle and shut."""
    # Time is moved in the middle of steps: none of them is slow.
    hass.loop.slow_callback_duration = math.inf
    freezer.move_to(MORNING)
    workshop = Workshop(hass, freezer)
    await workshop.open()
    return workshop
