"""The snapshot of a system that a card draws: plain data, part by part.

Instants are seconds on Home Assistant's monotonic clock. A card compares them with the
`now` of each message, so neither wall clock has to be right.
"""

from collections.abc import Container
from dataclasses import dataclass
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er

from ...const import DOMAIN
from ...core.config import GateConfig, GateKind, SystemConfig
from ...core.control.actuator import Actuator
from ...core.control.enums import Phase
from ...core.control.machine import Machine
from ...runtime.system_context import SystemContext
from ..airflow.manager import AirflowManager
from ..maintenance.manager import MaintenanceManager
from ..plan.drafts import DRAFTS
from .snapshot_airflow import draw_ducts, draw_flows
from .snapshot_maintenance import draw_maintenance

type Part = dict[str, Any]

GATES = "gates"
MACHINES = "machines"

# What a card needs besides the controlled entity.
_SYSTEM_ENTITIES = {"turning": "binary_sensor"}
_MACHINE_ENTITIES = {"collecting": "binary_sensor", "running": "binary_sensor"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """A system, or some of its parts; `known` lists all that exist.

    `drawn` says whether the ducts are drawn on the plan.
    """

    system: Part
    gates: dict[str, Part]
    machines: dict[str, Part]
    alarms: list[Part]
    ducts: list[Part]
    flows: Part | None
    maintenance: Part | None
    drawn: bool
    known: frozenset[str]


class SnapshotBuilder:
    """Describes the parts of one loaded system."""

    def __init__(self, hass: HomeAssistant, system: SystemContext) -> None:
        self._hass = hass
        self._system = system
        self._registry = er.async_get(hass)
        self._planned: SystemConfig | None = None
        self._plans: dict[str, GateConfig] = {}

    def picture(self, now: float, parts: Container[str] | None) -> Snapshot:
        """Return the system with some of its gates and machines; None means all."""
        gates = self.gate_ids()
        machines = self.machine_ids()
        return Snapshot(
            system=self._collector(now),
            gates={
                gate_id: self._gate(gate_id, now)
                for gate_id in gates
                if parts is None or gate_id in parts
            },
            machines={
                machine_id: self._machine(machine_id, now)
                for machine_id in machines
                if parts is None or machine_id in parts
            },
            alarms=self._alarms(),
            ducts=draw_ducts(self._system.described),
            flows=draw_flows(self._system.of(AirflowManager)),
            maintenance=draw_maintenance(self._system.of(MaintenanceManager)),
            drawn=self._is_drawn(),
            known=frozenset({*gates, *machines}),
        )

    def _is_drawn(self) -> bool:
        draft = self._hass.data.get(DRAFTS, {}).get(self._system.entry.entry_id)
        return draft is not None and draft.is_kept

    def gate_ids(self) -> list[str]:
        """Return the gates in the owner's order."""
        return [gate.gate_id for gate in self._system.sequence.system.gates]

    def machine_ids(self) -> list[str]:
        """Return the machines in the owner's order, including those not served."""
        return [*self._system.described.machines]

    def _collector(self, now: float) -> Part:
        """Return the collector and the modes of the whole system."""
        sequence = self._system.sequence
        actuator = sequence.motor.actuator
        until = None
        waits = False
        match sequence.phase:
            case Phase.SHUTTING_OFF:
                until = sequence.phase_until
            case Phase.SPINNING_DOWN:
                until = sequence.motor.spin_down_ends
            case Phase.OPENING:
                allowed = sequence.motor.duty.may_start_at(now)
                if allowed > now:
                    until, waits = allowed, True
        owner = self._system.entry.entry_id
        return {
            "name": self._system.entry.title,
            "phase": sequence.phase.value,
            "until": _instant(until),
            "waits": waits,
            "turning": sequence.motor.turning,
            "wanted": sequence.collector_wanted,
            "may_turn": sequence.impeller_may_turn(now),
            "fault": _fault(actuator),
            "automatic": sequence.automatic,
            "lockout": sequence.start_block,
            "emergency": sequence.fire_shutdown,
            "by_hand": sequence.by_hand,
            "held_off": sequence.held_off,
            "watching": self._system.watching,
            "entity": self._entity("switch", owner, "collector"),
            "entities": self._entities(owner, _SYSTEM_ENTITIES),
        }

    def _gate(self, gate_id: str, now: float) -> Part:
        """Return a gate."""
        plan = self._plan(gate_id)
        sequence = self._system.sequence
        actuator = sequence.gates.actuator(gate_id)
        return {
            "name": plan.name,
            "kind": plan.kind.value,
            "stand": "open" if actuator is None else _position(actuator, now),
            "fault": None if actuator is None else _fault(actuator),
            "entity": None
            if plan.kind is GateKind.FIXED
            else self._entity("cover", gate_id, "gate"),
        }

    def _machine(self, machine_id: str, now: float) -> Part:
        """Return a machine; one that can't be served has no phase."""
        stored = self._system.described.machines[machine_id]
        run = self._system.sequence.machines.get(machine_id)
        part: Part = {
            "name": stored.name,
            "kind": stored.kind.value,
            "gates": list(stored.gates if run is None else run.plan.gates),
            "entity": self._entity("switch", machine_id, "request"),
            "entities": self._entities(machine_id, _MACHINE_ENTITIES),
        }
        if run is None:
            return part | {"phase": None}
        return part | {
            **_work(run),
            "air": self._system.sequence.is_collecting(machine_id, now),
        }

    def _alarms(self) -> list[Part]:
        """Return the active alarms, oldest first."""
        active = self._system.shop.alarms.standing.values()
        return [
            {
                "kind": alarm.condition.kind.value,
                "part": alarm.condition.part,
                "at": _instant(alarm.raised_at),
                **self._linked_device(alarm.condition.part),
            }
            for alarm in sorted(active, key=lambda alarm: alarm.raised_at)
        ]

    def _linked_device(self, part: str) -> Part:
        """Name a linked device or maintenance switch: shown when it needs a person."""
        if (name := self._system.of(MaintenanceManager).name(part)) is not None:
            owner = self._system.entry.entry_id
            return {"entity": self._entity("sensor", owner, part), "name": name}
        layout = self._system.layout
        switched = layout.maintenance_switches()
        source = layout.linked_devices.get(part) or switched.get(part)
        if source is None or source.entity_id is None:
            return {}
        state = self._hass.states.get(source.entity_id)
        name = source.entity_id if state is None else state.name
        return {"entity": source.entity_id, "name": name}

    def _plan(self, gate_id: str) -> GateConfig:
        planned = self._system.sequence.system
        if planned is not self._planned:
            self._planned = planned
            self._plans = {gate.gate_id: gate for gate in planned.gates}
        return self._plans[gate_id]

    def _entity(self, domain: str, owner: str, key: str) -> str | None:
        return self._registry.async_get_entity_id(domain, DOMAIN, f"{owner}_{key}")

    def _entities(self, owner: str, kinds: dict[str, str]) -> dict[str, str]:
        """Return the entities that have a state to show."""
        return {
            key: entity_id
            for key, domain in kinds.items()
            if (entity_id := self._entity(domain, owner, key)) is not None
            and (found := self._registry.async_get(entity_id)) is not None
            and found.disabled_by is None
        }


def _work(run: Machine) -> Part:
    sensor = run.sensor
    return {
        "sensed": sensor is not None,
        "needs_air": run.plan.collect_while_running,
        "phase": run.phase.value,
        "until": _instant(run.until),
        "clears": [
            gate
            for step in run.plan.purge
            for gate in step.gates
            if gate not in run.plan.gates
        ],
        "running": run.senses_running,
        "requested": run.requested,
        "request_until": _instant(run.request_until),
        "attached": run.is_connected,
        "missing": sensor is not None and sensor.missing,
        "lost": sensor is not None and sensor.lost,
    }


def _instant(at: float | None) -> float | None:
    return None if at is None else round(at, 3)


def _position(actuator: Actuator, now: float) -> str:
    is_open = actuator.state_at(now)
    under_way = (
        actuator.target is not None
        and actuator.target is not is_open
        and actuator.reachable
        and not actuator.failed
    )
    if under_way:
        return "opening" if actuator.target else "shutting"
    if is_open is None:
        return "between"
    return "open" if is_open else "shut"


def _fault(actuator: Actuator) -> str | None:
    if not actuator.reachable:
        return "away"
    return "failed" if actuator.failed else None
