"""Bins for the tests."""

from datetime import UTC, datetime

from custom_components.gatewright.core.kinds import MachineKind
from custom_components.gatewright.core.maintenance.bin import BinMonitor
from custom_components.gatewright.core.maintenance.bin_forecast import Forecast
from custom_components.gatewright.core.maintenance.config import BinConfig
from custom_components.gatewright.core.maintenance.weekly_use import WeeklyUse

WHEN = datetime(2026, 3, 2, 18, tzinfo=UTC)
HOUR = 3600.0
KINDS = {"saw": MachineKind.TABLE_SAW, "planer": MachineKind.PLANER}
NO_HABITS = WeeklyUse(weekdays=(), today={}, day=WHEN.date())

PLAIN = BinConfig(volume=0.12)
WITH_SENSOR = BinConfig(volume=0.12, full_sensor=True, settle=10.0)
WITH_DISTANCE = BinConfig(volume=0.12, empty_reading=0.7, full_reading=0.1, settle=10.0)


def filled(plan: BinConfig, **hours: float) -> BinMonitor:
    bin_ = BinMonitor(plan, KINDS)
    run(bin_, **hours)
    return bin_


def run(bin_: BinMonitor, **hours: float) -> None:
    for machine_id, spent in hours.items():
        bin_.fill(machine_id, spent * HOUR)


def is_full(bin_: BinMonitor) -> bool:
    return bin_.full


def is_undecided(bin_: BinMonitor) -> bool:
    return bin_.undecided


def foresee(bin_: BinMonitor, habits: WeeklyUse = NO_HABITS) -> Forecast:
    return bin_.forecast(habits)
