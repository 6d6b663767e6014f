"""From what the owner entered to a plan, and to the hub's entities behind it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from homeassistant.config_entries import ConfigSubentry
from homeassistant.core import HomeAssistant, split_entity_id

from .const import (
    CONF_ACTUATOR,
    CONF_AIR_SUPPLY,
    CONF_ATTACHED,
    CONF_BIN_ANSWER,
    CONF_BIN_FULL,
    CONF_BIN_LEVEL,
    CONF_CERTAIN,
    CONF_CLEANING,
    CONF_CLEARING,
    CONF_COAST,
    CONF_COMPANIONS,
    CONF_CONFIRM,
    CONF_DURATION,
    CONF_EMERGENCY,
    CONF_FILTER_PRESSURE,
    CONF_FORETOLD,
    CONF_GATE_KIND,
    CONF_GATES,
    CONF_GRACE,
    CONF_HAND_GATES,
    CONF_HOLD,
    CONF_HOSE_CONFIRM,
    CONF_INVERTED,
    CONF_KIND,
    CONF_NEEDS_AIR,
    CONF_ON_LOST,
    CONF_OPEN_FROM,
    CONF_OPEN_SENSOR,
    CONF_PARTICLES,
    CONF_POWER,
    CONF_RELAY,
    CONF_REQUEST_LIMIT,
    CONF_REST,
    CONF_REST_TIME,
    CONF_ROOM_CLEANER,
    CONF_RUN_LIMIT,
    CONF_RUN_ON,
    CONF_RUNNING_STATES,
    CONF_SENSOR,
    CONF_SHUT_SENSOR,
    CONF_SILENCE,
    CONF_SPIN_UP,
    CONF_START,
    CONF_START_DELAY,
    CONF_START_SETTLE,
    CONF_START_WHEN,
    CONF_STARTS_PER_HOUR,
    CONF_STOP,
    CONF_STOP_SETTLE,
    CONF_SWITCH,
    CONF_TRAVEL,
    CONF_UNIT,
    SUBENTRY_GATE,
    SUBENTRY_MACHINE,
)
from .entities import to_entity_id
from .shop.kinds import MachineKind
from .shop.plan import (
    HOSE_CONFIRM,
    SIGNAL_LEVELS,
    BinAnswer,
    ClearingStep,
    Collector,
    Companion,
    Gate,
    GateKind,
    Levels,
    Machine,
    OnLost,
    Rest,
    StartWhen,
    System,
)
from .sources import OPEN_FROM

SLIDES = ("cover", "valve")
"""The domains of actuators that say where the slide is, not only what they were told."""


STAGGER = 2.0
"""Seconds between the starts of a machine's companions, so that their inrush does not
fall together: common practice, no source."""

WATCHED = (
    CONF_EMERGENCY,
    CONF_BIN_FULL,
    CONF_AIR_SUPPLY,
    CONF_FILTER_PRESSURE,
    CONF_BIN_LEVEL,
    CONF_CLEANING,
    CONF_ROOM_CLEANER,
    CONF_PARTICLES,
)
"""The fields of what watches over the collector, and of what is looked after."""

UPKEEP_SWITCHES = (CONF_CLEANING, CONF_ROOM_CLEANER)
"""Those of them that are switched."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A hub entity that something depends on: what was stored, and where it is now.

    `entity_id` is None once the entity has been removed from the hub.
    """

    stored: str
    entity_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GateSources:
    """The entities of one gate."""

    actuator: Source | None
    inverted: bool
    open_sensor: Source | None
    shut_sensor: Source | None
    open_from: float = OPEN_FROM


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineSources:
    """The entities of one machine; `unit` is None for a signal."""

    sensor: Source | None
    unit: str | None
    running_states: frozenset[str]
    attached: Source | None
    foretold: Source | None
    relay: Source | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Something a part of the system has lost: an entity, or a gate it needs.

    `what` is the field it was entered in.
    """

    part: str
    name: str
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """One system: the plan, the entities behind it, and what has gone missing.

    `plans` holds every machine, `system` only those that can be served: not one that
    has lost its gates. `watched` holds what watches over the collector, by its field.
    """

    system: System
    plans: Mapping[str, Machine]
    switch: Source
    power: Source | None
    gates: Mapping[str, GateSources]
    machines: Mapping[str, MachineSources]
    companions: dict[str, Source]
    watched: Mapping[str, tuple[Source, ...]]
    missing: tuple[Missing, ...]

    def wrapped(self) -> list[Source]:
        """Return the actuators that ours stand for."""
        return [
            self.switch,
            *(gate.actuator for gate in self.gates.values() if gate.actuator),
        ]

    def upkeep_switches(self) -> dict[str, Source]:
        """Return the switches that the upkeep drives, by what was stored for each."""
        return {
            source.stored: source
            for field in UPKEEP_SWITCHES
            for source in self.watched.get(field, ())
        }


class Described(Protocol):
    """What a system is read from: its config entry, or what that might become."""

    @property
    def data(self) -> Mapping[str, Any]:
        """What was entered of the collector."""

    @property
    def entry_id(self) -> str:
        """The id of the config entry."""

    @property
    def title(self) -> str:
        """The name of the system."""

    @property
    def subentries(self) -> Mapping[str, ConfigSubentry]:
        """The gates, machines and ducts by their ids."""

    def get_subentries_of_type(self, subentry_type: str) -> list[ConfigSubentry]:
        """Return those of one type."""


def read_layout(hass: HomeAssistant, entry: Described) -> Layout:
    """Return the layout of a config entry with everything that can be used of it."""
    return _Reader(hass, entry).layout()


@dataclass
class _Reader:
    hass: HomeAssistant
    entry: Described
    missing: list[Missing] = field(default_factory=list)

    def layout(self) -> Layout:
        data = self.entry.data
        gates = {
            subentry.subentry_id: subentry
            for subentry in self.entry.get_subentries_of_type(SUBENTRY_GATE)
        }
        plans: dict[str, Machine] = {}
        unserved: set[str] = set()
        machine_sources: dict[str, MachineSources] = {}
        companions: dict[str, Source] = {}
        companion_plans: dict[str, Companion] = {}
        for subentry in self.entry.get_subentries_of_type(SUBENTRY_MACHINE):
            plan = plans[subentry.subentry_id] = self._machine(subentry, gates.keys())
            machine_sources[subentry.subentry_id] = self._machine_sources(subentry)
            for place, stored in enumerate(plan.companions):
                companions[stored] = self._found(subentry, CONF_COMPANIONS, stored)
                name = companions[stored].entity_id or stored
                companion_plans[stored] = Companion(
                    companion_id=stored, name=name, delay=place * STAGGER
                )
            if plan.needs_air and not plan.gates and gates:
                self._lost(subentry, CONF_GATES)
                unserved.add(subentry.subentry_id)
        sources = {g: self._gate_sources(subentry) for g, subentry in gates.items()}
        switch = self._found(None, CONF_SWITCH, data[CONF_SWITCH])
        power = self._source(None, CONF_POWER, data)
        return Layout(
            system=System(
                collector=self._collector(gates.keys()),
                gates=tuple(self._gate(subentry) for subentry in gates.values()),
                machines=tuple(
                    plan for part, plan in plans.items() if part not in unserved
                ),
                companions=tuple(companion_plans.values()),
            ),
            plans=plans,
            switch=switch,
            power=power,
            gates=sources,
            machines=machine_sources,
            companions=companions,
            watched=self._watched(),
            missing=tuple(self.missing),
        )

    def _watched(self) -> dict[str, tuple[Source, ...]]:
        found: dict[str, tuple[Source, ...]] = {}
        for what in WATCHED:
            stored = self.entry.data.get(what) or []
            found[what] = tuple(
                self._found(None, what, reference)
                for reference in ([stored] if isinstance(stored, str) else stored)
            )
        return found

    def _collector(self, gates: Any) -> Collector:
        data = self.entry.data
        return Collector(
            name=self.entry.title,
            run_on=data[CONF_RUN_ON],
            coast=data[CONF_COAST],
            start_delay=data[CONF_START_DELAY],
            confirm=data[CONF_CONFIRM],
            rest=data[CONF_REST_TIME],
            starts_per_hour=data.get(CONF_STARTS_PER_HOUR),
            hand_gates=tuple(g for g in data[CONF_HAND_GATES] if g in gates),
            bin_answer=BinAnswer(data.get(CONF_BIN_ANSWER, BinAnswer.WARN)),
            spin_up=data.get(CONF_SPIN_UP),
            # A system that was set up before there was a choice waits as it did.
            start_when=StartWhen(data.get(CONF_START_WHEN, StartWhen.GATE_OPEN)),
        )

    def _gate(self, subentry: ConfigSubentry) -> Gate:
        data = subentry.data
        actuator = data.get(CONF_ACTUATOR)
        entity_id = actuator and to_entity_id(self.hass, actuator)
        # A switch only says what it was told; covers and valves, and a sensor at
        # the open end of the stroke, say where the slide is.
        feedback = bool(data.get(CONF_OPEN_SENSOR)) or (
            bool(entity_id) and split_entity_id(entity_id)[0] in SLIDES
        )
        kind = GateKind(data[CONF_GATE_KIND])
        return Gate(
            gate_id=subentry.subentry_id,
            name=subentry.title,
            kind=kind,
            travel=data[CONF_TRAVEL],
            feedback=feedback or kind is GateKind.HAND,
            rest=Rest(data[CONF_REST]),
            lost=bool(actuator) and entity_id is None,
        )

    def _gate_sources(self, subentry: ConfigSubentry) -> GateSources:
        data = subentry.data
        return GateSources(
            actuator=self._source(subentry, CONF_ACTUATOR, data),
            inverted=data.get(CONF_INVERTED, False),
            open_sensor=self._source(subentry, CONF_OPEN_SENSOR, data),
            shut_sensor=self._source(subentry, CONF_SHUT_SENSOR, data),
            open_from=data.get(CONF_OPEN_FROM, OPEN_FROM),
        )

    def _machine(self, subentry: ConfigSubentry, gates: Any) -> Machine:
        data = subentry.data
        steps = (
            ClearingStep(
                gates=tuple(g for g in step[CONF_GATES] if g in gates),
                duration=step[CONF_DURATION],
            )
            for step in data.get(CONF_CLEARING, ())
        )
        clearing = tuple(step for step in steps if step.gates or not gates)
        return Machine(
            machine_id=subentry.subentry_id,
            name=subentry.title,
            kind=MachineKind(data[CONF_KIND]),
            gates=tuple(g for g in data[CONF_GATES] if g in gates),
            levels=_levels(data),
            needs_air=data[CONF_NEEDS_AIR] or not clearing,
            hold=data[CONF_HOLD],
            clearing=clearing,
            movable=CONF_ATTACHED in data,
            companions=tuple(data.get(CONF_COMPANIONS, ())),
            request_limit=data.get(CONF_REQUEST_LIMIT),
            run_limit=data.get(CONF_RUN_LIMIT),
            foretold=CONF_FORETOLD in data,
            hose_confirm=data.get(CONF_HOSE_CONFIRM, HOSE_CONFIRM),
        )

    def _machine_sources(self, subentry: ConfigSubentry) -> MachineSources:
        data = subentry.data
        return MachineSources(
            sensor=self._source(subentry, CONF_SENSOR, data),
            unit=data.get(CONF_UNIT),
            running_states=frozenset(data.get(CONF_RUNNING_STATES, ())),
            attached=self._source(subentry, CONF_ATTACHED, data),
            foretold=self._source(subentry, CONF_FORETOLD, data),
            relay=self._source(subentry, CONF_RELAY, data),
        )

    def _source(
        self, subentry: ConfigSubentry | None, what: str, data: Mapping[str, Any]
    ) -> Source | None:
        stored = data.get(what)
        return None if stored is None else self._found(subentry, what, stored)

    def _found(self, subentry: ConfigSubentry | None, what: str, stored: str) -> Source:
        entity_id = to_entity_id(self.hass, stored)
        if entity_id is None:
            self._lost(subentry, what)
        return Source(stored=stored, entity_id=entity_id)

    def _lost(self, subentry: ConfigSubentry | None, what: str) -> None:
        owner = self.entry if subentry is None else subentry
        part = self.entry.entry_id if subentry is None else subentry.subentry_id
        self.missing.append(Missing(part=part, name=owner.title, what=what))


def _levels(data: Mapping[str, Any]) -> Levels | None:
    if CONF_SENSOR not in data:
        return None
    signal = CONF_UNIT not in data
    return Levels(
        start=SIGNAL_LEVELS.start if signal else data[CONF_START],
        stop=SIGNAL_LEVELS.stop if signal else data[CONF_STOP],
        start_settle=data[CONF_START_SETTLE],
        stop_settle=data[CONF_STOP_SETTLE],
        grace=data[CONF_GRACE],
        on_lost=OnLost(data[CONF_ON_LOST]),
        silence=data.get(CONF_SILENCE),
        certain=None if signal else data.get(CONF_CERTAIN),
    )
