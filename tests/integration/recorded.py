"""Histories in the recorder of a test's Home Assistant, from traces with a known truth."""

from collections.abc import Iterable, Iterator
import contextlib
from dataclasses import replace
import logging
from unittest.mock import patch

from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import mock_component
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)

from custom_components.gatewright.core.calibration.history import Reading

from ..calibration.catalog import SAW
from ..calibration.traces import Habit, Motor, Plug, Trace, make_trace

# The test plugin logs every statement, which takes longer than executing it. It has to be told before
# the recorder exists.
logging.getLogger("sqlalchemy.engine").setLevel(logging.WARNING)


@contextlib.contextmanager
def without_engine(hass: HomeAssistant) -> Iterator[None]:
    """Set entries up without the integration itself, in a Home Assistant with a recorder."""
    mock_component(hass, "logbook")
    with (
        patch("custom_components.gatewright.async_setup_entry", return_value=True),
        patch("custom_components.gatewright.async_unload_entry", return_value=True),
    ):
        yield


def saw_trace(
    plug: Plug | None = None,
    *,
    motor: Motor = SAW,
    days: float = 2,
    longest: float = 40.0,
) -> Trace:
    """Return some days of a saw; at rest its plug seldom reports."""
    plug = replace(plug or Plug(interval=2), heartbeat=1200.0)
    habit = Habit(runs=8.0, shortest=10.0, longest=longest)
    return make_trace(motor, plug, habit=habit, days=days, seed=4)


async def record(
    hass: HomeAssistant,
    entity_id: str,
    readings: Iterable[Reading],
    until: float,
    *,
    unit: str = "W",
    factor: float = 1.0,
    name: str = "Saw plug power",
) -> None:
    """Put readings, the last of which held until now, into the recorder."""
    begins = dt_util.utcnow().timestamp() - until
    attributes = {"unit_of_measurement": unit, "friendly_name": name}
    for at, value in readings:
        state = "unavailable" if value is None else f"{value * factor:g}"
        hass.states.async_set(entity_id, state, attributes, timestamp=begins + at)
    await async_wait_recording_done(hass)
