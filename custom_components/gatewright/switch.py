"""What a person switches: the collector, air at a machine, automatic, lockout."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from time import monotonic
from typing import Any, override

from homeassistant.components.switch import SwitchEntity, SwitchEntityDescription
from homeassistant.const import EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .actions.pause import pause_of
from .engine import Engine, GatewrightConfigEntry
from .entity import (
    CollectorEntity,
    GatewrightEntity,
    MachineEntity,
    add_entities,
)
from .onlooking.entities import WatchOnlySwitch
from .refusals import refused
from .shop.sequence import Sequence
from .shop.words import Phase, Refused

PARALLEL_UPDATES = 0


@dataclass(frozen=True, kw_only=True)
class ModeSwitch(SwitchEntityDescription):
    """A mode of the whole system."""

    is_on: Callable[[Sequence], bool]
    set_on: Callable[[Sequence, bool], None]
    changes_at: Callable[[Engine], datetime | None] = lambda _: None
    """When it switches by itself."""


MODE_SWITCHES = (
    ModeSwitch(
        key="automatic",
        translation_key="automatic",
        entity_category=EntityCategory.CONFIG,
        is_on=lambda sequence: sequence.automatic,
        set_on=lambda sequence, on: sequence.set_automatic(on),
        changes_at=lambda engine: pause_of(engine).until,
    ),
    ModeSwitch(
        key="start_block",
        translation_key="start_block",
        entity_category=EntityCategory.CONFIG,
        is_on=lambda sequence: sequence.lockout,
        set_on=lambda sequence, on: sequence.set_lockout(on),
    ),
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the switches of one system."""
    add_entities(
        entry.runtime_data,
        async_add_entities,
        collector=_collector,
        machine=lambda engine, machine_id: [AirSwitch(engine, machine_id)],
    )


def _collector(engine: Engine) -> Iterator[GatewrightEntity]:
    yield CollectorSwitch(engine, "collector")
    for description in MODE_SWITCHES:
        yield SystemModeSwitch(engine, description)
    yield WatchOnlySwitch(engine)


class CollectorSwitch(CollectorEntity, SwitchEntity):
    """The collector: on asks for air at the hand gate, off withdraws every request.

    Its state is that of the relay, which may have to wait for a gate or for the motor's
    rest; whether it should be on is an entity of its own.
    """

    _attr_name = None
    _attr_translation_key = "collector"

    @property
    @override
    def available(self) -> bool:
        return self.actuator.reachable

    @property
    @override
    def is_on(self) -> bool:
        reported = self.actuator.reported
        if reported is None or self.actuator.mute:
            # It does not say how it stands: what it was told is all there is.
            phase = self.engine.sequence.phase
            return phase in (Phase.OPENING, Phase.COLLECTING, Phase.RUN_ON)
        return reported

    @override
    async def async_turn_on(self, **kwargs: Any) -> None:
        """Ask for air at the hand gate."""
        try:
            self.engine.sequence.start_by_hand()
        except Refused as err:
            raise refused(err, self.engine.entry.title) from err
        self.engine.advance()

    @override
    async def async_turn_off(self, **kwargs: Any) -> None:
        """Withdraw every request; a machine that still runs gets no air until it ends."""
        try:
            self.engine.sequence.stop_by_hand()
        except Refused as err:
            raise refused(err, self.engine.entry.title) from err
        self.engine.advance()


class SystemModeSwitch(CollectorEntity, SwitchEntity):
    """A mode of the whole system."""

    entity_description: ModeSwitch

    @property
    @override
    def is_on(self) -> bool:
        return self.entity_description.is_on(self.engine.sequence)

    @property
    @override
    def extra_state_attributes(self) -> dict[str, Any]:
        until = self.entity_description.changes_at(self.engine)
        return {} if until is None else {"changes_at": until}

    @override
    async def async_turn_on(self, **kwargs: Any) -> None:
        """Enter the mode."""
        self.entity_description.set_on(self.engine.sequence, True)
        self.engine.advance()

    @override
    async def async_turn_off(self, **kwargs: Any) -> None:
        """Leave the mode."""
        self.entity_description.set_on(self.engine.sequence, False)
        self.engine.advance()


class AirSwitch(MachineEntity, SwitchEntity):
    """Air at one machine, asked for by a person.

    A pickup without a motor of its own carries the device's name, so that "turn on
    the floor sweep" does what it says. At a machine the switch is named after what it
    moves: nobody should think that it starts the saw.

    It stays available while its machine is not attached: asked for then, it says what
    to do about it, where an unavailable switch would only do nothing.
    """

    def __init__(self, engine: Engine, machine_id: str) -> None:
        """Ask for air at a machine."""
        super().__init__(engine, machine_id, "request")
        if engine.layout.plans[machine_id].levels is None:
            self._attr_name = None
        self._attr_translation_key = "request"

    @property
    @override
    def is_on(self) -> bool:
        run = self.run
        return run is not None and run.requested

    @override
    async def async_turn_on(self, **kwargs: Any) -> None:
        """Ask for air."""
        try:
            self.engine.sequence.request(self.part, monotonic())
        except Refused as err:
            title = self.engine.entry.subentries[self.part].title
            raise refused(err, title) from err
        self.engine.advance()

    @override
    async def async_turn_off(self, **kwargs: Any) -> None:
        """Withdraw the request."""
        self.engine.sequence.withdraw(self.part)
        self.engine.advance()
