"""Shows each gate as a damper and moves it by hand."""

from typing import Any, override

from homeassistant.components.cover import (
    ATTR_IS_CLOSED,
    CoverDeviceClass,
    CoverEntity,
    CoverEntityFeature,
)
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .entity import GatewrightEntity, add_entities
from .features.entities.descriptions import CoverDescription
from .features.entities.subjects import GateSubject
from .runtime.system_context import GatewrightConfigEntry, system_of

PARALLEL_UPDATES = 0

COVERS = (
    CoverDescription(
        key="gate",
        part=GateSubject,
        device_class=CoverDeviceClass.DAMPER,
        exists_fn=lambda gate: gate.actuator is not None,
        fit_fn=lambda _: {"name": None},
    ),
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add a cover for each gate that moves."""
    await add_entities(system_of(entry), async_add_entities, COVERS, GateCover)


class GateCover(GatewrightEntity, CoverEntity):
    """A blast gate."""

    # The state says it too; recorded, it would be another set of attributes each time.
    _unrecorded_attributes = frozenset({ATTR_IS_CLOSED})
    entity_description: CoverDescription[GateSubject]
    subject: GateSubject

    @property
    @override
    def supported_features(self) -> CoverEntityFeature:
        """Return open and close for a powered gate; a manual gate is only shown."""
        if self.subject.powered:
            return CoverEntityFeature.OPEN | CoverEntityFeature.CLOSE
        return CoverEntityFeature(0)

    @property
    @override
    def current_cover_position(self) -> int | None:
        return self.subject.slide.position

    @property
    @override
    def is_closed(self) -> bool | None:
        is_open = self.subject.is_open
        if is_open is None or self.is_opening or self.is_closing:
            # Partly open isn't closed, and a moving gate needn't be commanded again.
            return None if self.subject.slide.position is None else False
        return not is_open

    @property
    @override
    def is_opening(self) -> bool:
        return self._moves_to(opened=True)

    @property
    @override
    def is_closing(self) -> bool:
        return self._moves_to(opened=False)

    @override
    async def async_open_cover(self, **kwargs: Any) -> None:
        """Open the gate and keep it open until its target changes."""
        with self.subject.acting():
            self.subject.move(opened=True)

    @override
    async def async_close_cover(self, **kwargs: Any) -> None:
        """Close the gate, unless it's the impeller's last way in."""
        with self.subject.acting():
            self.subject.move(opened=False)

    def _moves_to(self, *, opened: bool) -> bool:
        if (opening := self.subject.slide.opening) is not None:
            return opening is opened
        actuator = self.subject.actuator
        return (
            actuator is not None
            and actuator.target is opened
            and not actuator.failed
            and self.subject.is_open is not opened
        )
