"""Invalid maintenance figures are rejected by their key."""

import math
from typing import Any

import pytest

from custom_components.gatewright.core.stored.system import StoredSystem
from custom_components.gatewright.core.stored.table import defaults_of, unreadable_in

STORED = {
    **defaults_of(StoredSystem),
    "switch": "switch.collector",
    "hand_gates": [],
    "hide_wrapped": True,
}
SERVICE = {"id": "belt", "name": "Belt", "hours": 100.0}


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"bin_level": "sensor.bin", "bin_empty_reading": 0.7, "bin_full_reading": -0.1},
        {"cleaning": "switch.shaker", "cleaning_hours": 0.0, "cleaning_wait": 0},
        {"services": [SERVICE, {"id": "x", "name": "X", "days": 1}]},
        {"room_cleaner": "fan.cleaner", "room_volume": 60, "particles_clean": 0.05},
    ],
)
def test_what_is_read(changes: dict[str, Any]) -> None:
    assert unreadable_in(StoredSystem, STORED | changes) == []


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("bin_volume", -0.1),
        ("bin_volume", "full"),
        ("bin_warn", math.nan),
        ("bin_usual", -5),
        ("bin_empty_reading", math.inf),
        ("filter_limit", math.nan),
        ("filter_hours", -1),
        ("cleaning_times", math.inf),
        ("cleaning_wait", -1),
        ("cleaning_kind", "hammer"),
        ("cleaning_running", "yes"),
        ("room_flow", -0.2),
        ("particles_clean", -3),
        ("services", "belt"),
        ("services", [{"id": "a"}]),
        ("services", [{**SERVICE, "days": -1}]),
        ("energy_price", -0.1),
    ],
)
def test_what_is_not(key: str, value: object) -> None:
    readings = {"bin_empty_reading": 0.7, "bin_full_reading": 0.1}
    changes = {"bin_level": "sensor.bin", **readings, key: value}
    assert unreadable_in(StoredSystem, STORED | changes) == [key]
