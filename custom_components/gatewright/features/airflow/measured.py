"""Compares the collector's pressure sensors with the computed values."""

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from homeassistant.core import State

from ...const import CONF_FILTER_PRESSURE, CONF_SUCTION, UNIT_PASCAL
from ...core.airflow import (
    CALIBRATED,
    TOLERANCE,
    AirflowError,
    Diagnosis,
    Network,
    PressureReading,
    diagnose,
)
from ...runtime.decoding import NumberReader

_KEPT: Final = 8
"""How many sets of gates keep their last reading."""


def measured(
    gauges: Mapping[str, str], state_of: Callable[[str], State | None]
) -> dict[str, float]:
    """Return the readings (Pa, unsigned) of the sensors that have one."""
    read = NumberReader(UNIT_PASCAL)
    readings: dict[str, float] = {}
    for field, entity_id in gauges.items():
        if (value := read(state_of(entity_id))) is not None:
            # Sensors show suction with either sign.
            readings[field] = abs(value)
    return readings


def compare(
    network: Network,
    gates: Mapping[str, float],
    speed: float,
    readings: Mapping[str, float],
    before: Sequence[PressureReading] = (),
    *,
    calibrated: bool = False,
) -> Diagnosis | None:
    """Interpret readings for the gates open now; None without readings.

    `before` are readings with other gates open, which tell causes apart. If the figures
    were fitted to the shop, a smaller difference counts.
    """
    suction = readings.get(CONF_SUCTION)
    over_filter = readings.get(CONF_FILTER_PRESSURE) if network.filter else None
    if suction is None and over_filter is None:
        return None
    try:
        return diagnose(
            network,
            gates,
            suction=suction,
            filter_difference=over_filter,
            speed=speed,
            before=before,
            tolerance=CALIBRATED if calibrated else TOLERANCE,
        )
    except AirflowError:
        # With every gate closed there's nothing to expect.
        return None


class Remembered:
    """The last reading of each set of gates, since the shop last changed.

    One gauge and one set of gates leave several possible causes; several sets mostly
    leave one.
    """

    def __init__(self) -> None:
        self._readings: dict[frozenset[tuple[str, float]], PressureReading] = {}

    def forget(self) -> None:
        """Discard all readings: the shop or its filter changed."""
        self._readings.clear()

    def take(
        self, gates: Mapping[str, float], speed: float, readings: Mapping[str, float]
    ) -> tuple[PressureReading, ...]:
        """Add a reading; return those of other sets, the newest last."""
        key = frozenset(gates.items())
        self._readings.pop(key, None)
        others = tuple(self._readings.values())
        self._readings[key] = PressureReading(
            gates=dict(gates),
            speed=speed,
            suction=readings.get(CONF_SUCTION),
            filter_difference=readings.get(CONF_FILTER_PRESSURE),
        )
        while len(self._readings) > _KEPT:
            del self._readings[next(iter(self._readings))]
        return others[-_KEPT + 1 :]
