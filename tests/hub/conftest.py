"""Fixtures for tests of the Home Assistant side."""

import math

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
import pytest

from custom_components.gatewright.control_loop import ControlLoop
from custom_components.gatewright.publisher import Publisher, Touched
from custom_components.gatewright.shop.plan import COLLECTOR

from .spoken import open_shop
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


@pytest.fixture
def language() -> str:
    """Return the language of the hub, unless a test says another one."""
    return "en"


@pytest.fixture
async def spoken_shop(
    hass: HomeAssistant, workshop: Workshop, language: str
) -> Workshop:
    """Return a workshop in the hub's language, which is listened to."""
    await open_shop(hass, workshop, language, language)
    return workshop


@pytest.fixture(autouse=True)
def nothing_shown_is_out_of_date(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hold in every test that the parts not looked at look as they did."""
    show = ControlLoop._show

    def checked(loop: ControlLoop, touched: Touched, now: float) -> None:
        show(loop, touched, now)
        if not loop._again:
            assert not overlooked(loop._publisher, now), "changed, and nobody was told"

    monkeypatch.setattr(ControlLoop, "_show", checked)


def overlooked(publisher: Publisher, now: float) -> list[str]:
    """Return the parts that look different from what their entities were told."""
    sequence, alarms = publisher._shop.sequence, publisher._alarms()
    looks = {COLLECTOR: publisher._collector(alarms, now)}
    looks |= {gate: publisher._gate(gate, alarms, now) for gate in sequence.gates}
    looks |= {m: publisher._machine(m, alarms, now) for m in sequence.machines}
    return [part for part, look in looks.items() if publisher._seen.get(part) != look]
