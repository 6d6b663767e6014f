"""What the air of a system does at a moment."""

from collections.abc import Mapping
from dataclasses import dataclass

from ...core.airflow import Solution

type Gates = Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class AirNow:
    """What the air does now; `solution` is None while the collector stands.

    `gates` are the open share of each gate that is not shut, `speed` a ratio to the
    fan's rated one, `since` the instant from which it has been so.
    """

    gates: Gates
    speed: float
    solution: Solution | None
    since: float
