"""Tests stored data before a system gets it.

A memory is checked by using it: it's compared with the shape of a new one and restored
into a separate shop, which then runs for some time. So a new thing to remember needs no
second description here.
"""

from collections.abc import Mapping
from contextlib import suppress
from datetime import timedelta
from time import monotonic
from typing import Any, Final

from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from .core.config import SystemConfig
from .core.control.enums import RefusedError
from .core.control.persistence import save
from .core.control.shop import ShopControl
from .core.inputs import MachineReading, RequestMade
from .core.maintenance.maintenance import Maintenance
from .core.pattern import check_numbers, check_shape
from .core.simulation.shadow_control import MonitoredShop, totals_of
from .core.stored.system import StoredSystem
from .features.monitor_only.mode import WATCHED, begin_shop, recall
from .runtime.journaled_file import MemoryStore
from .runtime.store import Handover, KeptFile

_LATER: Final = (0.0, 1.0, 60.0, 3600.0, 90_000.0)
"""Seconds between two looks at the separate shop."""


async def load_memory(
    hass: HomeAssistant, store: MemoryStore, stored: StoredSystem, system: SystemConfig
) -> Handover | None:
    """Return the stored memory of modes, if it works."""
    left = await store.load()
    if left is not None:
        try:
            await hass.async_add_executor_job(try_memory, system, stored, left.memory)
        except Exception as err:  # noqa: BLE001 - whatever is wrong with it
            await store.put_aside(err)
            return None
    return left


async def load_past(
    hass: HomeAssistant,
    file: KeptFile,
    stored: StoredSystem,
    system: SystemConfig,
    left: Handover | None,
) -> dict[str, Any] | None:
    """Return the stored past of a system, if it works."""
    kept = await file.read()
    if kept is not None:
        try:
            await hass.async_add_executor_job(
                try_past, system, stored, kept, None if left is None else left.memory
            )
        except Exception as err:  # noqa: BLE001 - whatever is wrong with it
            await file.put_aside(err)
            return None
    return kept


def try_memory(
    system: SystemConfig, stored: StoredSystem, memory: Mapping[str, Any]
) -> None:
    """Raise whatever an unusable memory of modes raises."""
    now = monotonic()
    check_numbers(memory)
    for key in ("hidden", "keeps_on"):
        _check_texts(memory.get(key, []))
    shop = begin_shop(system, stored, now)
    # A memory restores all of its parts only if it was really written.
    worked = ShopControl(system, now)
    check_shape(memory, save(worked, now))
    work(worked, now)
    check_shape(memory, save(worked, now))
    recall(shop, memory, now, None)
    # The keeper of the statistics reads everything that was recorded.
    work(shop, now, Maintenance(stored.maintenance(), shop))
    if watched := memory.get(WATCHED):
        check_shape(watched, {"would": {}, "before": None})
        if (asked := watched.get("asked")) is not None:
            dt_util.parse_datetime(asked, raise_on_error=True)
        if isinstance(shop, MonitoredShop) and (before := watched.get("before")):
            check_shape(dict.fromkeys(before, 0.0), before)
            sum(before[key] for key in totals_of(shop.ledger))


def work(shop: ShopControl, now: float, keeper: Maintenance | None = None) -> None:
    """Run every machine for a while, and read everything that can be read."""
    sequence = shop.sequence
    when = dt_util.now()
    for later in _LATER:
        at = now + later
        runs = later < _LATER[-2]
        for machine_id, run in sequence.machines.items():
            if (levels := run.plan.levels) is not None:
                watts = 2.0 * levels.start if runs else 0.0
                shop.handle(MachineReading(machine_id, watts), at)
            else:
                with suppress(RefusedError):
                    shop.handle(RequestMade(machine_id, 60.0), at)
        shop.decide(at)
        shop.note(at)
        shop.ledger.book(at)
        for machine_id in sequence.machines:
            sequence.is_collecting(machine_id, at)
        if keeper is not None:
            moment = when + timedelta(seconds=later)
            keeper.observe(at, moment)
            keeper.finish(shop.ledger.drain(), at, moment)
            keeper.forecast(moment)
            keeper.needs(moment)
            keeper.care.states(moment)
            if keeper.filter is not None:
                keeper.filter.state()
    save(shop, now + _LATER[-1])


def try_past(
    system: SystemConfig,
    stored: StoredSystem,
    kept: Mapping[str, Any],
    memory: Mapping[str, Any] | None,
) -> None:
    """Raise whatever an unusable past raises."""
    now = monotonic()
    check_numbers(kept)
    _check_texts(kept.get("switched", []))
    plan = stored.maintenance()
    worked = ShopControl(system, now)
    worker = Maintenance(plan, worked)
    check_shape(kept, worker.save(now))
    work(worked, now, worker)
    check_shape(kept, worker.save(now))
    shop = begin_shop(system, stored, now)
    if memory is not None:
        recall(shop, memory, now, None)
    keeper = Maintenance(plan, shop)
    keeper.restore(kept, now)
    work(shop, now, keeper)
    for span in (*keeper.calendar.days.values(), *keeper.calendar.months.values()):
        span.shop(span.machines)
        check_numbers([span.collector.energy, span.collector.cost])
    keeper.calendar.total()
    for day in keeper.exposure.days:
        keeper.exposure.day(day)
    for run in keeper.record.runs:
        _check_texts([run.name, run.machine_id])
        dt_util.utc_from_timestamp(
            run.began + run.run_time + run.collecting_time + run.cuts
        )
        dt_util.utc_from_timestamp(run.ended)
        sum(run.without.values())
    keeper.save(now)


def _check_texts(kept: object) -> None:
    if not isinstance(kept, list) or not all(isinstance(text, str) for text in kept):
        raise TypeError("a list of texts is needed")
