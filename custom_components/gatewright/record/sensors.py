"""Time with and without air as entities: by day, week, month and ever."""

from collections.abc import Callable
from typing import Any

from homeassistant.components.sensor import SensorDeviceClass, SensorStateClass
from homeassistant.const import UnitOfDensity, UnitOfTime
from homeassistant.helpers.typing import StateType

from ..descriptions import HOURS, SHARE, STATISTICS, SensorDescription
from ..shop.record.reasons import NoAir
from ..shop.record.tally import MachineTime
from ..shop.units import percent
from ..shop.upkeep.exposure import beside_limits
from ..subjects import CollectorSubject, MachineSubject, WorkSubject
from ..wording import Wording
from .book import Reach
from .time_to_air import TIME_TO_AIR
from .words import LIMITS, caution

_SINCE = {
    Reach.DAY: "today",
    Reach.WEEK: "this_week",
    Reach.MONTH: "this_month",
    Reach.EVER: "in_all",
}
"""The attributes that say why air was missing: s by reason."""


def _total[S: WorkSubject](
    key: str, part: type[S], seconds: Callable[[MachineTime], float], **more: Any
) -> SensorDescription[S]:
    """Describe how much time was spent in all."""
    return SensorDescription(
        key=key,
        part=part,
        value_fn=lambda subject: round(seconds(subject.spent(Reach.EVER)), 1),
        follows=STATISTICS,
        **HOURS,
        **more,
    )


def _coverage[S: WorkSubject](
    key: str, part: type[S], reach: Reach, **more: Any
) -> SensorDescription[S]:
    """Describe the share of the running time that had air."""
    return SensorDescription(
        key=key,
        part=part,
        value_fn=lambda subject: percent(subject.spent(reach).coverage),
        follows=STATISTICS,
        **SHARE,
        **more,
    )


def _coverages[S: WorkSubject](
    part: type[S], *, enabled: bool, **more: Any
) -> tuple[SensorDescription[S], ...]:
    return (
        _coverage("coverage", part, Reach.EVER, **more),
        *(
            _coverage(
                f"coverage_{reach}",
                part,
                reach,
                entity_registry_enabled_default=enabled,
                **more,
            )
            for reach in (Reach.DAY, Reach.WEEK, Reach.MONTH)
        ),
    )


def _lost(spent: MachineTime) -> float:
    """Return the seconds without air that needed it."""
    needless = spent.without.get(NoAir.NOT_NEEDED, 0.0)
    return max(0.0, spent.run - spent.air - needless)


def _reasons(subject: WorkSubject) -> dict[str, Any]:
    """Say why air was missing."""
    # Only beside the time without air: they change no more often than that does.
    return {
        name: {
            reason.value: round(seconds, 1)
            for reason, seconds in subject.spent(reach).without.items()
        }
        for reach, name in _SINCE.items()
    }


def _times[S: WorkSubject](
    part: type[S], **more: Any
) -> tuple[SensorDescription[S], ...]:
    return (
        _total(
            "air_time",
            part,
            lambda spent: spent.air,
            entity_registry_enabled_default=False,
            **more,
        ),
        _total(
            "without_air",
            part,
            _lost,
            attributes_fn=_reasons,
            unrecorded=frozenset(_SINCE.values()),
            **more,
        ),
    )


def _is_kept(machine: MachineSubject) -> bool:
    """Whether there is a record of a machine: one that is heard and needs air."""
    return machine.plan.levels is not None and machine.plan.needs_air


def _to_a_tenth(time: float | None) -> float | None:
    return None if time is None else round(time, 1)


def _on_time_to_air(machine: MachineSubject) -> dict[str, Any] | None:
    """Say what the time to air depends on, and what would shorten it."""
    told = machine.statistics.keeper.time_to_air(machine.part)
    if told is None:
        return None
    would = {}
    if (shadow := machine.shadow) is not None:
        would["would_have"] = _to_a_tenth(shadow.would_time_to_air(machine.part))
    return {
        "median": _to_a_tenth(told.usual),
        "runs": told.runs,
        "at_best": _to_a_tenth(told.chain.at_best),
        "limited_by": told.judged.limit.value,
        "saves": _to_a_tenth(told.judged.saves),
        "reporting_interval": _to_a_tenth(told.chain.reporting),
        **would,
    }


def _dust_today(collector: CollectorSubject) -> StateType:
    average = collector.statistics.dust_today().average
    return None if average is None else round(average, 4)


def _on_dust(collector: CollectorSubject) -> dict[str, Any]:
    """Put the published limits beside the day's dust."""
    dust = collector.statistics.dust_today()
    words = Wording.of_the_hub(collector.hass)
    return {
        "mean_while_working": None if dust.mean is None else round(dust.mean, 4),
        "peak": round(dust.peak, 4),
        "working": round(dust.worked, 1),
        "limits": {
            beside.limit.limit_id: {
                "name": words(LIMITS, beside.limit.limit_id),
                "limit": beside.limit.concentration,
                "share": round(100 * beside.share, 1),
                "source": beside.limit.source,
            }
            for beside in beside_limits(dust)
        },
        "caution": caution(words),
    }


SENSORS: tuple[SensorDescription[Any], ...] = (
    *_coverages(CollectorSubject, enabled=True),
    _total("shop_run_time", CollectorSubject, lambda spent: spent.run),
    *_times(CollectorSubject),
    _total(
        "little_air",
        CollectorSubject,
        lambda spent: spent.little,
        exists_fn=lambda collector: collector.airflow.shop is not None,
        entity_registry_enabled_default=False,
    ),
    # Today's dust as a mean over 8 h.
    SensorDescription(
        key="dust_today",
        part=CollectorSubject,
        exists_fn=lambda collector: collector.statistics.measures_dust,
        value_fn=_dust_today,
        attributes_fn=_on_dust,
        follows=STATISTICS,
        native_unit_of_measurement=UnitOfDensity.MILLIGRAMS_PER_CUBIC_METER,
        state_class=SensorStateClass.MEASUREMENT,
        suggested_display_precision=2,
        unrecorded=frozenset(
            {"caution", "limits", "mean_while_working", "peak", "working"}
        ),
    ),
    *_coverages(MachineSubject, enabled=False, exists_fn=_is_kept),
    *_times(MachineSubject, exists_fn=_is_kept),
    SensorDescription(
        key=TIME_TO_AIR,
        part=MachineSubject,
        exists_fn=_is_kept,
        value_fn=lambda machine: _to_a_tenth(
            machine.ledger.times_to_air.latest(machine.part)
        ),
        attributes_fn=_on_time_to_air,
        follows=STATISTICS,
        device_class=SensorDeviceClass.DURATION,
        state_class=SensorStateClass.MEASUREMENT,
        native_unit_of_measurement=UnitOfTime.SECONDS,
        suggested_display_precision=1,
        entity_registry_enabled_default=False,
        unrecorded=frozenset(
            {
                "at_best",
                "limited_by",
                "median",
                "reporting_interval",
                "runs",
                "saves",
                "would_have",
            }
        ),
    ),
    _total(
        "little_air",
        MachineSubject,
        lambda spent: spent.little,
        exists_fn=lambda machine: _is_kept(machine) and machine.need is not None,
        entity_registry_enabled_default=False,
    ),
)
