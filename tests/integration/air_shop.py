"""A small workshop with ducts and a fan, as stored."""

from typing import Any

from homeassistant.config_entries import ConfigSubentryDataWithId

from .workshop import standard_parts

FAN: dict[str, Any] = {
    "fan_points": [[0.0, 2600.0], [0.3, 2500.0], [0.5, 2000.0], [0.7, 900.0]],
    "separator_flow": 0.4,
    "separator_loss": 400.0,
    "filter_flow": 0.4,
    "filter_loss": 200.0,
}
"""The stored data of a collector's fan, separator and filter."""


def duct(duct_id: str, title: str, **data: Any) -> ConfigSubentryDataWithId:
    """Return the subentry of a duct of 150 mm."""
    return ConfigSubentryDataWithId(
        data={
            "diameter": 0.15,
            "length": 4.0,
            "duct_material": "galvanized",
            "entry_angle": 0.0,
            "elbows": [],
            **data,
        },
        subentry_id=duct_id,
        subentry_type="duct",
        title=title,
        unique_id=None,
    )


PLACES: dict[str, dict[str, Any]] = {
    "saw_gate": {
        "duct": "branch",
        "hood": "saw_port",
        "port_diameter": 0.1,
        "hose_diameter": 0.1,
        "hose_length": 1.5,
    },
    "planer_gate": {"duct": "far", "hood": "machine_port", "port_diameter": 0.15},
    "sweep_gate": {
        "duct": "far",
        "hood": "plain_end",
        "drop_diameter": 0.1,
        "drop_length": 1.0,
        "drop_elbows": 1,
        "entry_angle": 30.0,
    },
}
"""The places of the standard gates."""


def ducted_parts() -> list[ConfigSubentryDataWithId]:
    """Return the standard workshop on a main with a branch."""
    parts = standard_parts()
    for part in parts:
        part["data"] = {**part["data"], **PLACES.get(part["subentry_id"], {})}
    kinds = {"saw": "table_saw", "planer": "planer"}
    for part in parts:
        if (kind := kinds.get(part["subentry_id"])) is not None:
            part["data"] = {**part["data"], "kind": kind}
    return [
        *parts,
        duct("main", "Main"),
        duct("branch", "Saw branch", into="main", diameter=0.125, entry_angle=30.0),
        duct(
            "far",
            "Far end",
            into="main",
            elbows=[
                {"count": 1, "angle": 90.0, "radius": 1.5, "construction": "stamped"}
            ],
        ),
    ]
