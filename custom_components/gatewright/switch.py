"""Switches: collector, dust collection at a machine, automatic mode, start block."""

from typing import Any, override

from homeassistant.components.switch import SwitchEntity
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .core.control.enums import Phase
from .core.inputs import CollectorTurned, Mode, ModeSet
from .entity import GatewrightEntity, add_entities
from .features.actions.pause import pause_of
from .features.entities.descriptions import CONFIG, SwitchDescription
from .features.entities.subjects import CollectorSubject, MachineSubject
from .features.monitor_only.entities import MONITOR_ONLY
from .runtime.permissions import asker_of
from .runtime.system_context import GatewrightConfigEntry, system_of

PARALLEL_UPDATES = 0


def _collector_is_on(collector: CollectorSubject) -> bool:
    """Return the relay's state, which may lag behind a gate or the motor's rest.

    Its target is an entity of its own.
    """
    reported = collector.actuator.reported
    if reported is None or collector.actuator.no_feedback:
        # Without feedback, the last command is all that's known.
        phase = collector.sequence.phase
        return phase in (Phase.OPENING, Phase.COLLECTING, Phase.SHUTTING_OFF)
    return reported


def _turn_collector(collector: CollectorSubject, on: bool) -> None:
    """Request dust collection at the hand gate, or withdraw every request.

    A machine that still runs isn't served until it ends.
    """
    collector.handle(CollectorTurned(on))


def _pause_ends(collector: CollectorSubject) -> dict[str, Any]:
    until = pause_of(collector.system).until
    return {} if until is None else {"changes_at": until}


def _as_device(machine: MachineSubject) -> dict[str, Any]:
    """Name the switch of a pickup without a motor like its device.

    Then "turn on the floor sweep" does what it says. At a machine the switch is named
    after what it moves: nobody should think that it starts the saw.
    """
    # An unreadable part keeps its name.
    plan = machine.system.layout.plans.get(machine.part)
    return {"name": None} if plan is not None and plan.levels is None else {}


SWITCHES: tuple[SwitchDescription[Any], ...] = (
    SwitchDescription(
        key="collector",
        part=CollectorSubject,
        fit_fn=lambda _: {"name": None},
        available_fn=lambda c: c.actuator.reachable,
        value_fn=_collector_is_on,
        set_fn=_turn_collector,
    ),
    SwitchDescription(
        key="automatic",
        part=CollectorSubject,
        **CONFIG,
        value_fn=lambda c: c.sequence.automatic,
        set_fn=lambda collector, on: collector.handle(ModeSet(Mode.AUTOMATIC, on)),
        attributes_fn=_pause_ends,
    ),
    SwitchDescription(
        key="start_block",
        part=CollectorSubject,
        **CONFIG,
        value_fn=lambda c: c.sequence.start_block,
        set_fn=lambda collector, on: collector.handle(ModeSet(Mode.START_BLOCK, on)),
    ),
    MONITOR_ONLY,
    # It stays available while its machine's hose isn't connected: turned on, it
    # explains what to do, where an unavailable switch would do nothing.
    SwitchDescription(
        key="request",
        part=MachineSubject,
        fit_fn=_as_device,
        value_fn=lambda m: m.run.requested,
        set_fn=lambda machine, on: machine.request(on),
    ),
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the switches of one system."""
    await add_entities(system_of(entry), async_add_entities, SWITCHES, GatewrightSwitch)


class GatewrightSwitch(GatewrightEntity, SwitchEntity):
    """Something that a person turns on and off."""

    entity_description: SwitchDescription[Any]

    @property
    @override
    def is_on(self) -> bool:
        return self.entity_description.value_fn(self.subject)

    @override
    async def async_turn_on(self, **kwargs: Any) -> None:
        """Turn it on."""
        await self._turn(True)

    @override
    async def async_turn_off(self, **kwargs: Any) -> None:
        """Turn it off."""
        await self._turn(False)

    async def _turn(self, on: bool) -> None:
        if self.entity_description.admin_only:
            asker = await asker_of(self.hass, self._context)
            asker.require_administration()
        with self.subject.acting():
            self.entity_description.set_fn(self.subject, on)
