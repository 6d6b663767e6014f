"""Time with and without air as entities: by day, week, month and ever."""

from abc import abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, override

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.const import PERCENTAGE, UnitOfDensity, UnitOfTime
from homeassistant.helpers.typing import StateType

from ..entity import CollectorEntity, GatewrightEntity, MachineEntity
from ..old_names.shown import shown_data
from ..shop.plan import Machine
from ..shop.record.reasons import NoAir
from ..shop.record.tally import MachineTime
from ..shop.units import percent
from ..shop.upkeep.exposure import beside_limits
from ..text.texts import Texts
from .book import Reach
from .summary_text import LIMITS, caution
from .time_to_air_text import TIME_TO_AIR

if TYPE_CHECKING:
    from ..engine import Engine


@dataclass(frozen=True, kw_only=True)
class SpentSensor(SensorEntityDescription):
    """A figure of how time was spent, and how far back it reaches."""

    reach: Reach
    value: Callable[[MachineTime], StateType]


def _coverage(spent: MachineTime) -> float | None:
    return percent(spent.coverage)


def _without(spent: MachineTime) -> float:
    """Return the seconds without air that needed it."""
    needless = spent.without.get(NoAir.NOT_NEEDED, 0.0)
    return round(max(0.0, spent.run - spent.air - needless), 1)


_SHARE: dict[str, Any] = {
    "state_class": SensorStateClass.MEASUREMENT,
    "native_unit_of_measurement": PERCENTAGE,
    "value": _coverage,
}
_TOTAL: dict[str, Any] = {
    "reach": Reach.EVER,
    "device_class": SensorDeviceClass.DURATION,
    "state_class": SensorStateClass.TOTAL_INCREASING,
    "native_unit_of_measurement": UnitOfTime.SECONDS,
    "suggested_unit_of_measurement": UnitOfTime.HOURS,
    "suggested_display_precision": 2,
}


def _coverages(*, enabled: bool) -> tuple[SpentSensor, ...]:
    return tuple(
        SpentSensor(
            key=f"collected_share_{reach}",
            translation_key=f"collected_share_{reach}",
            reach=reach,
            entity_registry_enabled_default=enabled,
            **_SHARE,
        )
        for reach in (Reach.DAY, Reach.WEEK, Reach.MONTH)
    )


_AIR_TIME = SpentSensor(
    key="collecting_time",
    translation_key="collecting_time",
    entity_registry_enabled_default=False,
    value=lambda spent: round(spent.air, 1),
    **_TOTAL,
)
_WITHOUT_AIR = SpentSensor(
    key="not_collecting_time",
    translation_key="not_collecting_time",
    value=_without,
    **_TOTAL,
)

LITTLE_AIR = SpentSensor(
    key="low_airflow_time",
    translation_key="low_airflow_time",
    entity_registry_enabled_default=False,
    value=lambda spent: round(spent.little, 1),
    **_TOTAL,
)

_SINCE = {
    Reach.DAY: "today",
    Reach.WEEK: "this_week",
    Reach.MONTH: "this_month",
    Reach.EVER: "in_all",
}
"""The attributes that say why air was missing: s by reason."""

COVERAGE_EVER = SpentSensor(
    key="collected_share", translation_key="collected_share", reach=Reach.EVER, **_SHARE
)

SHOP_SPENT = (
    COVERAGE_EVER,
    *_coverages(enabled=True),
    SpentSensor(
        key="shop_run_time",
        translation_key="shop_run_time",
        value=lambda spent: round(spent.run, 1),
        **_TOTAL,
    ),
    _AIR_TIME,
    _WITHOUT_AIR,
)

MACHINE_SPENT = (COVERAGE_EVER, *_coverages(enabled=False), _AIR_TIME, _WITHOUT_AIR)


def shop_record(engine: Engine) -> Iterator[GatewrightEntity]:
    """Build what the whole shop has of the record."""
    for description in SHOP_SPENT:
        yield ShopTime(engine, description)
    if engine.air.shop is not None:
        yield ShopTime(engine, LITTLE_AIR)
    if engine.record.measures_dust:
        yield DustToday(engine)


def machine_record(engine: Engine, plan: Machine) -> Iterator[GatewrightEntity]:
    """Build what a machine has of the record: one that is heard and needs air."""
    if plan.levels is not None and plan.needs_air:
        for description in MACHINE_SPENT:
            yield MachineSpent(engine, plan.machine_id, description)
        yield LastTimeToAir(engine, plan.machine_id)
        shop = engine.air.shop
        if shop is not None and shop.needs[plan.machine_id].placed:
            yield MachineSpent(engine, plan.machine_id, LITTLE_AIR)


class _Recorded(GatewrightEntity, SensorEntity):
    """Something that the record knows."""

    @override
    async def async_added_to_hass(self) -> None:
        """Follow the calendar as well."""
        await super().async_added_to_hass()
        self.async_on_remove(self.engine.record.listen(self._part_changed))


class _Told(_Recorded):
    """How time was spent; where it is the time without air, why."""

    _unrecorded_attributes = frozenset(_SINCE.values())
    entity_description: SpentSensor

    @abstractmethod
    def spent(self, reach: Reach) -> MachineTime:
        """Return the time that is told of."""

    @property
    @override
    def native_value(self) -> StateType:
        description = self.entity_description
        return description.value(self.spent(description.reach))

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any] | None:
        # Only here: they change no more often than the state does.
        if self.entity_description is not _WITHOUT_AIR:
            return None
        told = {
            name: {
                reason.value: round(seconds, 1)
                for reason, seconds in self.spent(reach).without.items()
            }
            for reach, name in _SINCE.items()
        }
        return shown_data(self.engine.entry, told)


class ShopTime(_Told, CollectorEntity):
    """How the time of all machines was spent."""

    @override
    def spent(self, reach: Reach) -> MachineTime:
        return self.engine.record.spent_by_all(reach)


class MachineSpent(_Told, MachineEntity):
    """How the time of a machine was spent."""

    @override
    def spent(self, reach: Reach) -> MachineTime:
        return self.engine.record.spent(reach, self.part)


class LastTimeToAir(_Recorded, MachineEntity):
    """The time to air of a machine's last run, and what it depends on."""

    _attr_translation_key = TIME_TO_AIR
    _attr_device_class = SensorDeviceClass.DURATION
    _attr_state_class = SensorStateClass.MEASUREMENT
    _attr_native_unit_of_measurement = UnitOfTime.SECONDS
    _attr_suggested_display_precision = 1
    _attr_entity_registry_enabled_default = False
    _unrecorded_attributes = frozenset(
        {
            "at_best",
            "limited_by",
            "median",
            "reporting_interval",
            "runs",
            "saves",
            "simulated",
        }
    )

    def __init__(self, engine: Engine, machine_id: str) -> None:
        """Belong to a machine."""
        super().__init__(engine, machine_id, TIME_TO_AIR)

    @property
    @override
    def native_value(self) -> float | None:
        return _to_a_tenth(self.engine.shop.ledger.times_to_air.latest(self.part))

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any] | None:
        told = self.engine.record.keeper.time_to_air(self.part)
        if told is None:
            return None
        return {
            "median": _to_a_tenth(told.usual),
            "runs": told.runs,
            "at_best": _to_a_tenth(told.chain.at_best),
            "limited_by": told.judged.limit.value,
            "saves": _to_a_tenth(told.judged.saves),
            "reporting_interval": _to_a_tenth(told.chain.reporting),
            **self._would(),
        }

    def _would(self) -> dict[str, float | None]:
        """Return what it would have been, while the system only watches."""
        if (watcher := self.engine.watcher) is None:
            return {}
        told = {"simulated": _to_a_tenth(watcher.would_time_to_air(self.part))}
        return shown_data(self.engine.entry, told)


class DustToday(_Recorded, CollectorEntity):
    """Today's dust as a mean over 8 h, with the published limits beside it."""

    _attr_translation_key = "dust_today"
    _attr_native_unit_of_measurement = UnitOfDensity.MILLIGRAMS_PER_CUBIC_METER
    _attr_state_class = SensorStateClass.MEASUREMENT
    _attr_suggested_display_precision = 2
    _unrecorded_attributes = frozenset(
        {"caution", "limits", "mean_while_working", "peak", "working"}
    )

    def __init__(self, engine: Engine) -> None:
        """Belong to the collector."""
        super().__init__(engine, "dust_today")

    @property
    @override
    def native_value(self) -> StateType:
        average = self.engine.record.dust_today().average
        return None if average is None else round(average, 4)

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any]:
        dust = self.engine.record.dust_today()
        texts = Texts.cached(self.hass)
        return {
            "mean_while_working": None if dust.mean is None else round(dust.mean, 4),
            "peak": round(dust.peak, 4),
            "working": round(dust.worked, 1),
            "limits": {
                beside.limit.limit_id: {
                    "name": texts(LIMITS, beside.limit.limit_id),
                    "limit": beside.limit.concentration,
                    "share": round(100 * beside.share, 1),
                    "source": beside.limit.source,
                }
                for beside in beside_limits(dust)
            },
            "caution": caution(texts),
        }


def _to_a_tenth(time: float | None) -> float | None:
    return None if time is None else round(time, 1)
