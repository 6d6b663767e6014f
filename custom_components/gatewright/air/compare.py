"""What the collector's pressure sensors read, held against what is computed."""

from collections.abc import Callable, Mapping

from homeassistant.const import ATTR_UNIT_OF_MEASUREMENT, UnitOfPressure
from homeassistant.core import State
from homeassistant.exceptions import HomeAssistantError
from homeassistant.util.unit_conversion import PressureConverter

from ..airflow import AirflowError, Diagnosis, Network, diagnose
from ..const import CONF_FILTER_PRESSURE, CONF_SUCTION


def measured(
    entity: Callable[[str], str | None], state_of: Callable[[str], State | None]
) -> dict[str, float]:
    """Return the readings (Pa, without sign) of the sensors that give one."""
    readings: dict[str, float] = {}
    for field in (CONF_SUCTION, CONF_FILTER_PRESSURE):
        entity_id = entity(field)
        state = None if entity_id is None else state_of(entity_id)
        value = None if state is None else pressure_of(state)
        if value is not None:
            # Suction is given with either sign.
            readings[field] = abs(value)
    return readings


def pressure_of(state: State) -> float | None:
    """Return a pressure in Pa; None where a state is none."""
    unit = state.attributes.get(ATTR_UNIT_OF_MEASUREMENT)
    try:
        return PressureConverter.convert(float(state.state), unit, UnitOfPressure.PA)
    except ValueError, HomeAssistantError:
        return None


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
