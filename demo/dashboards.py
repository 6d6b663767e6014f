"""The demo's two dashboards: Gatewright's own, and one with buttons to work in the shop."""

from typing import Any

from .hub_client import HubClient, Json
from .shop_floor import ShopFloor

SHOP = "dust-collection"
PLAY = "alder-yard"

RUN = 20
"""How long a button runs its machine [s]."""

TROUBLES = (
    ("Planer gate sticks", "planer_gate", "gate_stuck", "mdi:gate-alert"),
    ("Collector breaker trips", "collector", "breaker_tripped", "mdi:fuse-alert"),
    ("Table saw plug is lost", "table_saw", "plug_offline", "mdi:power-plug-off"),
    ("Compressed air fails", "site", "air_supply_low", "mdi:gauge-empty"),
)
"""The faults with a button: label, part, fault, icon."""


async def add_dashboards(floor: ShopFloor) -> None:
    """Add both dashboards to Home Assistant, the shop as the default one."""
    client = floor.client
    shop = {"strategy": {"type": "custom:gatewright"}}
    await _add(client, SHOP, "Dust collection", "mdi:weather-windy", shop)
    await _add(client, PLAY, floor.layout.name, "mdi:hand-saw", _play(floor))
    await client.socket.command(
        "frontend/set_system_data", key="core", value={"default_panel": SHOP}
    )


async def _add(
    client: HubClient, path: str, title: str, icon: str, config: Json
) -> None:
    await client.socket.command(
        "lovelace/dashboards/create",
        url_path=path,
        title=title,
        icon=icon,
        mode="storage",
        show_in_sidebar=True,
        require_admin=False,
    )
    await client.socket.command("lovelace/config/save", url_path=path, config=config)


def _play(floor: ShopFloor) -> Json:
    """Return the dashboard that runs machines and breaks things."""
    machines = [
        _button(f"{name}, {RUN} s", "mdi:play", "run_machine", machine=key, seconds=RUN)
        for name, key in floor.machine_keys.items()
    ]
    cuts = _button(
        "Miter saw, three cuts", "mdi:play-speed", "make_cuts", machine="miter_saw"
    )
    docked = [
        _button(
            # Two of them have to fit side by side on a phone.
            f"{name.split()[-1].capitalize()} hose {'on' if connected else 'off'}",
            "mdi:pipe" if connected else "mdi:pipe-disconnected",
            "attach_machine",
            machine=key,
            attached=connected,
        )
        for name, key in floor.machine_keys.items()
        if floor.layout.machines[key].movable
        for connected in (True, False)
    ]
    hand = [
        _button(
            f"Router table gate: {'open' if position else 'shut'}",
            "mdi:hand-back-right",
            "move_gate",
            gate="router_table_gate",
            position=position,
        )
        for position in (100, 0)
    ]
    broken = [
        _button(words, icon, "break", part=part, fault=fault)
        for words, part, fault, icon in TROUBLES
    ]
    mended = _button("Mend everything", "mdi:hammer-wrench", "mend")
    return {
        "views": [
            {
                "title": floor.layout.name,
                "type": "sections",
                "sections": [
                    _section("Run a machine", [*machines, cuts]),
                    _section("Move things by hand", [*docked, *hand]),
                    _section("Break something", [*broken, mended]),
                    _section("What is really so", _truth(floor)),
                ],
            }
        ]
    }


def _section(heading: str, cards: list[Json]) -> Json:
    title = {"type": "heading", "heading": heading}
    return {"type": "grid", "cards": [title, *cards]}


def _button(name: str, icon: str, action: str, **data: Any) -> Json:
    """Return a button that acts in the virtual workshop."""
    return {
        "type": "button",
        "name": name,
        "icon": icon,
        "grid_options": {"columns": 6, "rows": 2},
        "tap_action": {
            "action": "perform-action",
            "perform_action": f"virtual_workshop.{action}",
            "data": data,
        },
    }


def _truth(floor: ShopFloor) -> list[Json]:
    """Return the workshop's own sensors: its impeller, and each machine's power."""
    seen = {
        "Impeller": "collector_impeller_turning",
        "Speed": "collector_speed",
        "Collector": "collector_power",
        "Bin": "collector_bin_level",
    }
    entities = {name: floor.seen(unique_id) for name, unique_id in seen.items()}
    entities |= {name: floor.reading(name) for name in floor.machine_keys}
    return [
        {"type": "tile", "entity": entity, "name": name}
        for name, entity in entities.items()
    ]
