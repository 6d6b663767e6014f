"""What a system that only watches shows, and the switch for it."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, override

from homeassistant.components.binary_sensor import (
    BinarySensorDeviceClass,
    BinarySensorEntity,
)
from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.components.switch import SwitchEntity
from homeassistant.const import PERCENTAGE, EntityCategory, UnitOfTime

from ..entity import CollectorEntity, GatewrightEntity
from ..gatekeeper import asker_of
from ..refusals import refusal
from ..shop.units import percent
from .mode import at_rest, at_work, set_watching
from .watcher import Watcher, coverage_of

if TYPE_CHECKING:
    from ..engine import Engine


@dataclass(frozen=True, kw_only=True)
class WouldSensor(SensorEntityDescription):
    """A figure of what would have been since the system watches."""

    value: Callable[[Watcher], float | None]


def _coverage(watcher: Watcher) -> float | None:
    return percent(coverage_of(watcher.would))


WOULD_SENSORS = (
    WouldSensor(
        key="simulated_starts",
        translation_key="simulated_starts",
        state_class=SensorStateClass.TOTAL_INCREASING,
        value=lambda watcher: watcher.would["starts"],
    ),
    WouldSensor(
        key="simulated_on_time",
        translation_key="simulated_on_time",
        device_class=SensorDeviceClass.DURATION,
        state_class=SensorStateClass.TOTAL_INCREASING,
        native_unit_of_measurement=UnitOfTime.SECONDS,
        suggested_unit_of_measurement=UnitOfTime.HOURS,
        suggested_display_precision=2,
        value=lambda watcher: round(watcher.would["on_time"], 1),
    ),
    WouldSensor(
        key="simulated_collected_share",
        translation_key="simulated_collected_share",
        state_class=SensorStateClass.MEASUREMENT,
        native_unit_of_measurement=PERCENTAGE,
        value=_coverage,
    ),
)


def would_sensors(engine: Engine) -> Iterator[GatewrightEntity]:
    """Yield the figures of what would have been, while a system only watches."""
    if (watcher := engine.watcher) is not None:
        for description in WOULD_SENSORS:
            yield WouldFigure(engine, watcher, description)


def would_run(engine: Engine) -> Iterator[GatewrightEntity]:
    """Yield what says that the collector would turn now."""
    if (watcher := engine.watcher) is not None:
        yield WouldRun(engine, watcher)


class WouldFigure(CollectorEntity, SensorEntity):
    """A figure of what would have been."""

    entity_description: WouldSensor

    def __init__(
        self, engine: Engine, watcher: Watcher, description: WouldSensor
    ) -> None:
        """Show what the description says."""
        super().__init__(engine, description)
        self._watcher = watcher

    @property
    @override
    def native_value(self) -> float | None:
        return self.entity_description.value(self._watcher)


class WouldRun(CollectorEntity, BinarySensorEntity):
    """Whether the collector would turn now."""

    _attr_translation_key = "simulated_running"
    _attr_device_class = BinarySensorDeviceClass.RUNNING

    def __init__(self, engine: Engine, watcher: Watcher) -> None:
        """Look at what would be."""
        super().__init__(engine, "simulated_running")
        self._watcher = watcher

    @property
    @override
    def is_on(self) -> bool:
        return self._watcher.would_run


class WatchOnlySwitch(CollectorEntity, SwitchEntity):
    """Watch only: everything is heard, nothing moves."""

    _attr_entity_category = EntityCategory.CONFIG
    _attr_translation_key = "monitor_only"

    def __init__(self, engine: Engine) -> None:
        """Belong to the system."""
        super().__init__(engine, "monitor_only")

    @property
    @override
    def is_on(self) -> bool:
        return self.engine.watcher is not None

    @override
    async def async_turn_on(self, **kwargs: Any) -> None:
        """Let go of everything; only from rest, since nobody would stop it then."""
        await self._may_store()
        if self.engine.watcher is None:
            if not at_rest(self.engine):
                raise refusal("watch_not_at_rest", name=self.engine.entry.title)
            set_watching(self.hass, self.engine.entry, watch=True)

    @override
    async def async_turn_off(self, **kwargs: Any) -> None:
        """Go live; not while a machine runs, since the collector would start at once."""
        await self._may_store()
        if self.engine.watcher is not None:
            if running := at_work(self.engine):
                raise refusal(
                    "watch_machine_runs",
                    name=self.engine.entry.title,
                    machines=", ".join(running),
                )
            set_watching(self.hass, self.engine.entry, watch=False)

    async def _may_store(self) -> None:
        """Leave it to administrators: it changes what the system is."""
        asker = await asker_of(self.hass, self._context)
        asker.require_administration()
