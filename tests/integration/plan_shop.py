"""A system with the demo's machines, gates, fan and, optionally, its ducts by forms."""

from typing import Any

from homeassistant.config_entries import ConfigSubentryDataWithId
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import (
    MockHAClientWebSocket,
    WebSocketGenerator,
)

from demo.ducting import FAN as TYPED_FAN
from tests.plan.shops import demo_ducts, demo_places

from .air_shop import duct
from .workshop import Workshop, gate, machine, system_entry

type Data = dict[str, Any]

FAN: Data = {
    "fan_points": [
        [float(flow) / 3600, float(pressure)]
        for flow, pressure in (text.split() for text in TYPED_FAN["fan_points"])
    ],
    "inlet_diameter": TYPED_FAN["inlet_diameter"] / 1000,
    "separator_flow": TYPED_FAN["separator_flow"] / 3600,
    "separator_loss": float(TYPED_FAN["separator_loss"]),
    "filter_flow": TYPED_FAN["filter_flow"] / 3600,
    "filter_loss": float(TYPED_FAN["filter_loss"]),
}

MACHINES: dict[str, tuple[str, list[str]]] = {
    "planer": ("planer", ["planer_gate"]),
    "table_saw": ("table_saw", ["table_saw_gate"]),
    "jointer": ("jointer", ["jointer_gate"]),
    "band_saw": ("band_saw", ["band_saw_lower_gate", "band_saw_upper_gate"]),
    "drum_sander": ("drum_sander", ["drum_sander_gate"]),
    "miter_saw": ("miter_saw", ["miter_saw_gate", "miter_saw_rear_gate"]),
    "floor_sweep": ("floor_sweep", ["floor_sweep_gate"]),
    "router_table": ("router_table", ["router_table_gate"]),
    "bench": ("other", ["bench_gate"]),
    "hose": ("tool_hose", ["hose_gate"]),
    "bench_hood": ("bench_hood", ["bench_hood_gate"]),
}
"""Kind and gates of each machine; the drop box's gate serves none."""


def titled(part: str) -> str:
    """Return the name of a part of an id."""
    return part.replace("_", " ").capitalize()


def demo_parts(
    *, ducts: bool, prefix: str = "", machines: bool = True
) -> list[ConfigSubentryDataWithId]:
    """Return the demo's parts; `prefix` of the ids makes them another system's."""
    parts = []
    places = demo_places()
    for gate_id, place in places.items() if machines else ():
        at = {**place, "duct": prefix + place["duct"]} if ducts else {}
        parts.append(gate(prefix + gate_id, titled(gate_id), gate_kind="hand", **at))
    for machine_id, (kind, gates) in MACHINES.items() if machines else ():
        parts.append(
            machine(
                prefix + machine_id,
                titled(machine_id),
                kind=kind,
                gates=[prefix + one for one in gates],
            )
        )
    for duct_id, data in demo_ducts().items() if ducts else ():
        into = {"into": prefix + data["into"]} if "into" in data else {}
        parts.append(duct(prefix + duct_id, titled(duct_id), **{**data, **into}))
    return parts


def demo_entry(
    *, ducts: bool, entry_id: str = "system", **options: Any
) -> MockConfigEntry:
    """Return a system of the demo's parts."""
    return system_entry(
        demo_parts(ducts=ducts, **options), entry_id=entry_id, hand_gates=[], **FAN
    )


class Browser:
    """A user who draws: sends commands, gets answers and events."""

    def __init__(self, client: MockHAClientWebSocket, entry_id: str) -> None:
        """Draw one system."""
        self.client = client
        self.entry_id = entry_id
        self.events: list[Data] = []

    async def send(self, command: str, **fields: Any) -> Data:
        """Send a command and return the whole answer."""
        await self.client.send_json_auto_id(
            {"type": f"gatewright/plan/{command}", "entry_id": self.entry_id, **fields}
        )
        while (answer := await self.client.receive_json())["type"] == "event":
            self.events.append(answer["event"])
        return dict(answer)

    async def ask(self, command: str, **fields: Any) -> Data:
        """Send a command that must succeed, and return its result."""
        answer = await self.send(command, **fields)
        assert answer["success"], answer
        return dict(answer["result"] or {})


async def browser(
    hass: HomeAssistant,
    ws: WebSocketGenerator,
    entry_id: str = "system",
    token: str | None = None,
) -> Browser:
    """Open a browser at a system."""
    client = await (ws(hass) if token is None else ws(hass, token))
    return Browser(client, entry_id)


async def start(hass: HomeAssistant, workshop: Workshop, *entries: Any) -> None:
    """Set systems up."""
    assert await async_setup_component(hass, "websocket_api", {})
    for entry in entries:
        await workshop.load(entry)
