"""A small system of plain switches, with everything that a system check can ask."""

import json
from typing import Any

from demo.hub_directory import HubDirectory

from . import shop

ANNEX = "01ANNEX000000000000000ANEX"

COLLECTOR = "input_boolean.annex_collector"
BLIND_GATE = "input_boolean.annex_blind_gate"
CONTRARY_GATE = "input_boolean.annex_contrary_gate"
HAND_GATE = "input_boolean.annex_hand_gate"
SAW = "input_boolean.annex_saw"


def parts() -> list[shop.Part]:
    """Return a gate without feedback, one with inverted feedback, one moved by hand."""
    common = {"inverted": False, "travel": 1.0, "rest": "shut"}
    powered = {"gate_kind": "powered", **common}
    return [
        ("blind", "gate", "Bench gate", {**powered, "actuator": BLIND_GATE}),
        (
            "contrary",
            "gate",
            "Lathe gate",
            {**powered, "actuator": CONTRARY_GATE, "shut_sensor": CONTRARY_GATE},
        ),
        (
            "hand",
            "gate",
            "Drill gate",
            {"gate_kind": "hand", "open_sensor": HAND_GATE, **common},
        ),
        (
            "saw",
            "machine",
            "Bench saw",
            {
                "kind": "other",
                "gates": ["blind"],
                "needs_air": True,
                "hold": 0.0,
                "clearing": [],
                "companions": [],
                "sensor": SAW,
                "running_states": ["on"],
                "start_settle": 0.0,
                "stop_settle": 0.0,
                "grace": 60.0,
                "on_lost": "stopped",
            },
        ),
    ]


def yaml() -> str:
    """Return the configuration of the switches."""
    entities = (COLLECTOR, BLIND_GATE, CONTRARY_GATE, HAND_GATE, SAW)
    switches: dict[str, dict[str, Any]] = {
        entity_id.partition(".")[2]: {} for entity_id in entities
    }
    return f"input_boolean: {json.dumps(switches)}\n"


def seed(directory: HubDirectory) -> None:
    """Put the system into a prepared directory."""
    entry = shop.entry(
        ANNEX, "Bench collector", COLLECTOR, parts(), hand_gates=["blind"]
    )
    shop.write_entries(directory, [entry])
