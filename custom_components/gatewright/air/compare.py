"""What the collector's pressure sensors read, held against what is computed."""

from collections.abc import Callable, Mapping

from homeassistant.core import State

from ..airflow import AirflowError, Diagnosis, Network, diagnose
from ..const import CONF_FILTER_PRESSURE, CONF_SUCTION, UNIT_PASCAL
from ..sources import NumberReader


def measured(
    entity: Callable[[str], str | None], state_of: Callable[[str], State | None]
) -> dict[str, float]:
    """Return the readings (Pa, without sign) of the sensors that give one."""
    read = NumberReader(UNIT_PASCAL)
    readings: dict[str, float] = {}
    for field in (CONF_SUCTION, CONF_FILTER_PRESSURE):
        entity_id = entity(field)
        value = None if entity_id is None else read(state_of(entity_id))
        if value is not None:
            # Suction is given with either sign.
            readings[field] = abs(value)
    return readings


def compare(
    network: Network,
    gates: Mapping[str, float],
    speed: float,
    readings: Mapping[str, float],
) -> Diagnosis | None:
    """Return what readings mean for the gates open now; None without any."""
    suction = readings.get(CONF_SUCTION)
    over_filter = readings.get(CONF_FILTER_PRESSURE) if network.filter else None
    if suction is None and over_filter is None:
        return None
    try:
        return diagnose(
            network, gates, suction=suction, filter_difference=over_filter, speed=speed
        )
    except AirflowError:
        # With every gate shut there is nothing to expect.
        return None
