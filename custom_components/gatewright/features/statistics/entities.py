"""Time with and without dust collection as entities: by day, week, month, overall."""

from collections.abc import Callable, Mapping
from typing import Any

from homeassistant.components.sensor import SensorDeviceClass
from homeassistant.const import UnitOfDensity, UnitOfTime
from homeassistant.helpers.typing import StateType

from ...core.maintenance.dust_exposure import beside_limits
from ...core.statistics.calendar import MachineTime
from ...core.statistics.not_collecting import NotCollectingReason
from ...core.units import percent
from ...texts.texts import Texts
from ..entities.descriptions import (
    DISABLED,
    HOURS,
    MEASURED,
    SHARE,
    STATISTICS,
    TOTALED,
    SensorDescription,
    sensor,
)
from ..entities.subjects import CollectorSubject, MachineSubject, WorkSubject
from .manager import Reach
from .summary_text import LIMITS, caution
from .time_to_air_text import TIME_TO_AIR

_SINCE = {
    Reach.DAY: "today",
    Reach.WEEK: "this_week",
    Reach.MONTH: "this_month",
    Reach.EVER: "in_all",
}
"""Attributes with the reasons for missing dust collection: s by reason."""


def _total[S: WorkSubject](
    part: type[S], key: str, seconds: Callable[[MachineTime], float], **more: Any
) -> SensorDescription[S]:
    """Describe a total time."""

    def spent(subject: S) -> float:
        return round(seconds(subject.spent(Reach.EVER)), 1)

    return sensor(part, key, spent, follows=STATISTICS, **HOURS, **more)


def _collected_share[S: WorkSubject](
    part: type[S], key: str, reach: Reach, **more: Any
) -> SensorDescription[S]:
    """Describe the collected share of the running time."""

    def share(subject: S) -> float | None:
        return percent(subject.spent(reach).collected_share)

    return sensor(part, key, share, follows=STATISTICS, **SHARE, **more)


def _collected_shares[S: WorkSubject](
    part: type[S], by_day: Mapping[str, Any] = {}, **more: Any
) -> tuple[SensorDescription[S], ...]:
    return (
        _collected_share(part, "collected_share", Reach.EVER, **more),
        *(
            _collected_share(part, f"collected_share_{reach}", reach, **by_day, **more)
            for reach in (Reach.DAY, Reach.WEEK, Reach.MONTH)
        ),
    )


def _lost(spent: MachineTime) -> float:
    """Return the seconds without dust collection that needed it."""
    needless = spent.without.get(NotCollectingReason.NOT_NEEDED, 0.0)
    return max(0.0, spent.run - spent.air - needless)


def _reasons(subject: WorkSubject) -> dict[str, Any]:
    """Return the reasons for missing dust collection."""
    # Only beside the time without dust collection: they change no more often.
    return {
        name: {
            reason.value: round(seconds, 1)
            for reason, seconds in subject.spent(reach).without.items()
        }
        for reach, name in _SINCE.items()
    }


_WHY: dict[str, Any] = {
    "attributes_fn": _reasons,
    "unrecorded": frozenset(_SINCE.values()),
}


def _times[S: WorkSubject](
    part: type[S], **more: Any
) -> tuple[SensorDescription[S], ...]:
    return (
        _total(part, "collecting_time", lambda spent: spent.air, **DISABLED, **more),
        _total(part, "not_collecting_time", _lost, **_WHY, **DISABLED, **more),
    )


def _little[S: WorkSubject](
    part: type[S], exists_fn: Callable[[S], bool]
) -> SensorDescription[S]:
    def little(spent: MachineTime) -> float:
        return spent.little

    return _total(part, "low_airflow_time", little, exists_fn=exists_fn, **DISABLED)


def _is_kept(machine: MachineSubject) -> bool:
    """Return whether a machine is sensed and needs dust collection."""
    return machine.plan.levels is not None and machine.plan.collect_while_running


def _to_a_tenth(time: float | None) -> float | None:
    return None if time is None else round(time, 1)


def _time_to_air(machine: MachineSubject) -> float | None:
    return _to_a_tenth(machine.ledger.times_to_air.latest(machine.part))


def _on_time_to_air(machine: MachineSubject) -> dict[str, Any] | None:
    """Return what limits the time to air, and what would shorten it."""
    timing = machine.statistics.keeper.time_to_air(machine.part)
    if timing is None:
        return None
    found = {
        "median": _to_a_tenth(timing.usual),
        "runs": timing.runs,
        "at_best": _to_a_tenth(timing.chain.at_best),
        "limited_by": timing.judged.limit.value,
        "saves": _to_a_tenth(timing.judged.saves),
        "reporting_interval": _to_a_tenth(timing.chain.reporting),
    }
    if machine.shadow is not None:
        would = machine.shadow.would_time_to_air(machine.part)
        found["simulated"] = _to_a_tenth(would)
    return found


def _dust_today(collector: CollectorSubject) -> StateType:
    average = collector.statistics.dust_today().average
    return None if average is None else round(average, 4)


def _on_dust(collector: CollectorSubject) -> dict[str, Any]:
    """Return the published limits beside the day's dust."""
    dust = collector.statistics.dust_today()
    texts = Texts.cached(collector.hass)
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


SENSORS: tuple[SensorDescription[Any], ...] = (
    *_collected_shares(CollectorSubject, **TOTALED, **DISABLED),
    _total(CollectorSubject, "shop_run_time", lambda spent: spent.run, **DISABLED),
    *_times(CollectorSubject),
    _little(CollectorSubject, lambda c: c.airflow.shop is not None),
    # Today's dust as a mean over 8 h.
    sensor(
        CollectorSubject,
        "dust_today",
        _dust_today,
        exists_fn=lambda c: c.statistics.measures_dust,
        attributes_fn=_on_dust,
        follows=STATISTICS,
        native_unit_of_measurement=UnitOfDensity.MILLIGRAMS_PER_CUBIC_METER,
        suggested_display_precision=2,
        unrecorded=frozenset(
            {"caution", "limits", "mean_while_working", "peak", "working"}
        ),
        **MEASURED,
        **TOTALED,
    ),
    *_collected_shares(
        MachineSubject, DISABLED, exists_fn=_is_kept, due_fn=lambda m: not m.in_use
    ),
    *_times(MachineSubject, exists_fn=_is_kept),
    sensor(
        MachineSubject,
        TIME_TO_AIR,
        _time_to_air,
        exists_fn=_is_kept,
        attributes_fn=_on_time_to_air,
        follows=STATISTICS,
        device_class=SensorDeviceClass.DURATION,
        native_unit_of_measurement=UnitOfTime.SECONDS,
        suggested_display_precision=1,
        unrecorded=frozenset(
            [
                "at_best",
                "limited_by",
                "median",
                "reporting_interval",
                "runs",
                "saves",
                "simulated",
            ]
        ),
        **MEASURED,
        **DISABLED,
    ),
    _little(MachineSubject, lambda m: _is_kept(m) and m.need is not None),
)
