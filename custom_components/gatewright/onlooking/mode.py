"""Whether a system only watches: where that is kept, and how it begins and ends."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
import logging
from time import monotonic
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.util import dt as dt_util

from ..const import CONF_WATCH_SINCE
from ..entry_data import read_system, update_entry
from ..shop.memory import restore
from ..shop.plan import System
from ..shop.rehearsal.onlooker import WatchedShop, carry_over
from ..shop.shop import Shop
from ..shop.words import Phase
from ..storage import Handover
from ..stored.system import StoredSystem
from ..system_context import SystemContext

_LOGGER = logging.getLogger(__name__)

WATCHED = "watched"
"""Key of the memory: the system was only watched when it was written."""


def is_watching(data: Mapping[str, Any]) -> bool:
    """Whether a system with this data only watches."""
    return CONF_WATCH_SINCE in data


def watching_since(stored: StoredSystem) -> datetime | None:
    """Return since when a system only watches."""
    since = stored.watch_since
    return None if since is None else dt_util.parse_datetime(since)


def begin_shop(system: System, stored: StoredSystem, now: float) -> Shop:
    """Return the shop that belongs to a system that watches, or to one that drives."""
    watching = stored.watch_since is not None
    return WatchedShop(system, now) if watching else Shop(system, now)


def recalled_shop(system: System, stored: StoredSystem, left: Handover | None) -> Shop:
    """Return a system's shop as it was left, or one that knows nothing."""
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
    shop: Shop, memory: Mapping[str, Any], now: float, elapsed: float | None
) -> None:
    """Take up what was left; from rest where watching begins, goes on or has ended."""
    if WATCHED not in memory and not isinstance(shop, WatchedShop):
        restore(shop, memory, now, elapsed=elapsed)
        return
    carry_over(shop, memory, now)
    if isinstance(shop, WatchedShop) and (kept := memory.get(WATCHED)):
        shop.would.ledger.restore(kept["would"], now)


def data_with(data: Mapping[str, Any], *, watch: bool) -> dict[str, Any]:
    """Return a system's data with watching begun or ended; it goes on as it was."""
    changed = {key: value for key, value in data.items() if key != CONF_WATCH_SINCE}
    if watch:
        now = dt_util.utcnow().isoformat()
        changed[CONF_WATCH_SINCE] = data.get(CONF_WATCH_SINCE, now)
    return changed


@callback
def set_watching(hass: HomeAssistant, entry: ConfigEntry[Any], *, watch: bool) -> None:
    """Begin or end to only watch; the system is loaded anew for it, from rest."""
    system = read_system(entry)
    since = system.watch_since or dt_util.utcnow().isoformat()
    update_entry(hass, entry, replace(system, watch_since=since if watch else None))


def at_work(system: SystemContext) -> list[str]:
    """Return the names of the machines that run now."""
    return [
        run.plan.name for run in system.sequence.machines.values() if run.senses_running
    ]


def at_rest(system: SystemContext) -> bool:
    """Whether nothing would be left as it is if the system let go of everything."""
    sequence = system.sequence
    return sequence.phase is Phase.RESTING and not sequence.motor.may_be_on
