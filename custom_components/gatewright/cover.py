"""Each gate as a damper: shows where it stands and moves it by hand."""

from time import monotonic
from typing import Any, override

from homeassistant.components.cover import (
    CoverDeviceClass,
    CoverEntity,
    CoverEntityFeature,
)
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .engine import Engine, GatewrightConfigEntry
from .entity import GateEntity, add_entities, refused
from .shop.plan import GateKind
from .shop.words import Refused

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add a cover for each gate that moves."""
    add_entities(entry.runtime_data, async_add_entities, gate=_gate)


def _gate(engine: Engine, gate_id: str) -> list[GateCover]:
    for gate in engine.sequence.system.gates:
        if gate.gate_id == gate_id and gate.kind is not GateKind.FIXED:
            return [GateCover(engine, gate_id, gate.kind)]
    return []


class GateCover(GateEntity, CoverEntity):
    """A blast gate."""

    _attr_device_class = CoverDeviceClass.DAMPER
    _attr_name = None
    _attr_translation_key = "gate"

    def __init__(self, engine: Engine, gate_id: str, kind: GateKind) -> None:
        """Move a gate that is powered; one moved by hand is only shown."""
        super().__init__(engine, gate_id, "gate")
        self._attr_supported_features = CoverEntityFeature(0)
        if kind is GateKind.POWERED:
            self._attr_supported_features = (
                CoverEntityFeature.OPEN | CoverEntityFeature.CLOSE
            )

    @property
    @override
    def is_closed(self) -> bool | None:
        stands = self._stands
        return None if stands is None else not stands

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
        return None if actuator is None else actuator.stands(monotonic())

    def _moves_to(self, *, opened: bool) -> bool:
        actuator = self.actuator
        return (
            actuator is not None
            and actuator.want is opened
            and not actuator.failed
            and self._stands is not opened
        )

    def _move(self, *, opened: bool) -> None:
        try:
            self.engine.sequence.move_gate(self.part, opened=opened, now=monotonic())
        except Refused as err:
            title = self.engine.entry.subentries[self.part].title
            raise refused(err, title) from err
        self.engine.advance()
