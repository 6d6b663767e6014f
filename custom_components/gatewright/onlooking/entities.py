"""What a system that only watches shows, and the switch for it."""

from collections.abc import Callable
from typing import Any

from homeassistant.components.binary_sensor import BinarySensorDeviceClass
from homeassistant.components.sensor import SensorStateClass
from homeassistant.const import EntityCategory

from ..descriptions import (
    HOURS,
    SHARE,
    BinarySensorDescription,
    SensorDescription,
    SwitchDescription,
)
from ..refusals import refusal
from ..shop.units import percent
from ..subjects import CollectorSubject
from .mode import at_rest, at_work, set_watching
from .watcher import Watcher, coverage_of


def _shadow[V](read: Callable[[Watcher], V]) -> Callable[[CollectorSubject], V | None]:
    """Return the reader of what would be, which is there while a system only watches."""
    return lambda collector: (
        None if collector.shadow is None else read(collector.shadow)
    )


_WATCHES: dict[str, Any] = {
    "part": CollectorSubject,
    "exists_fn": lambda collector: collector.shadow is not None,
}

SENSORS: tuple[SensorDescription[CollectorSubject], ...] = (
    SensorDescription(
        key="would_starts",
        state_class=SensorStateClass.TOTAL_INCREASING,
        value_fn=_shadow(lambda shadow: shadow.would["starts"]),
        **_WATCHES,
    ),
    SensorDescription(
        key="would_on_time",
        value_fn=_shadow(lambda shadow: round(shadow.would["on_time"], 1)),
        **HOURS,
        **_WATCHES,
    ),
    SensorDescription(
        key="would_coverage",
        value_fn=_shadow(lambda shadow: percent(coverage_of(shadow.would))),
        **SHARE,
        **_WATCHES,
    ),
)

WOULD_RUN = BinarySensorDescription(
    key="would_run",
    device_class=BinarySensorDeviceClass.RUNNING,
    value_fn=_shadow(lambda shadow: shadow.would_run),
    **_WATCHES,
)


def _set_watching(collector: CollectorSubject, watch: bool) -> None:
    """Let go of everything, or go live; each only while nobody is surprised by it."""
    if watch is (collector.shadow is not None):
        return
    if watch and not at_rest(collector.engine):
        # Nobody would stop it then.
        raise refusal("watch_not_at_rest", name=collector.title)
    if not watch and (running := at_work(collector.engine)):
        # The collector would start at once.
        raise refusal(
            "watch_machine_runs", name=collector.title, machines=", ".join(running)
        )
    set_watching(collector.hass, collector.entry, watch=watch)


MONITOR_ONLY = SwitchDescription(
    key="watch_only",
    part=CollectorSubject,
    entity_category=EntityCategory.CONFIG,
    value_fn=lambda collector: collector.shadow is not None,
    set_fn=_set_watching,
    # It changes what the system is.
    admin_only=True,
)
"""Everything is heard, nothing moves."""
