"""Triggers: what a machine or the collector does, and alarms raised or cleared."""

from collections.abc import Collection
from typing import Any, ClassVar, override

from homeassistant.const import CONF_OPTIONS, STATE_OFF, STATE_ON
from homeassistant.core import HomeAssistant, State
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers.trigger import (
    ENTITY_STATE_TRIGGER_SCHEMA,
    ENTITY_STATE_TRIGGER_SCHEMA_WITH_BEHAVIOR,
    EntityTargetStateTriggerBase,
    EntityTriggerBase,
    NotTriggeredReasonReporter,
    StatelessEntityTriggerBase,
    Trigger,
    TriggerConfig,
)
import voluptuous as vol

from .core.control.alarms import AlarmKind
from .core.control.enums import Phase
from .core.control.machine import MachinePhase
from .core.statistics.summary import Period
from .event import CLEARED, RAISED
from .runtime.entity_lookup import (
    AIR,
    ALARM,
    AT_WORK,
    COLLECTOR_PHASE,
    MACHINE_PHASE,
    SUMMARY,
    Kinds,
    domains,
    entities_beside,
    own_entities,
    system_with,
)
from .runtime.old_names.actions import renamed
from .runtime.old_names.table import (
    ALARMS,
    COLLECTOR_PHASES,
    MACHINE_PHASES,
    TRIGGERS as OLD,
    Renamed,
)

CONF_PHASE = "phase"
CONF_ALARM = "alarm"
CONF_PERIOD = "period"

IDLE = {MachinePhase.IDLE.value}
OFF = {STATE_OFF}
ON = {STATE_ON}

BIN_ALARMS = frozenset(kind for kind in AlarmKind if kind.value.startswith("bin_"))
FILTER_ALARMS = frozenset(
    kind for kind in AlarmKind if kind.value.startswith("filter_")
)


class OwnEntityTrigger(EntityTriggerBase):
    """A trigger on one kind of Gatewright entity.

    A target may be a whole area: other entities in it don't count.
    """

    kinds: ClassVar[Kinds]

    @override
    def entity_filter(self, entities: set[str]) -> set[str]:
        """Keep our own entities of the right kind."""
        return own_entities(self._hass, entities, self.kinds)


class BesideEntityTrigger(OwnEntityTrigger):
    """A trigger on an entity that is disabled until a trigger needs it.

    Any entity of its part leads to it.
    """

    kind: ClassVar[tuple[str, str]]
    key: ClassVar[str]

    @override
    def entity_filter(self, entities: set[str]) -> set[str]:
        """Return the entities of the kind beside the named ones."""
        return entities_beside(self._hass, entities, self.kind, self.key)


class MachineStarted(OwnEntityTrigger, EntityTargetStateTriggerBase):
    """A machine began to run, or a pickup without a motor was requested."""

    kinds = AT_WORK
    _domain_specs = domains(kinds)
    _to_states = ON


class MachineGotAir(OwnEntityTrigger, EntityTargetStateTriggerBase):
    """A machine's gates are open and the collector is up to speed."""

    kinds = (AIR,)
    _domain_specs = domains(kinds)
    _to_states = ON


class MachineLostAir(OwnEntityTrigger, EntityTargetStateTriggerBase):
    """Dust collection ended at a working machine; after its work that's normal."""

    kinds = (AIR,)
    _domain_specs = domains(kinds)
    _to_states = OFF

    @override
    def is_valid_transition(self, from_state: State, to_state: State) -> bool:
        """Return whether the machine is still at work."""
        if not super().is_valid_transition(from_state, to_state):
            return False
        found = system_with(self._hass, to_state.entity_id)
        if found is None or found[1] is None:
            return False
        run = found[0].sequence.machines.get(found[1])
        return run is not None and run.in_use


class MachineFinished(BesideEntityTrigger, EntityTargetStateTriggerBase):
    """A machine's work is over: its run, the wait for the next cut and its purge."""

    kind = MACHINE_PHASE
    key = CONF_PHASE
    _domain_specs = domains((kind,))
    _to_states = IDLE


class PhaseChanged(OwnEntityTrigger):
    """A phase began: one of those chosen, or any."""

    _domain_specs = domains((MACHINE_PHASE, COLLECTOR_PHASE))
    renamed: ClassVar[Renamed]

    def __init__(self, hass: HomeAssistant, config: TriggerConfig) -> None:
        super().__init__(hass, config)
        self._phases: Collection[str] = self._options.get(CONF_PHASE, ())

    @override
    def is_valid_transition(self, from_state: State, to_state: State) -> bool:
        """Return whether it's another phase, not another name of the same one."""
        return self._phase(from_state) != self._phase(to_state)

    @override
    def is_valid_state(
        self, state: State, report_not_triggered: NotTriggeredReasonReporter
    ) -> bool:
        """Return whether the phase is one of those chosen."""
        return not self._phases or self._phase(state) in self._phases

    def _phase(self, state: State) -> str:
        return self.renamed.get(state.state, state.state)


def _phase_schema(phases: type[Phase | MachinePhase], old: Renamed) -> vol.Schema:
    return ENTITY_STATE_TRIGGER_SCHEMA_WITH_BEHAVIOR.extend(
        {
            vol.Required(CONF_OPTIONS, default={}): {
                vol.Optional(CONF_PHASE): vol.All(
                    cv.ensure_list,
                    [vol.All(renamed(old), vol.In([phase.value for phase in phases]))],
                )
            }
        }
    )


class CollectorPhaseChanged(PhaseChanged):
    """The collector entered another phase."""

    kinds = (COLLECTOR_PHASE,)
    renamed = COLLECTOR_PHASES
    _schema = _phase_schema(Phase, COLLECTOR_PHASES)


class MachinePhaseChanged(BesideEntityTrigger, PhaseChanged):
    """A machine entered another phase."""

    kind = MACHINE_PHASE
    key = CONF_PHASE
    renamed = MACHINE_PHASES
    _schema = _phase_schema(MachinePhase, MACHINE_PHASES)


class EventTrigger(OwnEntityTrigger, StatelessEntityTriggerBase):
    """One of our event entities fired."""

    happened: str
    _domain_specs = domains((ALARM, SUMMARY))

    @override
    def is_valid_transition(self, from_state: State, to_state: State) -> bool:
        """Return whether it's another event; two may come within one millisecond."""
        return _event_of(from_state) != _event_of(to_state)

    @override
    def is_valid_state(
        self, state: State, report_not_triggered: NotTriggeredReasonReporter
    ) -> bool:
        """Return whether the event matches."""
        return state.attributes.get("event_type") == self.happened


class AlarmTrigger(EventTrigger):
    """An alarm of one of these kinds was raised or cleared; without kinds, any."""

    kinds = (ALARM,)
    alarms: Collection[str] = ()

    @override
    def is_valid_state(
        self, state: State, report_not_triggered: NotTriggeredReasonReporter
    ) -> bool:
        """Return whether the event and its alarm match."""
        alarm = state.attributes.get(CONF_ALARM)
        return super().is_valid_state(state, report_not_triggered) and (
            not self.alarms or ALARMS.get(str(alarm), alarm) in self.alarms
        )


class ChosenAlarmTrigger(AlarmTrigger):
    """An alarm of one of the chosen kinds."""

    _schema = ENTITY_STATE_TRIGGER_SCHEMA.extend(
        {
            vol.Required(CONF_OPTIONS, default={}): {
                vol.Optional(CONF_ALARM): vol.All(
                    cv.ensure_list,
                    [vol.All(renamed(ALARMS), vol.In([*map(str, AlarmKind)]))],
                )
            }
        }
    )

    def __init__(self, hass: HomeAssistant, config: TriggerConfig) -> None:
        super().__init__(hass, config)
        self.alarms = self._options.get(CONF_ALARM, ())


class AlarmRaised(ChosenAlarmTrigger):
    """Something needs attention."""

    happened = RAISED


class AlarmCleared(ChosenAlarmTrigger):
    """An alarm was cleared."""

    happened = CLEARED


class BinDue(AlarmTrigger):
    """The bin is full, or has to be emptied."""

    happened = RAISED
    alarms = BIN_ALARMS


class FilterDue(AlarmTrigger):
    """The filter needs maintenance."""

    happened = RAISED
    alarms = FILTER_ALARMS


class SummaryReady(BesideEntityTrigger, EventTrigger):
    """A day or a week with any work is over."""

    kind = SUMMARY
    key = "summary"
    _schema = ENTITY_STATE_TRIGGER_SCHEMA.extend(
        {
            vol.Required(CONF_OPTIONS, default={}): {
                vol.Optional(CONF_PERIOD, default=Period.DAY.value): vol.In(
                    [Period.DAY.value, Period.WEEK.value]
                )
            }
        }
    )

    def __init__(self, hass: HomeAssistant, config: TriggerConfig) -> None:
        super().__init__(hass, config)
        self.happened = self._options[CONF_PERIOD]


def _event_of(state: State) -> tuple[Any, ...]:
    attributes = state.attributes
    return (
        state.state,
        *(
            attributes.get(name)
            for name in ("event_type", "alarm", "part", "first_day")
        ),
    )


TRIGGERS: dict[str, type[Trigger]] = {
    "machine_started": MachineStarted,
    "machine_collection_started": MachineGotAir,
    "machine_collection_lost": MachineLostAir,
    "machine_finished": MachineFinished,
    "machine_phase_changed": MachinePhaseChanged,
    "collector_phase_changed": CollectorPhaseChanged,
    "alarm_raised": AlarmRaised,
    "alarm_cleared": AlarmCleared,
    "bin_due": BinDue,
    "filter_due": FilterDue,
    "summary_ready": SummaryReady,
}


async def async_get_triggers(hass: HomeAssistant) -> dict[str, type[Trigger]]:
    """Return the triggers, also under their old names."""
    return TRIGGERS | {old: TRIGGERS[new] for old, new in OLD.items()}
