"""What can be read off of bin, filter and collector: figures that move at a sane pace.

Each is rounded so that it changes every few minutes at work, and not at rest.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
import math
from typing import TYPE_CHECKING, Any, override

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
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
from ..entity import GatewrightEntity
from ..shop.units import HOUR, JOULES_PER_KWH
from ..shop.upkeep.cleaning import CleaningPhase
from ..shop.upkeep.filter import FilterState, FilterWork
from ..shop.upkeep.forecast import Forecast
from ..shop.upkeep.plan import ServiceInterval
from .entity import UpkeepEntity
from .hub import UpkeepHub
from .settings import SERVICE_PREFIX

if TYPE_CHECKING:
    from ..engine import Engine

type Value = StateType | date | datetime


@dataclass(frozen=True, kw_only=True)
class UpkeepSensor(SensorEntityDescription):
    """A figure, whether there is such a thing, and what explains it."""

    value: Callable[[UpkeepHub], Value]
    wanted: Callable[[UpkeepHub], bool] = lambda _: True
    explained: Callable[[UpkeepHub], dict[str, Any]] | None = None


def _forecast(value: Callable[[Forecast], Value]) -> Callable[[UpkeepHub], Value]:
    def read(hub: UpkeepHub) -> Value:
        forecast = hub.seen.forecast
        return None if forecast is None else value(forecast)

    return read


def _filter(value: Callable[[FilterState], Value]) -> Callable[[UpkeepHub], Value]:
    def read(hub: UpkeepHub) -> Value:
        state = hub.seen.filter
        return None if state is None else value(state)

    return read


def _hours(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds / HOUR, 1)


def _whole(value: float | None) -> int | None:
    return None if value is None else round(value)


def _finite(hours: float) -> float | None:
    return round(hours, 1) if math.isfinite(hours) else None


def _instant(at: float | None) -> datetime | None:
    return None if at is None else dt_util.utc_from_timestamp(at)


def _has_bin(hub: UpkeepHub) -> bool:
    return hub.keeper.bin is not None


def _has_filter(hub: UpkeepHub) -> bool:
    return hub.keeper.filter is not None


def _has_loss(hub: UpkeepHub) -> bool:
    known = hub.engine.described.data.keys() & {CONF_FILTER_LIMIT, CONF_FILTER_LOSS}
    return _has_filter(hub) and bool(known)


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


def _energy(hub: UpkeepHub) -> float:
    return round(hub.collector_sum("energy") / JOULES_PER_KWH, 2)


_DURATION: Mapping[str, Any] = {
    "device_class": SensorDeviceClass.DURATION,
    "native_unit_of_measurement": UnitOfTime.HOURS,
    "suggested_display_precision": 1,
}
_LEFT: Mapping[str, Any] = {**_DURATION, "state_class": SensorStateClass.MEASUREMENT}
_LOSS: Mapping[str, Any] = {
    "device_class": SensorDeviceClass.PRESSURE,
    "state_class": SensorStateClass.MEASUREMENT,
    "native_unit_of_measurement": UnitOfPressure.PA,
    "suggested_display_precision": 0,
    "wanted": _has_loss,
}
_SINCE: Mapping[str, Any] = {
    "device_class": SensorDeviceClass.TIMESTAMP,
    "entity_category": EntityCategory.DIAGNOSTIC,
}

BIN_SENSORS = (
    UpkeepSensor(
        key="bin_fill",
        translation_key="bin_fill",
        state_class=SensorStateClass.MEASUREMENT,
        native_unit_of_measurement=PERCENTAGE,
        value=_forecast(lambda forecast: round(100 * min(1.0, forecast.share))),
        wanted=_has_bin,
        explained=_how_known,
    ),
    UpkeepSensor(
        key="bin_time_left",
        translation_key="bin_time_left",
        value=_forecast(lambda forecast: _finite(forecast.hours_left)),
        wanted=_has_bin,
        explained=_each_alone,
        **_LEFT,
    ),
    UpkeepSensor(
        key="bin_full_on",
        translation_key="bin_full_on",
        device_class=SensorDeviceClass.DATE,
        value=_forecast(lambda forecast: forecast.full_on),
        wanted=_has_bin,
        explained=_spread,
    ),
    UpkeepSensor(
        key="bin_emptied_at",
        translation_key="bin_emptied_at",
        value=_bin_emptied_at,
        wanted=_has_bin,
        **_SINCE,
    ),
)

FILTER_SENSORS = (
    UpkeepSensor(
        key="filter_work",
        translation_key="filter_work",
        device_class=SensorDeviceClass.ENUM,
        options=[work.value for work in FilterWork],
        value=_filter(lambda state: state.work.value),
        wanted=_has_filter,
        explained=_why,
    ),
    UpkeepSensor(
        key="filter_loss",
        translation_key="filter_loss",
        value=_filter(lambda state: _whole(state.level)),
        **_LOSS,
    ),
    UpkeepSensor(
        key="filter_base",
        translation_key="filter_base",
        entity_category=EntityCategory.DIAGNOSTIC,
        entity_registry_enabled_default=False,
        value=_filter(lambda state: _whole(state.base)),
        **_LOSS,
    ),
    UpkeepSensor(
        key="filter_since_cleaned",
        translation_key="filter_since_cleaned",
        state_class=SensorStateClass.TOTAL_INCREASING,
        value=_filter(lambda state: _hours(state.since_cleaned)),
        wanted=_has_filter,
        **_DURATION,
    ),
    UpkeepSensor(
        key="filter_since_replaced",
        translation_key="filter_since_replaced",
        state_class=SensorStateClass.TOTAL_INCREASING,
        entity_registry_enabled_default=False,
        value=_filter(lambda state: _hours(state.since_replaced)),
        wanted=_has_filter,
        **_DURATION,
    ),
    UpkeepSensor(
        key="filter_clean_in",
        translation_key="filter_clean_in",
        value=_filter(lambda state: _hours(state.clean_in)),
        wanted=_has_filter,
        **_LEFT,
    ),
    UpkeepSensor(
        key="filter_replace_in",
        translation_key="filter_replace_in",
        value=_filter(lambda state: _hours(state.replace_in)),
        wanted=lambda hub: bool(
            hub.keeper.plan.filter and hub.keeper.plan.filter.replace_after
        ),
        **_LEFT,
    ),
    UpkeepSensor(
        key="filter_cleaning",
        translation_key="filter_cleaning",
        device_class=SensorDeviceClass.ENUM,
        entity_category=EntityCategory.DIAGNOSTIC,
        options=[phase.value for phase in CleaningPhase],
        value=_cleaning,
        wanted=lambda hub: hub.keeper.cleaning is not None,
    ),
    UpkeepSensor(
        key="filter_cleaned_at",
        translation_key="filter_cleaned_at",
        value=_filter_cleaned_at,
        wanted=_has_filter,
        **_SINCE,
    ),
)

COLLECTOR_SENSORS = (
    UpkeepSensor(
        key="longest_run",
        translation_key="longest_run",
        value=lambda hub: _hours(hub.keeper.care.longest_run),
        **_LEFT,
    ),
    UpkeepSensor(
        key="energy",
        translation_key="energy",
        device_class=SensorDeviceClass.ENERGY,
        state_class=SensorStateClass.TOTAL_INCREASING,
        native_unit_of_measurement=UnitOfEnergy.KILO_WATT_HOUR,
        suggested_display_precision=1,
        value=_energy,
        wanted=lambda hub: CONF_POWER in hub.engine.described.data,
    ),
    UpkeepSensor(
        key="energy_cost",
        translation_key="energy_cost",
        device_class=SensorDeviceClass.MONETARY,
        state_class=SensorStateClass.TOTAL,
        suggested_display_precision=2,
        value=lambda hub: round(hub.collector_sum("cost"), 2),
        wanted=lambda hub: (
            hub.engine.described.data.keys() >= {CONF_POWER, CONF_ENERGY_PRICE}
        ),
    ),
)


def upkeep_sensors(engine: Engine) -> Iterator[GatewrightEntity]:
    """Build the sensors of what is looked after."""
    for description in (*BIN_SENSORS, *FILTER_SENSORS, *COLLECTOR_SENSORS):
        if description.wanted(engine.upkeep):
            yield UpkeepFigure(engine, description)
    for service in engine.upkeep.keeper.plan.services:
        yield ServiceLeft(engine, service)


class UpkeepFigure(UpkeepEntity, SensorEntity):
    """A figure of bin, filter or collector."""

    entity_description: UpkeepSensor
    _unrecorded_attributes = frozenset(
        {
            "alone",
            "earliest",
            "high",
            "known",
            "latest",
            "low",
            "seen_by",
            "uncertainty",
        }
    )

    def __init__(self, engine: Engine, description: UpkeepSensor) -> None:
        """Show what the description says."""
        super().__init__(engine, description)
        if description.device_class is SensorDeviceClass.MONETARY:
            self._attr_native_unit_of_measurement = engine.hass.config.currency

    @property
    @override
    def native_value(self) -> Value:
        return self.entity_description.value(self.upkeep)

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any] | None:
        explained = self.entity_description.explained
        return None if explained is None else explained(self.upkeep)


class ServiceLeft(UpkeepEntity, SensorEntity):
    """How long until something has to be done: hours, days or starts, as it is counted."""

    _attr_state_class = SensorStateClass.MEASUREMENT

    def __init__(self, engine: Engine, service: ServiceInterval) -> None:
        """Show what is left of an interval."""
        super().__init__(engine, f"{SERVICE_PREFIX}{service.service_id}")
        self._attr_translation_placeholders = {"service": service.name}
        self._describe(service)

    def _describe(self, service: ServiceInterval) -> None:
        """Count by hours where the interval does, else by days, else by starts."""
        self._service = service
        unit, digits = None, 0
        if service.after is not None:
            unit, digits = UnitOfTime.HOURS, 1
        elif service.days is not None:
            unit = UnitOfTime.DAYS
        counted = unit is None
        self._attr_translation_key = (
            "service_starts_left" if counted else "service_left"
        )
        self._attr_device_class = None if counted else SensorDeviceClass.DURATION
        self._attr_native_unit_of_measurement = unit
        self._attr_suggested_display_precision = digits

    @override
    def _part_changed(self) -> None:
        # The owner may have changed the interval.
        for service in self.upkeep.keeper.plan.services:
            if service.service_id == self._service.service_id:
                self._describe(service)
        super()._part_changed()

    @property
    @override
    def native_value(self) -> float | None:
        state = self.upkeep.seen.services.get(self._service.service_id)
        if state is None:
            return None
        if self._service.after is not None:
            return _hours(state.left)
        return state.days_left if self._service.days is not None else state.starts_left

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any]:
        keeper = self.upkeep.keeper
        done = keeper.care.reset_at(self._service.service_id, self.upkeep.when())
        return {"last_done": done and done.isoformat(timespec="seconds")}
