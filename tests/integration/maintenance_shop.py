"""Shared by the maintenance tests: entities, settings, an hour at the saw."""

from typing import Any

from .workshop import SAW_POWER, FakeSwitch, Workshop

SHAKER = "switch.shaker"
CLEANER = "switch.air_cleaner"
GAUGE = "sensor.filter_gauge"
WORK = "sensor.dust_collector_filter"
CLEANING = "sensor.dust_collector_filter_cleaning"
SINCE = "sensor.dust_collector_filter_hours_since_cleaning"
BELT = "sensor.dust_collector_belt_left"
PROBLEM = "binary_sensor.dust_collector_problem"
HOUR = 3600.0

SHAKEN: dict[str, Any] = {
    "cleaning": SHAKER,
    "cleaning_wait": 5.0,
    "cleaning_time": 10.0,
    "cleaning_times": 2,
    "cleaning_pause": 4.0,
    "cleaning_hours": 0.5,
}
SERVICES = [
    {"id": "belt", "name": "Belt", "hours": 1.0},
    {"id": "guards", "name": "Guards", "days": 30},
]


async def saw(workshop: Workshop, hours: float) -> None:
    """Run the saw, and stop it; the collector still spins down."""
    await workshop.saw_runs()
    await workshop.pass_time(hours * HOUR, 60)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(8, 0.5)
    assert not workshop.collector.is_on


def on(switch: FakeSwitch) -> bool:
    return bool(switch.is_on)


def alarms(workshop: Workshop) -> Any:
    return workshop.attribute(PROBLEM, "alarms")
