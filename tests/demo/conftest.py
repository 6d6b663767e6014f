"""Lets Home Assistant find the demo's component beside the project's own."""

from collections.abc import AsyncGenerator, Awaitable, Callable
from pathlib import Path
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import async_fire_time_changed

import custom_components

_DEMO = str(Path(__file__).parents[2] / "demo" / "custom_components")

type SetUp = Callable[..., Awaitable[None]]
type Pass = Callable[[float], Awaitable[None]]


@pytest.fixture
def _findable(monkeypatch: pytest.MonkeyPatch) -> None:
    """Add the demo's components to those that Home Assistant looks through."""
    paths = [*custom_components.__path__, _DEMO]
    monkeypatch.setattr(custom_components, "__path__", paths)


@pytest.fixture
async def set_up(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    tmp_path: Path,
    _findable: None,
) -> AsyncGenerator[SetUp]:
    """Return how to set the workshop up, with changes to the standard one."""
    # The meters' beat hangs on the clock: every run finds the same.
    freezer.move_to("2035-03-01T10:00:00.123+00:00")
    hass.config.config_dir = str(tmp_path)

    async def set_up_workshop(**changes: Any) -> None:
        config = {"virtual_workshop": changes or None}
        assert await async_setup_component(hass, "virtual_workshop", config)
        await hass.async_block_till_done()

    yield set_up_workshop
    for entry in hass.config_entries.async_loaded_entries("virtual_workshop"):
        await hass.config_entries.async_unload(entry.entry_id)


@pytest.fixture
def pass_time(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> Pass:
    """Return how to let time pass, in steps as fine as timers need them."""

    async def pass_seconds(seconds: float) -> None:
        left = seconds
        while left > 1e-9:
            step = min(0.1, left)
            freezer.tick(step)
            async_fire_time_changed(hass)
            await hass.async_block_till_done()
            left -= step

    return pass_seconds
