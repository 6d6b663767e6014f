"""What can be read off of bin, filter and collector: figures that move at a sane pace.

Each is rounded so that it changes every few minutes at work, and not at rest.
"""

from collections.abc import Callable, Mapping
from datetime import date, datetime
import math
from typing import Any

from homeassistant.components.sensor import SensorDeviceClass, SensorStateClass
from homeassistant.const import (
    PERCENTAGE,
    EntityCategory,
    UnitOfEnergy,
    UnitOfPressure,
    UnitOfTime,
)
from homeassistant.helpers.typing import StateType
from homeassistant.util import dt as dt_util

from ..const import CONF_ENERGY_PRICE, CONF_FILTER_LIMIT, CONF_FILTER_LOSS, CONF_POWER
from ..descriptions import MAINTENANCE, SensorDescription, always
from ..shop.units import HOUR, JOULES_PER_KWH
from ..shop.upkeep.cleaning import CleaningPhase
from ..shop.upkeep.filter import FilterState, FilterWork
from ..shop.upkeep.forecast import Forecast
from ..subjects import CollectorSubject, ServiceSubject
from .hub import UpkeepHub

type Value = StateType | date | datetime
type Exists = Callable[[CollectorSubject], bool]


def _figure(
    key: str,
    read: Callable[[UpkeepHub], Value],
    explain: Callable[[UpkeepHub], dict[str, Any]] | None = None,
    exists_fn: Exists = always,
    **more: Any,
) -> SensorDescription[CollectorSubject]:
    """Describe a figure of what is looked after, and what explains it."""
    return SensorDescription(
        key=key,
        part=CollectorSubject,
        exists_fn=exists_fn,
        value_fn=lambda collector: read(collector.maintenance),
        attributes_fn=lambda collector: explain and explain(collector.maintenance),
        follows=MAINTENANCE,
        **more,
    )


def _of_bin(
    key: str,
    read: Callable[[Forecast], Value],
    explain: Callable[[UpkeepHub], dict[str, Any]],
    **more: Any,
) -> SensorDescription[CollectorSubject]:
    """Describe a figure of the bin's forecast."""

    def forecast(hub: UpkeepHub) -> Value:
        return None if hub.seen.forecast is None else read(hub.seen.forecast)

    return _figure(key, forecast, explain, _has_bin, **more)


def _of_filter(
    key: str,
    read: Callable[[FilterState], Value],
    explain: Callable[[UpkeepHub], dict[str, Any]] | None = None,
    **more: Any,
) -> SensorDescription[CollectorSubject]:
    """Describe a figure of the filter's state."""

    def state(hub: UpkeepHub) -> Value:
        return None if hub.seen.filter is None else read(hub.seen.filter)

    return _figure(key, state, explain, **{"exists_fn": _has_filter, **more})


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
    known = collector.settings.keys() & {CONF_FILTER_LIMIT, CONF_FILTER_LOSS}
    return _has_filter(collector) and bool(known)


def _is_replaced(collector: CollectorSubject) -> bool:
    """Whether the filter's life is known."""
    plan = collector.maintenance.keeper.plan.filter
    return plan is not None and bool(plan.replace_after)


def _bin_emptied_at(hub: UpkeepHub) -> datetime | None:
    bin_ = hub.keeper.bin
    return _instant(bin_.emptyings[-1].at) if bin_ and bin_.emptyings else None


def _filter_cleaned_at(hub: UpkeepHub) -> datetime | None:
    return None if hub.keeper.filter is None else _instant(hub.keeper.filter.cleaned_at)


def _cleaning(hub: UpkeepHub) -> str | None:
    cleaning = hub.keeper.cleaning
    return None if cleaning is None else cleaning.phase.value


def _how_known(hub: UpkeepHub) -> dict[str, Any]:
    """Say what the filling rests on, and how well it is known."""
    forecast = hub.seen.forecast
    if forecast is None:
        return {}
    return {
        "seen_by": forecast.seen_by.value,
        "known": forecast.known.value,
        "uncertainty": round(100 * forecast.error),
    }


def _spread(hub: UpkeepHub) -> dict[str, Any]:
    """Say between which days it will be full, two times out of three."""
    forecast = hub.seen.forecast
    if forecast is None:
        return {}
    days = {"earliest": forecast.earliest, "latest": forecast.latest}
    return {name: day and day.isoformat() for name, day in days.items()}


def _each_alone(hub: UpkeepHub) -> dict[str, Any]:
    """Say how long it would do with each machine alone."""
    forecast = hub.seen.forecast
    if forecast is None:
        return {}
    return {
        "low": _finite(forecast.hours_low),
        "high": _finite(forecast.hours_high),
        "alone": {
            hub.keeper.names.get(m, m): round(hours, 1)
            for m, hours in forecast.hours_of.items()
        },
    }


def _why(hub: UpkeepHub) -> dict[str, Any]:
    """Say why the filter wants what it wants."""
    state = hub.seen.filter
    return {"reason": state.reason.value if state and state.reason else None}


def _fit_service(service: ServiceSubject) -> dict[str, Any]:
    """Count by hours where the interval does, else by days, else by starts."""
    unit, digits = None, 0
    if service.service.after is not None:
        unit, digits = UnitOfTime.HOURS, 1
    elif service.service.days is not None:
        unit = UnitOfTime.DAYS
    counted = unit is None
    return {
        "translation_key": "upkeep_service_starts_left"
        if counted
        else "upkeep_service_left",
        "device_class": None if counted else SensorDeviceClass.DURATION,
        "native_unit_of_measurement": unit,
        "suggested_display_precision": digits,
    }


def _service_left(service: ServiceSubject) -> float | None:
    """Return how long until it has to be done: hours, days or starts."""
    state = service.maintenance.seen.services.get(service.service_id)
    if state is None:
        return None
    if service.service.after is not None:
        return _hours(state.left)
    return state.days_left if service.service.days is not None else state.starts_left


def _service_done(service: ServiceSubject) -> dict[str, Any]:
    hub = service.maintenance
    done = hub.keeper.care.reset_at(service.service_id, hub.when())
    return {"last_done": done and done.isoformat(timespec="seconds")}


_DURATION: Mapping[str, Any] = {
    "device_class": SensorDeviceClass.DURATION,
    "native_unit_of_measurement": UnitOfTime.HOURS,
    "suggested_display_precision": 1,
}
_LEFT: Mapping[str, Any] = {**_DURATION, "state_class": SensorStateClass.MEASUREMENT}
_SPENT: Mapping[str, Any] = {
    **_DURATION,
    "state_class": SensorStateClass.TOTAL_INCREASING,
}
_LOSS: Mapping[str, Any] = {
    "device_class": SensorDeviceClass.PRESSURE,
    "state_class": SensorStateClass.MEASUREMENT,
    "native_unit_of_measurement": UnitOfPressure.PA,
    "suggested_display_precision": 0,
    "exists_fn": _has_loss,
}
_SINCE: Mapping[str, Any] = {
    "device_class": SensorDeviceClass.TIMESTAMP,
    "entity_category": EntityCategory.DIAGNOSTIC,
}

SENSORS: tuple[SensorDescription[Any], ...] = (
    _of_bin(
        "bin_fill",
        lambda forecast: round(100 * min(1.0, forecast.share)),
        _how_known,
        state_class=SensorStateClass.MEASUREMENT,
        native_unit_of_measurement=PERCENTAGE,
        unrecorded=frozenset({"known", "seen_by", "uncertainty"}),
    ),
    _of_bin(
        "bin_time_left",
        lambda forecast: _finite(forecast.hours_left),
        _each_alone,
        unrecorded=frozenset({"alone", "high", "low"}),
        **_LEFT,
    ),
    _of_bin(
        "bin_full_on",
        lambda forecast: forecast.full_on,
        _spread,
        device_class=SensorDeviceClass.DATE,
        unrecorded=frozenset({"earliest", "latest"}),
    ),
    _figure("bin_emptied_at", _bin_emptied_at, exists_fn=_has_bin, **_SINCE),
    _of_filter(
        "filter_work",
        lambda state: state.work.value,
        _why,
        device_class=SensorDeviceClass.ENUM,
        options=[work.value for work in FilterWork],
    ),
    _of_filter("filter_loss", lambda state: _whole(state.level), **_LOSS),
    _of_filter(
        "filter_base",
        lambda state: _whole(state.base),
        entity_category=EntityCategory.DIAGNOSTIC,
        entity_registry_enabled_default=False,
        **_LOSS,
    ),
    _of_filter(
        "filter_since_cleaned", lambda state: _hours(state.since_cleaned), **_SPENT
    ),
    _of_filter(
        "filter_since_replaced",
        lambda state: _hours(state.since_replaced),
        entity_registry_enabled_default=False,
        **_SPENT,
    ),
    _of_filter("filter_clean_in", lambda state: _hours(state.clean_in), **_LEFT),
    _of_filter(
        "filter_replace_in",
        lambda state: _hours(state.replace_in),
        exists_fn=_is_replaced,
        **_LEFT,
    ),
    _figure(
        "filter_cleaning",
        _cleaning,
        exists_fn=lambda collector: collector.maintenance.keeper.cleaning is not None,
        device_class=SensorDeviceClass.ENUM,
        entity_category=EntityCategory.DIAGNOSTIC,
        options=[phase.value for phase in CleaningPhase],
    ),
    _figure("filter_cleaned_at", _filter_cleaned_at, exists_fn=_has_filter, **_SINCE),
    _figure(
        "longest_run",
        lambda hub: _hours(hub.keeper.care.longest_run),
        translation_key="upkeep_longest_run",
        **_LEFT,
    ),
    _figure(
        "energy",
        lambda hub: round(hub.collector_sum("energy") / JOULES_PER_KWH, 2),
        exists_fn=lambda collector: CONF_POWER in collector.settings,
        translation_key="upkeep_energy",
        device_class=SensorDeviceClass.ENERGY,
        state_class=SensorStateClass.TOTAL_INCREASING,
        native_unit_of_measurement=UnitOfEnergy.KILO_WATT_HOUR,
        suggested_display_precision=1,
    ),
    _figure(
        "energy_cost",
        lambda hub: round(hub.collector_sum("cost"), 2),
        exists_fn=lambda collector: (
            collector.settings.keys() >= {CONF_POWER, CONF_ENERGY_PRICE}
        ),
        fit_fn=lambda collector: {
            "native_unit_of_measurement": collector.hass.config.currency
        },
        translation_key="upkeep_energy_cost",
        device_class=SensorDeviceClass.MONETARY,
        state_class=SensorStateClass.TOTAL,
        suggested_display_precision=2,
    ),
    SensorDescription(
        key="left",
        part=ServiceSubject,
        fit_fn=_fit_service,
        state_class=SensorStateClass.MEASUREMENT,
        value_fn=_service_left,
        attributes_fn=_service_done,
    ),
)
