"""The entities of monitor-only mode, and its switch."""

from collections.abc import Callable
from typing import Any

from homeassistant.components.binary_sensor import BinarySensorDeviceClass

from ...core.units import percent
from ...runtime.errors import validation_error
from ..entities.descriptions import (
    CONFIG,
    GROWING,
    HOURS,
    SHARE,
    TOTALED,
    BinarySensorDescription,
    SensorDescription,
    SwitchDescription,
    sensor,
)
from ..entities.subjects import CollectorSubject
from .manager import MonitorOnlyManager, collected_share_of
from .mode import at_rest, at_work, set_monitor_only


def _shadow[V](
    read: Callable[[MonitorOnlyManager], V],
) -> Callable[[CollectorSubject], V | None]:
    """Return the reader of a shadow result, which exists only in monitor-only mode."""
    return lambda c: None if c.shadow is None else read(c.shadow)


def _watches(collector: CollectorSubject) -> bool:
    return collector.shadow is not None


def _would(
    key: str, read: Callable[[MonitorOnlyManager], float | None], **more: Any
) -> SensorDescription[CollectorSubject]:
    return sensor(CollectorSubject, key, _shadow(read), exists_fn=_watches, **more)


SENSORS: tuple[SensorDescription[Any], ...] = (
    _would("simulated_starts", lambda shadow: shadow.would["starts"], **GROWING),
    _would(
        "simulated_on_time", lambda shadow: round(shadow.would["on_time"], 1), **HOURS
    ),
    _would(
        "simulated_collected_share",
        lambda shadow: percent(collected_share_of(shadow.would)),
        **SHARE,
        **TOTALED,
    ),
)

WOULD_RUN = BinarySensorDescription(
    key="simulated_running",
    part=CollectorSubject,
    device_class=BinarySensorDeviceClass.RUNNING,
    exists_fn=_watches,
    value_fn=_shadow(lambda shadow: shadow.would_run),
)


def _set_watching(collector: CollectorSubject, watch: bool) -> None:
    """Start monitoring only, or go live; each only while that surprises nobody."""
    if watch is (collector.shadow is not None):
        return
    if watch and not at_rest(collector.system):
        # Nobody would stop it then.
        raise validation_error("watch_not_at_rest", name=collector.title)
    if not watch and (running := at_work(collector.system)):
        # The collector would start at once.
        raise validation_error(
            "watch_machine_runs", name=collector.title, machines=", ".join(running)
        )
    set_monitor_only(collector.hass, collector.entry, watch=watch)


MONITOR_ONLY = SwitchDescription(
    key="monitor_only",
    part=CollectorSubject,
    # In monitor-only mode the way out must be easy to find; otherwise it's a
    # configuration entity.
    enabled_fn=_watches,
    value_fn=_watches,
    set_fn=_set_watching,
    # It changes what the system is.
    admin_only=True,
    **CONFIG,
)
"""Everything is sensed, nothing moves."""
