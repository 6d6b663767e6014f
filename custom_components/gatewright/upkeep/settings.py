"""From what the owner entered to what is looked after.

Nothing is looked after that nobody asked for: a forecast that no one keeps right by
saying when the bin was emptied would only cry wolf.
"""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from ..const import (
    CONF_BIN_EMPTY_READING,
    CONF_BIN_FULL,
    CONF_BIN_FULL_READING,
    CONF_BIN_LEVEL,
    CONF_BIN_USUAL,
    CONF_BIN_VOLUME,
    CONF_BIN_WARN,
    CONF_CLEANING,
    CONF_CLEANING_ABOVE,
    CONF_CLEANING_HOURS,
    CONF_CLEANING_KIND,
    CONF_CLEANING_PAUSE,
    CONF_CLEANING_RUNNING,
    CONF_CLEANING_TIME,
    CONF_CLEANING_TIMES,
    CONF_CLEANING_WAIT,
    CONF_FILTER_FLOW,
    CONF_FILTER_HOURS,
    CONF_FILTER_LIFE,
    CONF_FILTER_LIMIT,
    CONF_FILTER_WORN,
    CONF_PARTICLES_CLEAN,
    CONF_ROOM_CHANGES,
    CONF_ROOM_CLEANER,
    CONF_ROOM_FLOW,
    CONF_ROOM_VOLUME,
    CONF_SERVICES,
)
from ..shop.units import HOUR
from ..shop.upkeep.plan import (
    BinPlan,
    CleaningKind,
    CleaningPlan,
    FilterPlan,
    RoomPlan,
    ServiceInterval,
    UpkeepPlan,
)

SERVICE_PREFIX: Final = "service_"
"""What a service's part is named by: an alarm's part, an entity's key."""

USUAL_BIN: Final = BinPlan()
USUAL_CLEANING: Final = CleaningPlan()
USUAL_FILTER: Final = FilterPlan()
USUAL_ROOM: Final = RoomPlan()

SERVICE_ID: Final = "id"
SERVICE_NAME: Final = "name"
SERVICE_HOURS: Final = "hours"
SERVICE_STARTS: Final = "starts"
SERVICE_DAYS: Final = "days"


def read_upkeep(data: Mapping[str, Any]) -> UpkeepPlan:
    """Return what of a system is looked after, by the data of its config entry."""
    return UpkeepPlan(
        bin=_bin(data), filter=_filter(data), services=_services(data), room=_room(data)
    )


def _bin(data: Mapping[str, Any]) -> BinPlan | None:
    if not data.keys() & {CONF_BIN_VOLUME, CONF_BIN_FULL, CONF_BIN_LEVEL}:
        return None
    usual = data.get(CONF_BIN_USUAL)
    level = CONF_BIN_LEVEL in data
    return BinPlan(
        volume=data.get(CONF_BIN_VOLUME, USUAL_BIN.volume),
        volume_known=CONF_BIN_VOLUME in data,
        full_sensor=CONF_BIN_FULL in data,
        empty_reading=data[CONF_BIN_EMPTY_READING] if level else None,
        full_reading=data[CONF_BIN_FULL_READING] if level else None,
        usual_share=None if usual is None else usual / 100,
        warn_share=data.get(CONF_BIN_WARN, 100 * USUAL_BIN.warn_share) / 100,
    )


def _filter(data: Mapping[str, Any]) -> FilterPlan | None:
    cleaning = _cleaning(data) if CONF_CLEANING in data else None
    asked = {CONF_FILTER_HOURS, CONF_FILTER_LIFE, CONF_FILTER_LIMIT}
    if cleaning is None and not data.keys() & asked:
        return None
    return FilterPlan(
        clean_after=_seconds(data.get(CONF_FILTER_HOURS)),
        replace_after=_seconds(data.get(CONF_FILTER_LIFE)),
        clean_at=data.get(CONF_FILTER_LIMIT, USUAL_FILTER.clean_at),
        replace_at=data.get(CONF_FILTER_WORN),
        flow=data.get(CONF_FILTER_FLOW),
        cleaning=cleaning,
    )


def _cleaning(data: Mapping[str, Any]) -> CleaningPlan:
    usual = USUAL_CLEANING
    return CleaningPlan(
        kind=CleaningKind(data.get(CONF_CLEANING_KIND, usual.kind)),
        wait=data.get(CONF_CLEANING_WAIT, usual.wait),
        duration=data.get(CONF_CLEANING_TIME, usual.duration),
        pause=data.get(CONF_CLEANING_PAUSE, usual.pause),
        times=int(data.get(CONF_CLEANING_TIMES, usual.times)),
        every=data.get(CONF_CLEANING_HOURS, usual.every / HOUR) * HOUR,
        above=data.get(CONF_CLEANING_ABOVE),
        while_running=data.get(CONF_CLEANING_RUNNING, usual.while_running),
    )


def _services(data: Mapping[str, Any]) -> tuple[ServiceInterval, ...]:
    return tuple(_intervals(data.get(CONF_SERVICES, ())))


def _intervals(stored: list[dict[str, Any]]) -> Iterator[ServiceInterval]:
    for item in stored:
        yield ServiceInterval(
            service_id=item[SERVICE_ID],
            name=item[SERVICE_NAME],
            after=_seconds(item.get(SERVICE_HOURS)),
            starts=item.get(SERVICE_STARTS),
            days=item.get(SERVICE_DAYS),
        )


def _room(data: Mapping[str, Any]) -> RoomPlan | None:
    if CONF_ROOM_CLEANER not in data:
        return None
    usual = USUAL_ROOM
    return RoomPlan(
        volume=data.get(CONF_ROOM_VOLUME, usual.volume),
        flow=data.get(CONF_ROOM_FLOW, usual.flow),
        changes=data.get(CONF_ROOM_CHANGES),
        clean_below=data.get(CONF_PARTICLES_CLEAN),
    )


def _seconds(hours: float | None) -> float | None:
    return None if hours is None else hours * HOUR
