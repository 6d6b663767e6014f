"""The ducts of the invented workshop, entered through the forms like an owner.

One main of 160 mm from the plant closet through the machine room, narrower upstream,
and a branch for each machine. The figures are those of no real product.
"""

from collections.abc import Callable, Mapping
from typing import Any

from .forms import SAVED, Form, FormError
from .hub_client import HubClient

FAN: Mapping[str, Any] = {
    "fan_points": [
        "0 3150",
        "600 3200",
        "1200 3050",
        "1800 2650",
        "2400 1950",
        "2900 1000",
    ],
    "inlet_diameter": 160,
    "separator_flow": 1600,
    "separator_loss": 480,
    "filter_flow": 1600,
    "filter_loss": 180,
}
"""The collector: points of its fan [m³/h, Pa], cyclone and filter."""

DUCTS: Mapping[str, Mapping[str, Any]] = {
    "Main 1": {
        "diameter": 160,
        "length": 4.5,
        "elbows_1_count": 2,
        "elbows_1_construction": "five_piece",
    },
    "Planer branch": {
        "into": "Main 1",
        "diameter": 150,
        "length": 2.2,
        "entry_angle": 30,
        "elbows_1_count": 1,
        "vertical": True,
    },
    "Main 2": {"into": "Main 1", "diameter": 150, "length": 2.5},
    "Table saw branch": {
        "into": "Main 2",
        "diameter": 125,
        "length": 3.0,
        "entry_angle": 30,
        "elbows_1_count": 2,
        "vertical": True,
    },
    "Jointer branch": {
        "into": "Main 2",
        "diameter": 125,
        "length": 2.0,
        "entry_angle": 45,
        "elbows_1_count": 1,
        "vertical": True,
    },
    "Main 3": {"into": "Main 2", "diameter": 150, "length": 3.0},
    "Band saw branch": {
        "into": "Main 3",
        "diameter": 150,
        "length": 2.4,
        "entry_angle": 30,
        "elbows_1_count": 1,
        "vertical": True,
    },
    "Drum sander branch": {
        "into": "Main 3",
        "diameter": 125,
        "length": 3.2,
        "entry_angle": 30,
        "elbows_1_count": 1,
        "vertical": True,
    },
    "Main 4": {"into": "Main 3", "diameter": 150, "length": 3.5},
    "Miter saw branch": {
        "into": "Main 4",
        "diameter": 125,
        "length": 2.6,
        "entry_angle": 30,
        "elbows_1_count": 1,
        "elbows_2_count": 1,
        "vertical": True,
    },
    "Bench main": {
        "into": "Main 4",
        "diameter": 125,
        "length": 5.0,
        "elbows_1_count": 1,
    },
}
"""Each duct after the one that it flows into."""

PLACES: Mapping[str, Mapping[str, Any]] = {
    "Planer gate": {
        "duct": "Planer branch",
        "port_diameter": 125,
        "hose_diameter": 150,
        "hose_length": 0.8,
    },
    "Table saw gate": {
        "duct": "Table saw branch",
        "hood": "saw_port",
        "port_diameter": 100,
        "hose_diameter": 125,
        "hose_length": 0.6,
    },
    "Jointer gate": {
        "duct": "Jointer branch",
        "port_diameter": 100,
        "hose_length": 1.5,
    },
    "Band saw lower gate": {
        "duct": "Band saw branch",
        "port_diameter": 100,
        "hose_length": 0.8,
    },
    "Band saw upper gate": {
        "duct": "Band saw branch",
        "port_diameter": 100,
        "hose_length": 1.6,
        "entry_angle": 45,
    },
    "Drum sander gate": {
        "duct": "Drum sander branch",
        "hood": "tapered",
        "hose_diameter": 125,
        "hose_length": 1.0,
    },
    "Miter saw gate": {
        "duct": "Miter saw branch",
        "port_diameter": 63,
        "hose_length": 1.2,
    },
    "Miter saw rear gate": {
        "duct": "Miter saw branch",
        "hood": "enclosure",
        "entry_angle": 30,
    },
    "Floor sweep gate": {
        "duct": "Main 4",
        "hood": "flanged_end",
        "drop_diameter": 125,
        "drop_length": 2.0,
        "drop_elbows": 1,
        "entry_angle": 30,
    },
    "Router table gate": {
        "duct": "Bench main",
        "port_diameter": 100,
        "hose_length": 1.5,
        "entry_angle": 30,
    },
    "Bench gate": {
        "duct": "Bench main",
        "hood": "flanged_end",
        "hose_diameter": 100,
        "hose_length": 2.0,
        "entry_angle": 30,
    },
    "Hose gate": {
        "duct": "Bench main",
        "hood": "plain_end",
        "hose_diameter": 50,
        "hose_length": 4.0,
        "entry_angle": 45,
    },
    "Drop box gate": {
        "duct": "Bench main",
        "hood": "plain_end",
        "drop_diameter": 63,
        "drop_length": 1.0,
        "drop_elbows": 1,
        "entry_angle": 45,
    },
    "Bench hood gate": {
        "duct": "Bench main",
        "hood": "tapered",
        "drop_diameter": 125,
        "drop_length": 1.0,
        "drop_elbows": 1,
    },
}
"""Where each gate is installed, and what lies before it."""
BEFORE = {"hood", "port_diameter", "hose_diameter", "hose_length"}
"""The fields on the page about the opening."""


class DuctFitter:
    """Enters the ducts of an existing system."""

    def __init__(self, client: HubClient, tell: Callable[[str], None]) -> None:
        """Use a Home Assistant; `tell` gets a line about each step."""
        self._client = client
        self._tell = tell

    async def fit(self, entry_id: str) -> None:
        """Enter the fan, the ducts, and where each gate is installed."""
        form = await Form.settings(self._client, entry_id, "airflow/fan")
        await form.fill(**FAN)
        _expect(form, SAVED)
        for name, figures in DUCTS.items():
            form = await Form.add_part(self._client, entry_id, "duct")
            elbows = {key for key in figures if key.startswith("elbows_")}
            duct = {key: figures[key] for key in figures.keys() - elbows}
            await form.fill(name=name, **_chosen(form, "into", duct))
            await form.fill(**{key: figures[key] for key in elbows})
            _expect(form, "create_entry")
        gates = {
            part["title"]: part["subentry_id"]
            for part in await self._client.subentries(entry_id)
        }
        for name, figures in PLACES.items():
            before = {key: figures[key] for key in figures.keys() & BEFORE}
            place = {key: figures[key] for key in figures.keys() - BEFORE}
            form = await self._gate(entry_id, gates[name], "place")
            await form.fill(**_chosen(form, "duct", place))
            _expect(form, "reconfigure_successful")
            if before:
                form = await self._gate(entry_id, gates[name], "opening")
                await form.fill(**before)
                _expect(form, "reconfigure_successful")
        self._tell(f"entered the fan, {len(DUCTS)} ducts and where the gates sit")
        await self._assess(entry_id)

    async def _gate(self, entry_id: str, gate_id: str, page: str) -> Form:
        return await Form.change_part(self._client, entry_id, "gate", gate_id, page)

    async def _assess(self, entry_id: str) -> None:
        """Have the airflow computed, and report the result."""
        answer = await self._client.request(
            "POST",
            "services/gatewright/assess_airflow?return_response",
            {"config_entry_id": entry_id},
        )
        found = answer["service_response"]
        asked = [machine for machine in found["machines"] if machine["required"]]
        enough = sum(machine["enough"] for machine in asked)
        self._tell(f"{enough} of {len(asked)} machines have enough airflow alone")
        self._tell(
            "the action gatewright.assess_airflow gives the address of a report to print"
        )


def _chosen(form: Form, field: str, figures: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values with the duct chosen by its name."""
    if field not in figures:
        return dict(figures)
    return {**figures, field: form.choices(field)[figures[field]]}


def _expect(form: Form, end: str) -> None:
    if form.step != end:
        raise FormError(f"The form ends with {form.step}, not with {end}")
