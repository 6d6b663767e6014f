"""Loads a plan from the stored data, and finds its entities in Home Assistant."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

from homeassistant.core import HomeAssistant, split_entity_id

from ..const import (
    CONF_ACTUATOR,
    CONF_AIR_SUPPLY,
    CONF_BIN_FULL,
    CONF_BIN_LEVEL,
    CONF_CLEANING,
    CONF_CLOSED_SENSOR,
    CONF_CONNECTED,
    CONF_EARLY_SIGNAL,
    CONF_FILTER_PRESSURE,
    CONF_FIRE_DETECTORS,
    CONF_GATES,
    CONF_LINKED_DEVICES,
    CONF_OPEN_SENSOR,
    CONF_PARTICLES,
    CONF_POWER,
    CONF_RELAY,
    CONF_ROOM_CLEANER,
    CONF_SENSOR,
    CONF_SWITCH,
)
from ..core.config import (
    GateConfig,
    GateKind,
    LinkedDeviceConfig,
    MachineConfig,
    PurgeStep,
    SystemConfig,
)
from ..core.stored.config import StoredConfig
from ..core.stored.parts import StoredGate, StoredMachine, StoredPart
from ..core.stored.system import StoredSystem
from .decoding import OPEN_FROM
from .entity_references import to_entity_id

SLIDES = ("cover", "valve")
"""The domains of actuators that report the slide's position, not only its last
command."""


STAGGER = 2.0
"""Seconds between the starts of a machine's linked devices, so that their inrush
currents don't coincide: common practice, no source."""

MAINTENANCE_SWITCHES = (CONF_CLEANING, CONF_ROOM_CLEANER)
"""The maintenance fields whose entities are switched."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EntitySource:
    """A dependency's entity: its stored reference, and its present id.

    `entity_id` is None once the entity has been removed from Home Assistant.
    """

    stored: str
    entity_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GateSources:
    """The entities of one gate."""

    actuator: EntitySource | None
    inverted: bool
    open_sensor: EntitySource | None
    closed_sensor: EntitySource | None
    open_from: float = OPEN_FROM


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineSources:
    """The entities of one machine; `unit` is None for a signal."""

    sensor: EntitySource | None
    unit: str | None
    running_states: frozenset[str]
    connected: EntitySource | None
    early_signal: EntitySource | None
    relay: EntitySource | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingEntity:
    """What a part of the system has lost: an entity, or a gate that it needs.

    `what` is the field where it was entered.
    """

    part: str
    name: str
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedConfig:
    """One system: the plan, its entities, and what is missing.

    `plans` has every machine, `system` only those that can be served: not one that has
    lost its gates. `watched` has the collector's safety inputs, by field.
    """

    system: SystemConfig
    plans: Mapping[str, MachineConfig]
    switch: EntitySource
    power: EntitySource | None
    gates: Mapping[str, GateSources]
    machines: Mapping[str, MachineSources]
    linked_devices: dict[str, EntitySource]
    watched: Mapping[str, tuple[EntitySource, ...]]
    missing: tuple[MissingEntity, ...]

    def wrapped(self) -> list[EntitySource]:
        """Return the actuators that our entities wrap."""
        return [
            self.switch,
            *(gate.actuator for gate in self.gates.values() if gate.actuator),
        ]

    def maintenance_switches(self) -> dict[str, EntitySource]:
        """Return the switches that maintenance drives, by their stored references."""
        return {
            source.stored: source
            for field in MAINTENANCE_SWITCHES
            for source in self.watched.get(field, ())
        }


def load_config(hass: HomeAssistant, config: StoredConfig) -> LoadedConfig:
    """Return the layout of a system from its usable data."""
    return _ConfigReader(hass, config).layout()


@dataclass
class _ConfigReader:
    hass: HomeAssistant
    config: StoredConfig
    missing: list[MissingEntity] = field(default_factory=list)

    def layout(self) -> LoadedConfig:
        system, gates = self.config.system, self.config.gates
        plans: dict[str, MachineConfig] = {}
        unserved: set[str] = set()
        machine_sources: dict[str, MachineSources] = {}
        linked_devices: dict[str, EntitySource] = {}
        linked_device_plans: dict[str, LinkedDeviceConfig] = {}
        for machine_id, machine in self.config.machines.items():
            plan = plans[machine_id] = _with_gates(machine.plan(), gates.keys())
            machine_sources[machine_id] = self._machine_sources(machine)
            for place, stored in enumerate(plan.linked_devices):
                linked_devices[stored] = self._found(
                    machine, CONF_LINKED_DEVICES, stored
                )
                name = linked_devices[stored].entity_id or stored
                linked_device_plans[stored] = LinkedDeviceConfig(
                    linked_device_id=stored, name=name, delay=place * STAGGER
                )
            if plan.collect_while_running and not plan.gates and gates:
                self._lost(machine, CONF_GATES)
                unserved.add(machine_id)
        sources = {gate_id: self._gate_sources(gate) for gate_id, gate in gates.items()}
        switch = self._found(system, CONF_SWITCH, system.switch)
        power = self._source(system, CONF_POWER, system.power)
        collector = system.plan()
        return LoadedConfig(
            system=SystemConfig(
                collector=replace(
                    collector, hand_gates=_known(collector.hand_gates, gates)
                ),
                gates=tuple(map(self._gate, gates.values())),
                machines=tuple(
                    plan for part, plan in plans.items() if part not in unserved
                ),
                linked_devices=tuple(linked_device_plans.values()),
            ),
            plans=plans,
            switch=switch,
            power=power,
            gates=sources,
            machines=machine_sources,
            linked_devices=linked_devices,
            watched=self._watched(system),
            missing=tuple(self.missing),
        )

    def _watched(self, system: StoredSystem) -> dict[str, tuple[EntitySource, ...]]:
        watching = system.watching
        fields: dict[str, tuple[str | None, ...]] = {
            CONF_FIRE_DETECTORS: watching.fire_detectors,
            CONF_BIN_FULL: (watching.bin_full,),
            CONF_AIR_SUPPLY: (watching.air_supply,),
            CONF_FILTER_PRESSURE: (watching.filter_pressure,),
            CONF_BIN_LEVEL: (system.bin.level,),
            CONF_CLEANING: (system.cleaning.switch,),
            CONF_ROOM_CLEANER: (system.room.cleaner,),
            CONF_PARTICLES: (system.room.particles,),
        }
        return {
            what: tuple(
                self._found(system, what, stored) for stored in several if stored
            )
            for what, several in fields.items()
        }

    def _gate(self, gate: StoredGate) -> GateConfig:
        entity_id = to_entity_id(self.hass, gate.actuator) if gate.actuator else None
        # A switch only repeats its last command; covers and valves, and a sensor at the
        # open end of the stroke, report the slide's position.
        says = bool(gate.open_sensor) or (
            entity_id is not None and split_entity_id(entity_id)[0] in SLIDES
        )
        return gate.plan(
            feedback=says or gate.kind is GateKind.HAND,
            lost=bool(gate.actuator) and entity_id is None,
        )

    def _gate_sources(self, gate: StoredGate) -> GateSources:
        return GateSources(
            actuator=self._source(gate, CONF_ACTUATOR, gate.actuator),
            inverted=gate.inverted,
            open_sensor=self._source(gate, CONF_OPEN_SENSOR, gate.open_sensor),
            closed_sensor=self._source(gate, CONF_CLOSED_SENSOR, gate.closed_sensor),
            open_from=OPEN_FROM if gate.open_from is None else gate.open_from,
        )

    def _machine_sources(self, machine: StoredMachine) -> MachineSources:
        return MachineSources(
            sensor=self._source(machine, CONF_SENSOR, machine.sensor),
            unit=machine.unit,
            running_states=frozenset(machine.running_states),
            connected=self._source(machine, CONF_CONNECTED, machine.connected),
            early_signal=self._source(machine, CONF_EARLY_SIGNAL, machine.early_signal),
            relay=self._source(machine, CONF_RELAY, machine.relay),
        )

    def _source(
        self, owner: StoredPart | StoredSystem, what: str, stored: str | None
    ) -> EntitySource | None:
        return None if stored is None else self._found(owner, what, stored)

    def _found(
        self, owner: StoredPart | StoredSystem, what: str, stored: str
    ) -> EntitySource:
        entity_id = to_entity_id(self.hass, stored)
        if entity_id is None:
            self._lost(owner, what)
        return EntitySource(stored=stored, entity_id=entity_id)

    def _lost(self, owner: StoredPart | StoredSystem, what: str) -> None:
        self.missing.append(
            MissingEntity(part=owner.part_id, name=owner.name, what=what)
        )


def _with_gates(plan: MachineConfig, gates: Collection[str]) -> MachineConfig:
    """Return a machine without missing gates, and without steps that lost theirs."""
    steps = (
        PurgeStep(gates=_known(step.gates, gates), duration=step.duration)
        for step in plan.purge
    )
    purge = tuple(step for step in steps if step.gates or not gates)
    return replace(
        plan,
        gates=_known(plan.gates, gates),
        purge=purge,
        collect_while_running=plan.collect_while_running or not purge,
    )


def _known(gates: Iterable[str], among: Collection[str]) -> tuple[str, ...]:
    return tuple(gate for gate in gates if gate in among)
