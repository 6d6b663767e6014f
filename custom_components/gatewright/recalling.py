"""Tries out what was kept before a system is given it.

Whether a memory can be worked with is found out by working with it: it is held against
the shape of a new one and taken up by a shop of its own, which then lets some time pass.
So a new thing to remember needs no second description here.
"""

from collections.abc import Mapping
from time import monotonic
from typing import Any, Final

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from .onlooking.mode import WATCHED, begin_shop, recall
from .shop.memory import save
from .shop.pattern import check_numbers, check_shape
from .shop.plan import System
from .shop.rehearsal.onlooker import WatchedShop, totals_of
from .shop.shop import Shop
from .shop.upkeep.keeper import Upkeep
from .storage import Handover, KeptFile, MemoryStore
from .upkeep.settings import read_upkeep

_LATER: Final = (0.0, 1.0, 60.0, 3600.0, 90_000.0)
"""Seconds after which a shop is looked at while it is tried out."""


async def load_memory(
    store: MemoryStore, entry: ConfigEntry[Any], system: System
) -> Handover | None:
    """Return the memory of modes that is on disk, if it can be worked with."""
    left = await store.load()
    if left is not None:
        try:
            _try_memory(system, entry, left.memory)
        except Exception as err:  # noqa: BLE001 - whatever is wrong with it
            await store.put_aside(err)
            return None
    return left


async def load_past(
    hass: HomeAssistant,
    file: KeptFile,
    data: Mapping[str, Any],
    system: System,
) -> dict[str, Any] | None:
    """Return the past of a system that is on disk, if it can be worked with."""
    kept = await file.read()
    if kept is not None:
        try:
            _try_past(data, system, kept)
        except Exception as err:  # noqa: BLE001 - whatever is wrong with it
            await file.put_aside(err)
            return None
    return kept


def _try_memory(
    system: System, entry: ConfigEntry[Any], memory: Mapping[str, Any]
) -> None:
    now = monotonic()
    check_numbers(memory)
    for key in ("hidden", "keeps_on"):
        _check_texts(memory.get(key, []))
    shop = begin_shop(system, entry.data, now)
    # Only of a memory that was really written are all parts taken up.
    check_shape(memory, save(Shop(system, now), now))
    recall(shop, memory, now, None)
    _live(shop, now)
    if watched := memory.get(WATCHED):
        check_shape(watched, {"would": {}, "before": None})
        if (asked := watched.get("asked")) is not None:
            dt_util.parse_datetime(asked, raise_on_error=True)
        if isinstance(shop, WatchedShop) and (before := watched.get("before")):
            check_shape(dict.fromkeys(before, 0.0), before)
            sum(before[key] for key in totals_of(shop.ledger))


def _live(shop: Shop, now: float) -> None:
    sequence = shop.sequence
    for later in _LATER:
        shop.decide(now + later)
        shop.note(now + later)
        shop.ledger.book(now + later)
        for machine_id in sequence.machines:
            sequence.has_air(machine_id, now + later)
    save(shop, now + _LATER[-1])


def _try_past(data: Mapping[str, Any], system: System, kept: Mapping[str, Any]) -> None:
    now, when = monotonic(), dt_util.now()
    check_numbers(kept)
    _check_texts(kept.get("switched", []))
    shop = Shop(system, now)
    plan = read_upkeep(data)
    check_shape(kept, Upkeep(plan, shop).save(now))
    keeper = Upkeep(plan, shop)
    keeper.restore(kept, now)
    for later in _LATER[:3]:
        shop.decide(now + later)
        shop.note(now + later)
        keeper.observe(now + later, when)
        keeper.forecast(when)
        keeper.needs(when)
        keeper.care.states(when)
        if keeper.filter is not None:
            keeper.filter.state()
    for span in (*keeper.calendar.days.values(), *keeper.calendar.months.values()):
        span.shop(span.machines)
        check_numbers([span.collector.energy, span.collector.cost])
    keeper.calendar.total()
    for day in keeper.exposure.days:
        keeper.exposure.day(day)
    for run in keeper.record.runs:
        _check_texts([run.name, run.machine_id])
        dt_util.utc_from_timestamp(run.began + run.run_time + run.air_time + run.cuts)
        dt_util.utc_from_timestamp(run.ended)
        sum(run.without.values())
    keeper.save(now)


def _check_texts(kept: object) -> None:
    if not isinstance(kept, list) or not all(isinstance(text, str) for text in kept):
        raise TypeError("a list of texts is needed")
