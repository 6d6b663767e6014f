"""Reads the last days of a sensor's history, or says why there is none."""

from datetime import timedelta
from enum import StrEnum

from homeassistant.core import HomeAssistant
from homeassistant.helpers.recorder import DATA_INSTANCE, get_instance
from homeassistant.util import dt as dt_util

from ...core.calibration.history import Reading
from ...runtime.internals.changed import Internal, Reliance
from ...runtime.internals.recorder_runs import ends_of_runs
from ..simulation.recorder import Archive, has_recorder

DAYS = 10
"""Days of history to read: what Home Assistant keeps by default."""


class NoHistory(StrEnum):
    """Why there's no history, whatever the sensor reported."""

    NO_RECORDER = "no_recorder"
    EXCLUDED = "excluded"
    UNREADABLE = "unreadable"


async def read_history(
    hass: HomeAssistant, entity_id: str, unit: str, days: float = DAYS
) -> list[Reading] | NoHistory:
    """Return the readings of some days in W or A; instants are s since 1970.

    Time while Home Assistant was off has no reading. The query runs in the recorder's
    own executor.
    """
    if not has_recorder(hass) or DATA_INSTANCE not in hass.data:
        return NoHistory.NO_RECORDER
    instance = get_instance(hass)
    if instance.entity_filter is not None and not instance.entity_filter(entity_id):
        return NoHistory.EXCLUDED
    # Not installed before Home Assistant has a recorder.
    from sqlalchemy.exc import SQLAlchemyError  # noqa: PLC0415

    ends = dt_util.utcnow()
    begins = ends - timedelta(days=days)
    with Reliance(hass, Internal.RECORDER, also=(SQLAlchemyError,)):
        readings = await Archive(hass, begins, ends).readings(entity_id, unit)
        return without(readings, await ends_of_runs(hass))
    return NoHistory.UNREADABLE


def without(readings: list[Reading], downs: list[float]) -> list[Reading]:
    """Return readings that end where Home Assistant stopped.

    The recorder has the last state before a stop and the first one after the start;
    what happened in between is unknown.
    """
    return sorted(
        [*readings, *((down, None) for down in downs)], key=lambda reading: reading[0]
    )
