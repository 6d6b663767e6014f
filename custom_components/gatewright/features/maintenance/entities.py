"""Maintenance entities of bin, filter and collector, at a moderate pace of changes.

Each is rounded to change every few minutes at work, and never at rest.
"""

from collections.abc import Callable, Mapping
from datetime import datetime
import math
from typing import Any

from homeassistant.components.sensor import SensorDeviceClass, SensorStateClass
from homeassistant.const import UnitOfTime
from homeassistant.util import dt as dt_util

from ...core.maintenance.bin_forecast import Forecast
from ...core.maintenance.filter import FilterState, FilterWork
from ...core.maintenance.filter_cleaning import CleaningPhase
from ...core.units import HOUR, JOULES_PER_KWH
from ..entities.descriptions import (
    DIAGNOSTIC,
    DISABLED,
    ENERGY,
    GROWING,
    INSTANT,
    MAINTENANCE,
    MEASURED,
    PASCALS,
    SHARE,
    TOTALED,
    SensorDescription,
    Value,
    one_of,
    sensor,
)
from ..entities.subjects import CollectorSubject, MachineSubject, ServiceSubject
from ..statistics.manager import Reach
from .config import replaces_filter
from .manager import MaintenanceManager


def _figure(
    key: str,
    read: Callable[[MaintenanceManager], Value],
    explain: Callable[[MaintenanceManager], dict[str, Any]] | None = None,
    **more: Any,
) -> SensorDescription[CollectorSubject]:
    """Describe a maintenance figure and the attributes that explain it."""
    return sensor(
        CollectorSubject,
        key,
        lambda c: read(c.maintenance),
        attributes_fn=lambda c: explain and explain(c.maintenance),
        follows=MAINTENANCE,
        **more,
    )


def _bin(read: Callable[[Forecast], Value]) -> Callable[[MaintenanceManager], Value]:
    """Return the reader of the bin's forecast."""
    return lambda maintenance: (
        None if maintenance.seen.forecast is None else read(maintenance.seen.forecast)
    )


def _filter(
    read: Callable[[FilterState], Value],
) -> Callable[[MaintenanceManager], Value]:
    """Return the reader of the filter's state."""
    return lambda maintenance: (
        None if maintenance.seen.filter is None else read(maintenance.seen.filter)
    )


def _hours(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds / HOUR, 1)


def _whole(value: float | None) -> int | None:
    return None if value is None else round(value)


def _finite(hours: float) -> float | None:
    return round(hours, 1) if math.isfinite(hours) else None


def _instant(at: float | None) -> datetime | None:
    return None if at is None else dt_util.utc_from_timestamp(at)


def _has_bin(collector: CollectorSubject) -> bool:
    return collector.maintenance.keeper.bin is not None


def _has_filter(collector: CollectorSubject) -> bool:
    return collector.maintenance.keeper.filter is not None


def _has_loss(collector: CollectorSubject) -> bool:
    settings = collector.settings
    known = settings.watching.filter_limit, settings.air.filter_loss
    return _has_filter(collector) and known != (None, None)


def _has_price(collector: CollectorSubject) -> bool:
    settings = collector.settings
    return settings.power is not None and settings.energy_price is not None


def _is_counted(machine: MachineSubject) -> bool:
    """Return whether the machine's plug measures energy."""
    return machine.part in machine.maintenance.feeds.counters


def _bin_emptied_at(maintenance: MaintenanceManager) -> datetime | None:
    bin_ = maintenance.keeper.bin
    return _instant(bin_.emptyings[-1].at) if bin_ and bin_.emptyings else None


def _filter_cleaned_at(maintenance: MaintenanceManager) -> datetime | None:
    return (
        None
        if maintenance.keeper.filter is None
        else _instant(maintenance.keeper.filter.cleaned_at)
    )


def _cleaning(maintenance: MaintenanceManager) -> str | None:
    cleaning = maintenance.keeper.cleaning
    return None if cleaning is None else cleaning.phase.value


def _how_known(maintenance: MaintenanceManager) -> dict[str, Any]:
    """Return the source of the fill level, and how reliable it is."""
    forecast = maintenance.seen.forecast
    if forecast is None:
        return {}
    return {
        "seen_by": forecast.seen_by.value,
        "known": forecast.known.value,
        "uncertainty": round(100 * forecast.error),
    }


def _spread(maintenance: MaintenanceManager) -> dict[str, Any]:
    """Return the two days between which the bin fills up, two times out of three."""
    forecast = maintenance.seen.forecast
    if forecast is None:
        return {}
    days = {"earliest": forecast.earliest, "latest": forecast.latest}
    return {name: day and day.isoformat() for name, day in days.items()}


def _each_alone(maintenance: MaintenanceManager) -> dict[str, Any]:
    """Return how long the bin lasts with each machine alone."""
    forecast = maintenance.seen.forecast
    if forecast is None:
        return {}
    return {
        "low": _finite(forecast.hours_low),
        "high": _finite(forecast.hours_high),
        "alone": {
            maintenance.keeper.names.get(m, m): round(hours, 1)
            for m, hours in forecast.hours_of.items()
        },
    }


def _why(maintenance: MaintenanceManager) -> dict[str, Any]:
    """Return why the filter needs attention."""
    state = maintenance.seen.filter
    return {"reason": state.reason.value if state and state.reason else None}


def _fit_service(service: ServiceSubject) -> dict[str, Any]:
    """Count in hours if the interval has them, else in days, else in starts."""
    unit, digits = None, 0
    if service.service.after is not None:
        unit, digits = UnitOfTime.HOURS, 1
    elif service.service.days is not None:
        unit = UnitOfTime.DAYS
    counted = unit is None
    return {
        "translation_key": "service_starts_left" if counted else "service_left",
        "device_class": None if counted else SensorDeviceClass.DURATION,
        "native_unit_of_measurement": unit,
        "suggested_display_precision": digits,
    }


def _service_left(service: ServiceSubject) -> float | None:
    """Return what is left until the service is due: hours, days or starts."""
    state = service.maintenance.seen.services.get(service.service_id)
    if state is None:
        return None
    if service.service.after is not None:
        return _hours(state.left)
    return state.days_left if service.service.days is not None else state.starts_left


def _service_done(service: ServiceSubject) -> dict[str, Any]:
    maintenance = service.maintenance
    done = maintenance.keeper.care.reset_at(service.service_id, maintenance.when())
    return {"last_done": done and done.isoformat(timespec="seconds")}


_BIN: Mapping[str, Any] = {"exists_fn": _has_bin}
_FILTER: Mapping[str, Any] = {"exists_fn": _has_filter}
_LOSS: Mapping[str, Any] = {**PASCALS, "exists_fn": _has_loss}
_DURATION: Mapping[str, Any] = {
    "device_class": SensorDeviceClass.DURATION,
    "native_unit_of_measurement": UnitOfTime.HOURS,
    "suggested_display_precision": 1,
}
_LEFT: Mapping[str, Any] = {**_DURATION, **MEASURED}
_SPENT: Mapping[str, Any] = {**_FILTER, **_DURATION, **GROWING}
_SINCE: Mapping[str, Any] = {**INSTANT, **DIAGNOSTIC}
_MONEY: Mapping[str, Any] = {
    **TOTALED,
    "fit_fn": lambda of: {"native_unit_of_measurement": of.hass.config.currency},
    "device_class": SensorDeviceClass.MONETARY,
    "state_class": SensorStateClass.TOTAL,
    "suggested_display_precision": 2,
}

SENSORS: tuple[SensorDescription[Any], ...] = (
    _figure(
        "bin_fill",
        _bin(lambda forecast: round(100 * min(1.0, forecast.share))),
        _how_known,
        unrecorded=frozenset({"known", "seen_by", "uncertainty"}),
        **_BIN,
        **SHARE,
    ),
    _figure(
        "bin_time_left",
        _bin(lambda forecast: _finite(forecast.hours_left)),
        _each_alone,
        unrecorded=frozenset({"alone", "high", "low"}),
        **_BIN,
        **_LEFT,
        **DISABLED,
    ),
    _figure(
        "bin_full_on",
        _bin(lambda forecast: forecast.full_on),
        _spread,
        unrecorded=frozenset({"earliest", "latest"}),
        device_class=SensorDeviceClass.DATE,
        **_BIN,
    ),
    _figure("bin_emptied_at", _bin_emptied_at, **_BIN, **_SINCE, **DISABLED),
    _figure(
        "filter_work",
        _filter(lambda state: state.work.value),
        _why,
        **_FILTER,
        **one_of(FilterWork),
    ),
    _figure(
        "filter_loss", _filter(lambda state: _whole(state.level)), **_LOSS, **DISABLED
    ),
    _figure(
        "filter_base",
        _filter(lambda state: _whole(state.base)),
        **_LOSS,
        **DIAGNOSTIC,
        **DISABLED,
    ),
    _figure(
        "filter_since_cleaned",
        _filter(lambda state: _hours(state.since_cleaned)),
        **_SPENT,
        **DISABLED,
    ),
    _figure(
        "filter_since_replaced",
        _filter(lambda state: _hours(state.since_replaced)),
        **_SPENT,
        **DISABLED,
    ),
    _figure(
        "filter_clean_in",
        _filter(lambda state: _hours(state.clean_in)),
        **_FILTER,
        **_LEFT,
        **DISABLED,
    ),
    _figure(
        "filter_replace_in",
        _filter(lambda state: _hours(state.replace_in)),
        exists_fn=lambda c: replaces_filter(c.maintenance.keeper.plan),
        **_LEFT,
        **DISABLED,
    ),
    _figure(
        "filter_cleaning",
        _cleaning,
        exists_fn=lambda c: c.maintenance.keeper.cleaning is not None,
        **DIAGNOSTIC,
        **DISABLED,
        **one_of(CleaningPhase),
    ),
    _figure("filter_cleaned_at", _filter_cleaned_at, **_FILTER, **_SINCE, **DISABLED),
    _figure(
        "longest_run",
        lambda maintenance: _hours(maintenance.keeper.care.longest_run),
        **_LEFT,
        **DISABLED,
    ),
    _figure(
        "energy",
        lambda maintenance: round(
            maintenance.collector_sum("energy") / JOULES_PER_KWH, 2
        ),
        exists_fn=lambda c: c.settings.power is not None,
        suggested_display_precision=1,
        **ENERGY,
    ),
    _figure(
        "energy_cost",
        lambda maintenance: round(maintenance.collector_sum("cost"), 2),
        exists_fn=_has_price,
        **_MONEY,
    ),
    sensor(
        MachineSubject,
        "energy",
        lambda m: round(m.spent(Reach.EVER).energy / JOULES_PER_KWH, 3),
        exists_fn=_is_counted,
        suggested_display_precision=2,
        **ENERGY,
        **DISABLED,
    ),
    sensor(
        MachineSubject,
        "energy_cost",
        lambda m: round(m.spent(Reach.EVER).cost, 2),
        exists_fn=lambda m: _is_counted(m) and m.settings.energy_price is not None,
        **_MONEY,
        **DISABLED,
    ),
    sensor(
        ServiceSubject,
        "left",
        _service_left,
        fit_fn=_fit_service,
        attributes_fn=_service_done,
        **MEASURED,
    ),
)
