"""Conditions: a machine runs or has dust collection, the system is idle or blocked."""

from typing import ClassVar, override

from homeassistant.const import STATE_ON
from homeassistant.core import HomeAssistant
from homeassistant.helpers.condition import Condition, EntityStateConditionBase

from .core.control.enums import Phase
from .runtime.entity_lookup import (
    AIR,
    AT_WORK,
    COLLECTOR_PHASE,
    START_BLOCK,
    Kinds,
    domains,
    own_entities,
)
from .runtime.old_names.table import COLLECTOR_PHASES, CONDITIONS as OLD, old_of

ON: set[str | bool] = {STATE_ON}
IDLE: set[str | bool] = {
    Phase.IDLE.value,
    old_of(COLLECTOR_PHASES)[Phase.IDLE.value],
}


class OwnEntityCondition(EntityStateConditionBase):
    """A condition about one kind of Gatewright entity."""

    kinds: ClassVar[Kinds]

    @override
    def entity_filter(self, entities: set[str]) -> set[str]:
        """Keep our own entities of the right kind."""
        return own_entities(self._hass, entities, self.kinds)


class IsRunning(OwnEntityCondition):
    """A machine runs, or dust collection is requested at a pickup without a motor."""

    kinds = AT_WORK
    _domain_specs = domains(kinds)
    _states = ON


class IsCollecting(OwnEntityCondition):
    """A machine's gates are open and the collector is up to speed."""

    kinds = (AIR,)
    _domain_specs = domains(kinds)
    _states = ON


class IsIdle(OwnEntityCondition):
    """The collector is at rest and nothing needs dust collection."""

    kinds = (COLLECTOR_PHASE,)
    _domain_specs = domains(kinds)
    _states = IDLE


class IsStartBlocked(OwnEntityCondition):
    """The owner blocks any start."""

    kinds = (START_BLOCK,)
    _domain_specs = domains(kinds)
    _states = ON
    # The start block is a configuration entity, not beside its device's main switch.
    _primary_entities_only = False


CONDITIONS: dict[str, type[Condition]] = {
    "is_running": IsRunning,
    "is_collecting": IsCollecting,
    "is_idle": IsIdle,
    "is_start_blocked": IsStartBlocked,
}


async def async_get_conditions(hass: HomeAssistant) -> dict[str, type[Condition]]:
    """Return the conditions, also under their old names."""
    return CONDITIONS | {old: CONDITIONS[new] for old, new in OLD.items()}
