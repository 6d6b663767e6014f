"""A small workshop for tests, and ways to let time pass in it."""

from demo.custom_components.virtual_workshop.model.layout import (
    Layout,
    layout_from_dict,
)
from demo.custom_components.virtual_workshop.model.world import World

NOON = 1_800_000_000.0
"""An instant in seconds since the epoch, where floats are coarse."""


def small_layout() -> Layout:
    """Return a workshop with one gate of each kind and round figures."""
    return layout_from_dict(
        {
            "collector": {
                "spin_up": 4.0,
                "coast": 10.0,
                "latency": 0.5,
                "inrush": 8000.0,
                "idle": 1000.0,
                "work": 2000.0,
                "bin_liters": 100.0,
            },
            "gates": {
                "cover": {"name": "C", "area": "A", "kind": "cover", "latency": 0.5},
                "valve": {"name": "V", "area": "A", "kind": "valve", "latency": 0.5},
                "solenoid": {
                    "name": "S",
                    "area": "A",
                    "kind": "switch",
                    "latency": 0.5,
                    "pneumatic": True,
                },
                "hand": {"name": "H", "area": "B", "kind": "hand"},
            },
            "machines": {
                "saw": {
                    "name": "Saw",
                    "area": "A",
                    "gates": ["cover"],
                    "inrush": 4000.0,
                    "inrush_time": 0.5,
                    "dust": 1.0,
                },
                "planer": {"name": "Planer", "area": "A", "gates": ["valve", "hand"]},
                "lathe": {
                    "name": "Lathe",
                    "area": "B",
                    "gates": ["valve"],
                    "meter_kind": "clamp",
                    "idle": 230.0,
                    "work": 460.0,
                },
                "sander": {
                    "name": "Sander",
                    "area": "B",
                    "gates": ["solenoid"],
                    "movable": True,
                    "no_volt_release": False,
                },
            },
        }
    )


def small_world() -> World:
    """Return the small workshop with everything off and closed."""
    return World(small_layout(), NOON)


def wait(world: World, seconds: float) -> None:
    """Let time pass."""
    world.advance(world.now + seconds)
