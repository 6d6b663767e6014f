"""A workshop with Gatewright in its own Home Assistant, for destructive tests."""

from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from demo.custom_components.virtual_workshop.layouts import build_layout
from demo.hub import Hub
from demo.hub_directory import prepare
from demo.hub_log import LogEntry
from demo.newcomer import Newcomer
from demo.shop_floor import ShopFloor

from .test_process import until_registered

_REFUSALS = "homeassistant.components.websocket_api.http.connection"
"""Home Assistant's logger for refused actions: an error without a traceback."""


@asynccontextmanager
async def working_shop(
    path: Path,
    changes: Mapping[str, Any],
    *,
    warned: bool = False,
    written: bool = True,
) -> AsyncIterator[ShopFloor]:
    """Yield a workshop at rest; at the end the log has to be clean.

    Before a kill, Home Assistant first has to write everything (`written`), which takes
    a while. `warned` allows warnings of Home Assistant's own, such as for a plug that
    changes its unit, and those about refused actions.
    """
    layout = build_layout(changes)
    hub = Hub(prepare(path, workshop=changes))
    async with hub:
        floor = ShopFloor(hub, layout)
        try:
            await floor.enter()
            await floor.until_measured()
            newcomer = Newcomer(floor.client, lambda _: None)
            await floor.learn(await newcomer.set_up(layout.collector.coast))
            await floor.until("phase", "idle")
            if written:
                await until_registered(floor)
            yield floor
        finally:
            await floor.leave()
        troubles = [
            entry
            for entry in hub.troubles(all_starts=True)
            if not (warned and _may_be(entry))
        ]
        assert not troubles, troubles


def _may_be(entry: LogEntry) -> bool:
    """Return whether a log entry is Home Assistant's own, and no failure of ours."""
    if "Traceback" in entry.text or "gatewright" in entry.logger:
        return False
    return entry.level == "WARNING" or entry.logger == _REFUSALS
