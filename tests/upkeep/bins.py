"""Bins to try things on."""

from datetime import UTC, datetime

from custom_components.gatewright.shop.kinds import MachineKind
from custom_components.gatewright.shop.upkeep.bin import Bin
from custom_components.gatewright.shop.upkeep.forecast import Forecast
from custom_components.gatewright.shop.upkeep.habits import Habits
from custom_components.gatewright.shop.upkeep.plan import BinPlan

WHEN = datetime(2026, 3, 2, 18, tzinfo=UTC)
HOUR = 3600.0
KINDS = {"saw": MachineKind.TABLE_SAW, "planer": MachineKind.PLANER}
NO_HABITS = Habits(weekdays=(), today={}, day=WHEN.date())

PLAIN = BinPlan(volume=0.12)
WITH_SENSOR = BinPlan(volume=0.12, full_sensor=True, settle=10.0)
WITH_DISTANCE = BinPlan(volume=0.12, empty_reading=0.7, full_reading=0.1, settle=10.0)


def filled(plan: BinPlan, **hours: float) -> Bin:
    bin_ = Bin(plan, KINDS)
    run(bin_, **hours)
    return bin_


def run(bin_: Bin, **hours: float) -> None:
    for machine_id, spent in hours.items():
        bin_.fill(machine_id, spent * HOUR)


def is_full(bin_: Bin) -> bool:
    return bin_.full


def foresee(bin_: Bin, habits: Habits = NO_HABITS) -> Forecast:
    return bin_.forecast(habits)
