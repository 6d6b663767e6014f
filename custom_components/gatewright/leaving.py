"""What is switched off when it is no longer ours, and what would stay on without us."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from homeassistant.const import STATE_ON
from homeassistant.core import HomeAssistant

from .driver import switch_off
from .entities import to_entity_id
from .planning import UPKEEP_SWITCHES, Layout, Source

if TYPE_CHECKING:
    from .engine import Engine


async def let_go(hass: HomeAssistant, stored: str) -> None:
    """Switch off what is on and is no longer driven."""
    entity_id = to_entity_id(hass, stored)
    state = None if entity_id is None else hass.states.get(entity_id)
    if entity_id is not None and state is not None and state.state == STATE_ON:
        await switch_off(hass, entity_id)


def exchanged(before: Source | None, after: Source | None) -> bool:
    """Whether another entity was chosen; a renamed one is the same."""
    if before is None or after is None:
        return before is not after
    return before.stored != after.stored and before.entity_id != after.entity_id


def keeps_on(engine: Engine) -> list[str]:
    """Return the stored references of what would stay on if we were gone.

    While nothing is driven, what is on is somebody else's.
    """
    if engine.watcher is not None:
        return []
    kept = sorted(_at_work(engine))
    motor = engine.sequence.motor
    if engine.sequence.collector_wanted or motor.actuator.reported:
        kept.append(engine.layout.switch.stored)
    return kept


def exchange_collector(engine: Engine, before: Source) -> None:
    """Switch off a collector that is no longer ours, as it may be running."""
    on = engine.sequence.motor.actuator.reported is not False
    if (engine.sequence.collector_wanted or on) and before.entity_id is not None:
        _switch_off(engine, before.entity_id)
    engine.sequence.renew_collector()


def leave_companions(engine: Engine, before: Layout) -> None:
    """Switch off the companions that are no longer ours and run for us.

    The same goes for the switches of the upkeep.
    """
    kept = {source.entity_id for source in _switched(engine.layout)}
    working = _at_work(engine)
    for source in _switched(before):
        entity_id = source.entity_id
        if source.stored in working and entity_id is not None and entity_id not in kept:
            _switch_off(engine, entity_id)


def _switched(layout: Layout) -> Iterator[Source]:
    yield from layout.companions.values()
    for field in UPKEEP_SWITCHES:
        yield from layout.watched.get(field, ())


def _switch_off(engine: Engine, entity_id: str) -> None:
    if engine.watcher is not None:
        return
    engine.hass.async_create_task(
        switch_off(engine.hass, entity_id), f"gatewright lets go of {entity_id}"
    )


def _at_work(engine: Engine) -> set[str]:
    """Return the switches beside the collector's that are on for us.

    Companions that run with a machine, not by somebody's hand, and what the upkeep has
    switched on.
    """
    return engine.upkeep.board.at_work() | {
        companion
        for run in engine.sequence.machines.values()
        if run.runs_companions
        for companion in run.plan.companions
        if (actuator := engine.sequence.companions.actuator(companion)) is not None
        and actuator.want
    }
