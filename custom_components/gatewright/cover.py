"""Each gate as a damper: shows where it stands and moves it by hand."""

from collections.abc import Iterator
from typing import Any, override

from homeassistant.components.cover import (
    CoverDeviceClass,
    CoverEntity,
    CoverEntityFeature,
)
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .entity import GateEntity, GatewrightEntity, add_entities
from .refusals import refused
from .shop.inputs import GateMoved
from .shop.words import Refused
from .sources import Slide
from .system_context import GatewrightConfigEntry, SystemContext, system_of

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add a cover for each gate that moves."""
    add_entities(system_of(entry), async_add_entities, gate=_gate)


def _gate(system: SystemContext, gate_id: str) -> Iterator[GatewrightEntity]:
    if system.sequence.gates.actuator(gate_id) is not None:
        yield GateCover(system, gate_id)


class GateCover(GateEntity, CoverEntity):
    """A blast gate."""

    _attr_device_class = CoverDeviceClass.DAMPER
    _attr_name = None
    _attr_translation_key = "gate"

    def __init__(self, system: SystemContext, gate_id: str) -> None:
        """Show a gate."""
        super().__init__(system, gate_id, "gate")

    @property
    @override
    def supported_features(self) -> CoverEntityFeature:
        """A powered gate can be moved; one moved by hand is only shown."""
        if self.part in self.system.sequence.gates.powered():
            return CoverEntityFeature.OPEN | CoverEntityFeature.CLOSE
        return CoverEntityFeature(0)

    @property
    @override
    def current_cover_position(self) -> int | None:
        return self._slide.position

    @property
    @override
    def is_closed(self) -> bool | None:
        stands = self._stands
        if stands is None:
            # Part open is not shut.
            return None if self._slide.position is None else False
        return not stands

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
        """Open the gate and leave it open until it is wanted otherwise."""
        self._move(opened=True)

    @override
    async def async_close_cover(self, **kwargs: Any) -> None:
        """Shut the gate, unless it is the last one the impeller can breathe through."""
        self._move(opened=False)

    @property
    def _stands(self) -> bool | None:
        actuator = self.actuator
        return None if actuator is None else actuator.stands(self.system.now())

    @property
    def _slide(self) -> Slide:
        return self.system.slides.get(self.part, Slide())

    def _moves_to(self, *, opened: bool) -> bool:
        if (opening := self._slide.opening) is not None:
            return opening is opened
        actuator = self.actuator
        return (
            actuator is not None
            and actuator.want is opened
            and not actuator.failed
            and self._stands is not opened
        )

    def _move(self, *, opened: bool) -> None:
        try:
            self.system.handle(GateMoved(self.part, opened))
        except Refused as err:
            title = self.system.entry.subentries[self.part].title
            raise refused(err, title) from err
