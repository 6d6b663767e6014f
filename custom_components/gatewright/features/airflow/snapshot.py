"""The airflow of a system at one moment."""

from collections.abc import Mapping
from dataclasses import dataclass

from ...core.airflow import Solution

type Gates = Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class AirNow:
    """The airflow now; `solution` is None while the collector is off.

    `gates` has the open share of each gate that isn't closed, `speed` is a ratio to the
    fan's rated speed, `since` the instant when this state began.
    """

    gates: Gates
    speed: float
    solution: Solution | None
    since: float
