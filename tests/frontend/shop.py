"""The systems for the page tests, as their forms would have stored them."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
import json
from typing import Any

from demo.custom_components.virtual_workshop.model.alder_yard import ALDER_YARD
from demo.hub_directory import HubDirectory

YARD = "01YARD0000000000000000YARD"
HALL = "01HALL0000000000000000HALL"
HALL_SIZE = 60

PLACES = {
    "saw_gate": "north",
    "low_gate": "north",
    "up_gate": "north",
    "planer_gate": "planer_drop",
    "jointer_gate": "south",
    "miter_gate": "south",
    "router_gate": "bench_line",
    "bench_gate": "bench_line",
    "hose_gate": "bench_line",
    "sweep_gate": "main",
}
"""The duct of each gate; the spare inlet has none."""

type Part = tuple[str, str, str, dict[str, Any]]
"""Id, type, title and data of a subentry."""


def _gate(part_id: str, title: str, actuator: str | None, **data: Any) -> Part:
    kind = {} if actuator is None else {"actuator": actuator}
    settings = {
        "gate_kind": "powered",
        "inverted": False,
        "travel": 1.5,
        "rest": "shut",
        **kind,
        **data,
    }
    return part_id, "gate", title, settings


def _machine(part_id: str, title: str, *gates: str, **data: Any) -> Part:
    settings = {
        "kind": "other",
        "gates": list(gates),
        "needs_air": True,
        "hold": 0.0,
        "clearing": [],
        "companions": [],
        **data,
    }
    return part_id, "machine", title, settings


def _duct(part_id: str, title: str, diameter: float, into: str | None = None) -> Part:
    settings = {
        "diameter": diameter,
        "length": 4.0,
        "duct_material": "galvanized",
        "entry_angle": 30.0,
        "elbows": [],
        **({} if into is None else {"into": into}),
    }
    return part_id, "duct", title, settings


FAN: dict[str, Any] = {
    "fan_points": [[0.0, 4000.0], [0.8, 3800.0], [1.6, 3000.0], [2.2, 900.0]],
}


def _watts(sensor: str) -> dict[str, Any]:
    return {
        "sensor": sensor,
        "unit": "W",
        "start": 150.0,
        "stop": 60.0,
        "start_settle": 0.0,
        "stop_settle": 0.5,
        "grace": 60.0,
        "on_lost": "stopped",
    }


def yard() -> list[Part]:
    """Return a part of Alder Yard: every kind of gate, and every kind of machine.

    The main is a duct; the one to the south is far too wide.
    """
    room, bench = "machine_room", "bench_room"
    parts = [
        _gate("saw_gate", "Table saw gate", f"cover.{room}_table_saw_gate_actuator"),
        _gate("low_gate", "Lower gate", f"valve.{room}_band_saw_lower_gate_actuator"),
        _gate("up_gate", "Upper gate", f"switch.{room}_band_saw_upper_gate_actuator"),
        _gate("planer_gate", "Planer gate", f"valve.{room}_planer_gate_actuator"),
        _gate("jointer_gate", "Jointer gate", f"cover.{room}_jointer_gate_actuator"),
        _gate(
            "miter_gate", "Miter saw gate", f"valve.{room}_miter_saw_rear_gate_actuator"
        ),
        _gate(
            "router_gate",
            "Router gate",
            None,
            gate_kind="hand",
            open_sensor=f"binary_sensor.{bench}_router_table_gate_contact",
        ),
        _gate("bench_gate", "Bench gate", f"cover.{bench}_bench_gate_actuator"),
        _gate("hose_gate", "Hose gate", f"switch.{bench}_hose_gate_actuator"),
        _gate("sweep_gate", "Sweep gate", f"switch.{room}_floor_sweep_gate_actuator"),
        _gate("spare_gate", "Spare inlet", None, gate_kind="fixed"),
        _machine(
            "saw",
            "Table saw",
            "saw_gate",
            kind="table_saw",
            **_watts(f"sensor.{room}_table_saw_plug_power"),
        ),
        _machine(
            "band_saw",
            "Band saw",
            "low_gate",
            "up_gate",
            kind="band_saw",
            **_watts(f"sensor.{room}_band_saw_plug_power"),
        ),
        _machine(
            "planer",
            "Planer",
            "planer_gate",
            kind="planer",
            **_watts(f"sensor.{room}_planer_plug_power"),
        ),
        _machine(
            "jointer",
            "Jointer",
            "jointer_gate",
            kind="jointer",
            **_watts(f"sensor.{room}_jointer_plug_power"),
        ),
        _machine(
            "miter_saw",
            "Miter saw",
            "miter_gate",
            kind="miter_saw",
            **_watts(f"sensor.{room}_miter_saw_plug_power") | {"hold": 8.0},
        ),
        _machine(
            "router",
            "Router table",
            "router_gate",
            kind="router_table",
            **_watts(f"sensor.{bench}_router_table_plug_power"),
        ),
        _machine(
            "drill_press",
            "Drill press",
            "bench_gate",
            kind="drill_press",
            **_watts(f"sensor.{bench}_drill_press_plug_power"),
        ),
        _machine(
            "sander",
            "Orbital sander",
            "hose_gate",
            kind="sander",
            attached=f"binary_sensor.{bench}_sander_hose_contact",
            **_watts(f"sensor.{bench}_orbital_sander_plug_power"),
        ),
        _machine("bench", "Bench hood", "bench_gate", kind="bench_hood"),
        _machine(
            "sweep",
            "Floor sweep",
            "sweep_gate",
            kind="floor_sweep",
            request_limit=600.0,
        ),
        _duct("main", "Main", 0.2),
        _duct("north", "North branch", 0.15, "main"),
        _duct("south", "South branch", 0.35, "main"),
        _duct("planer_drop", "Planer drop", 0.15, "south"),
        _duct("bench_line", "Bench line", 0.125, "south"),
    ]
    for part_id, _, _, data in parts:
        if (duct := PLACES.get(part_id)) is not None:
            data |= {"duct": duct, "hood": "machine_port", "port_diameter": 0.15}
    return parts


def quick() -> dict[str, Any]:
    """Return changes to the virtual workshop that make it faster than a real one."""
    gates = {key: {"travel": 0.6, "latency": 0.1} for key in ALDER_YARD["gates"]}
    meter = {"interval": 0.5}
    machines = {
        key: {"meter": {**machine.get("meter", {}), **meter, "late": 0.0}}
        for key, machine in ALDER_YARD["machines"].items()
    }
    collector = {"latency": 0.1, "spin_up": 0.3, "coast": 0.8, "meter": meter}
    return {"gates": gates, "machines": machines, "collector": collector}


def hall() -> list[Part]:
    """Return a big hall: each machine is a switch, each gate another."""
    parts: list[Part] = []
    for number in range(1, HALL_SIZE + 1):
        name = f"{number:02}"
        parts += [
            _gate(
                f"hall_gate_{name}",
                f"Gate {name}",
                f"input_boolean.hall_gate_{name}",
                travel=1.0,
            ),
            _machine(
                f"hall_machine_{name}",
                f"Machine {name}",
                f"hall_gate_{name}",
                sensor=f"input_boolean.hall_machine_{name}",
                running_states=["on"],
                start_settle=0.0,
                stop_settle=0.0,
                grace=60.0,
                on_lost="stopped",
            ),
        ]
    return parts


def hall_yaml() -> str:
    """Return the configuration of the hall's switches."""
    numbers = [f"{number:02}" for number in range(1, HALL_SIZE + 1)]
    keys = [
        "hall_collector",
        *(
            f"hall_{part}_{number}"
            for part in ("gate", "machine")
            for number in numbers
        ),
    ]
    switches: dict[str, dict[str, Any]] = {key: {} for key in keys}
    return f"input_boolean: {json.dumps(switches)}\n"


def entry(
    entry_id: str, title: str, switch: str, parts: Iterable[Part], **data: Any
) -> dict[str, Any]:
    """Return a config entry as Home Assistant keeps it."""
    now = datetime.now(UTC).isoformat()
    settings: Mapping[str, Any] = {
        "switch": switch,
        "run_on": 0.5,
        "coast": 1.0,
        "start_delay": 0.0,
        "confirm": 4.0,
        "rest_time": 0.0,
        "hand_gates": [],
        "hide_wrapped": False,
        **data,
    }
    return {
        "created_at": now,
        "data": settings,
        "disabled_by": None,
        "discovery_keys": {},
        "domain": "gatewright",
        "entry_id": entry_id,
        "minor_version": 2,
        "modified_at": now,
        "options": {},
        "pref_disable_new_entities": False,
        "pref_disable_polling": False,
        "source": "user",
        "subentries": [
            {
                "data": part,
                "subentry_id": part_id,
                "subentry_type": kind,
                "title": name,
                "unique_id": f"{kind}-{part_id}",
            }
            for part_id, kind, name, part in parts
        ],
        "title": title,
        "unique_id": switch,
        "version": 1,
    }


def seed(directory: HubDirectory) -> None:
    """Put both systems into a prepared directory."""
    entries = [
        entry(
            YARD,
            "Dust collector",
            "switch.plant_closet_collector_relay",
            yard(),
            power="sensor.plant_closet_collector_relay_power",
            hand_gates=["sweep_gate"],
            **FAN,
        ),
        entry(HALL, "Hall collector", "input_boolean.hall_collector", hall()),
    ]
    write_entries(directory, entries)


def write_entries(directory: HubDirectory, entries: list[dict[str, Any]]) -> None:
    """Write config entries into a prepared directory."""
    content = {
        "version": 1,
        "minor_version": 5,
        "key": "core.config_entries",
        "data": {"entries": entries},
    }
    file = directory.path / ".storage" / "core.config_entries"
    file.write_text(json.dumps(content), "utf-8")
