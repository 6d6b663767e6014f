"""Where monitor-only mode is stored, and how it begins and ends."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
import logging
from time import monotonic
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.util import dt as dt_util

from ...const import CONF_MONITOR_ONLY_SINCE
from ...core.config import SystemConfig
from ...core.control.enums import Phase
from ...core.control.persistence import restore
from ...core.control.shop import ShopControl
from ...core.simulation.shadow_control import MonitoredShop, carry_over
from ...core.stored.system import StoredSystem
from ...runtime.entry_data import read_system, update_entry
from ...runtime.store import Handover
from ...runtime.system_context import SystemContext

_LOGGER = logging.getLogger(__name__)

WATCHED = "watched"
"""Key of the memory: it was written in monitor-only mode."""


def is_monitor_only(data: Mapping[str, Any]) -> bool:
    """Return whether this data means monitor-only mode."""
    return CONF_MONITOR_ONLY_SINCE in data


def monitor_only_since(stored: StoredSystem) -> datetime | None:
    """Return since when a system is in monitor-only mode."""
    since = stored.monitor_only_since
    return None if since is None else dt_util.parse_datetime(since)


def begin_shop(system: SystemConfig, stored: StoredSystem, now: float) -> ShopControl:
    """Return a new shop for a monitor-only or a live system."""
    watching = stored.monitor_only_since is not None
    return MonitoredShop(system, now) if watching else ShopControl(system, now)


def recalled_shop(
    system: SystemConfig, stored: StoredSystem, left: Handover | None
) -> ShopControl:
    """Return a system's shop as it was left, or an empty one."""
    now = monotonic()
    shop = begin_shop(system, stored, now)
    if left is None:
        return shop
    elapsed = None if left.at is None else max(0.0, now - left.at)
    try:
        recall(shop, left.memory, now, elapsed)
    except (AttributeError, KeyError, TypeError, ValueError) as err:
        _LOGGER.warning(
            "The memory of %s cannot be read, so it starts anew: %r", stored.name, err
        )
        return begin_shop(system, stored, now)
    return shop


def recall(
    shop: ShopControl, memory: Mapping[str, Any], now: float, elapsed: float | None
) -> None:
    """Restore what was left; from rest if monitoring begins, continues or has ended."""
    if WATCHED not in memory and not isinstance(shop, MonitoredShop):
        restore(shop, memory, now, elapsed=elapsed)
        return
    carry_over(shop, memory, now)
    if isinstance(shop, MonitoredShop) and (kept := memory.get(WATCHED)):
        shop.would.ledger.restore(kept["would"], now)


def data_with(data: Mapping[str, Any], *, watch: bool) -> dict[str, Any]:
    """Return a system's data with monitoring begun or ended; an ongoing one is kept."""
    changed = {
        key: value for key, value in data.items() if key != CONF_MONITOR_ONLY_SINCE
    }
    if watch:
        now = dt_util.utcnow().isoformat()
        changed[CONF_MONITOR_ONLY_SINCE] = data.get(CONF_MONITOR_ONLY_SINCE, now)
    return changed


@callback
def set_monitor_only(
    hass: HomeAssistant, entry: ConfigEntry[Any], *, watch: bool
) -> None:
    """Start or end monitoring; the system is reloaded, from rest."""
    system = read_system(entry)
    since = system.monitor_only_since or dt_util.utcnow().isoformat()
    update_entry(
        hass, entry, replace(system, monitor_only_since=since if watch else None)
    )


def at_work(system: SystemContext) -> list[str]:
    """Return the names of the machines that run now."""
    return [
        run.plan.name for run in system.sequence.machines.values() if run.senses_running
    ]


def at_rest(system: SystemContext) -> bool:
    """Return whether the system could let go of everything without a surprise."""
    sequence = system.sequence
    return sequence.phase is Phase.IDLE and not sequence.motor.may_be_on
