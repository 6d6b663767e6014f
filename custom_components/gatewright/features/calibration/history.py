"""What was recorded of a sensor in the last days, or why there is nothing to go by."""

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
"""How many days are looked at: what a hub keeps unless it is told otherwise."""


class NoHistory(StrEnum):
    """Why nothing can be read, whatever the sensor did."""

    NO_RECORDER = "no_recorder"
    EXCLUDED = "excluded"
    UNREADABLE = "unreadable"


async def read_history(
    hass: HomeAssistant, entity_id: str, unit: str, days: float = DAYS
) -> list[Reading] | NoHistory:
    """Return the readings of some days in W or A; instants are s since 1970.

    While the hub was off there is no reading. The database is asked in the recorder's
    own executor.
    """
    if not has_recorder(hass) or DATA_INSTANCE not in hass.data:
        return NoHistory.NO_RECORDER
    instance = get_instance(hass)
    if instance.entity_filter is not None and not instance.entity_filter(entity_id):
        return NoHistory.EXCLUDED
    # Not installed before the hub has a recorder.
    from sqlalchemy.exc import SQLAlchemyError  # noqa: PLC0415

    ends = dt_util.utcnow()
    begins = ends - timedelta(days=days)
    with Reliance(hass, Internal.RECORDER, also=(SQLAlchemyError,)):
        readings = await Archive(hass, begins, ends).readings(entity_id, unit)
        return without(readings, await ends_of_runs(hass))
    return NoHistory.UNREADABLE


def without(readings: list[Reading], downs: list[float]) -> list[Reading]:
    """Return readings that end where the hub went down.

    A recorder has the last state before that, and then the first one after the hub came
    up; what was told in between is not known.
    """
    return sorted(
        [*readings, *((down, None) for down in downs)], key=lambda reading: reading[0]
    )
