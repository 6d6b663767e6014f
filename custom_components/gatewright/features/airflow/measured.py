"""What the collector's pressure sensors read, held against what is computed."""

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
"""Sets of gates whose last reading is kept."""


def measured(
    gauges: Mapping[str, str], state_of: Callable[[str], State | None]
) -> dict[str, float]:
    """Return the readings (Pa, without sign) of the sensors that give one."""
    read = NumberReader(UNIT_PASCAL)
    readings: dict[str, float] = {}
    for field, entity_id in gauges.items():
        if (value := read(state_of(entity_id))) is not None:
            # Suction is given with either sign.
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
    """Return what readings mean for the gates open now; None without any.

    `before` are those with other gates open, which tell causes apart. Where the
    figures were fitted to the shop a smaller difference means something.
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
        # With every gate shut there is nothing to expect.
        return None


class Remembered:
    """The last reading of each set of gates, since the shop was last changed.

    What one gauge reads with one set of gates open has several causes; with several
    sets it mostly has one.
    """

    def __init__(self) -> None:
        self._readings: dict[frozenset[tuple[str, float]], PressureReading] = {}

    def forget(self) -> None:
        """Forget all: the shop or its filter is no longer the same."""
        self._readings.clear()

    def take(
        self, gates: Mapping[str, float], speed: float, readings: Mapping[str, float]
    ) -> tuple[PressureReading, ...]:
        """Note a reading; return those of other sets, the newest last."""
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
