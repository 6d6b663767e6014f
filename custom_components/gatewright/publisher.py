"""Tells our own entities when the part they belong to has changed.

An entity asks the core for its state when it is told to; here is only kept what each
part looked like the last time, so that nothing is written that has not changed.
"""

from collections.abc import Callable, Iterable
import logging
from typing import TYPE_CHECKING

from homeassistant.core import CALLBACK_TYPE, callback

from .shop.plan import COLLECTOR

if TYPE_CHECKING:
    from .engine import Engine

_LOGGER = logging.getLogger(__name__)


class Publisher:
    """Who follows which part of one system, and what they saw last."""

    def __init__(self, engine: Engine) -> None:
        """Start without followers."""
        self._engine = engine
        self._listeners: dict[str, list[Callable[[], None]]] = {}
        self._seen: dict[str, object] = {}
        self._afresh = True

    @callback
    def listen(self, part: str, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` when the part changes; returns how to stop that."""
        listeners = self._listeners.setdefault(part, [])
        listeners.append(listener)

        @callback
        def unlisten() -> None:
            listeners.remove(listener)
            if not listeners and self._listeners.get(part) is listeners:
                del self._listeners[part]

        return unlisten

    @callback
    def tell(self, parts: Iterable[str]) -> None:
        """Have the entities of these parts look again, changed or not."""
        for part in parts:
            for listener in tuple(self._listeners.get(part, ())):
                try:
                    listener()
                except Exception:
                    # What one of them gets wrong must stop neither the others nor
                    # the shop.
                    _LOGGER.exception("%s cannot be shown", part)

    @callback
    def forget(self) -> None:
        """Have `publish` tell every part the next time, as after a changed plan."""
        self._seen.clear()
        self._afresh = True

    @callback
    def publish(self, touched: Iterable[str], now: float) -> bool:
        """Tell the parts that differ from last time; return whether any did.

        `touched` are the machines that may have changed by themselves. When a gate,
        the collector or an alarm has changed, every machine is looked at: what has
        air depends on them.
        """
        sequence = self._engine.sequence
        alarms: dict[str, tuple[str, ...]] = {}
        for kind, part in self._engine.shop.alarms.standing:
            alarms[part] = (*alarms.get(part, ()), kind)
        changed = self._differs(COLLECTOR, self._collector(tuple(alarms.items())))
        for gate in sequence.system.gates:
            if self._differs(gate.gate_id, self._gate(gate.gate_id, alarms, now)):
                changed = True
        for machine_id in tuple(sequence.machines if changed else touched):
            if machine_id in sequence.machines and self._differs(
                machine_id, self._machine(machine_id, alarms, now)
            ):
                changed = True
        if self._afresh:
            # A machine that has no gate left is not in the plan, but has entities.
            self._afresh = False
            self.tell(self._listeners.keys() - self._seen.keys())
        return changed

    def _differs(self, part: str, look: object) -> bool:
        if self._seen.get(part) == look:
            return False
        self._seen[part] = look
        self.tell((part,))
        return True

    def _collector(self, alarms: object) -> object:
        sequence = self._engine.sequence
        motor = sequence.motor
        return (
            sequence.phase,
            sequence.phase_until,
            motor.turning,
            motor.coast_ends,
            motor.actuator.reported,
            motor.actuator.reachable,
            motor.actuator.failed,
            sequence.automatic,
            sequence.lockout,
            sequence.emergency,
            sequence.by_hand,
            sequence.hand_gates,
            sequence.demanding,
            alarms,
            self._engine.watcher and self._engine.watcher.look,
        )

    def _gate(
        self, gate_id: str, alarms: dict[str, tuple[str, ...]], now: float
    ) -> object:
        actuator = self._engine.sequence.gates.actuator(gate_id)
        if actuator is None:
            return alarms.get(gate_id)
        return (
            actuator.reported,
            actuator.stands(now),
            actuator.want,
            actuator.reachable,
            actuator.failed,
            self._engine.slides.get(gate_id),
            alarms.get(gate_id),
        )

    def _machine(
        self, machine_id: str, alarms: dict[str, tuple[str, ...]], now: float
    ) -> object:
        sequence = self._engine.sequence
        run = sequence.machines[machine_id]
        return (
            run.phase,
            run.step,
            run.until,
            run.in_use,
            run.attached,
            run.requested,
            run.request_until,
            run.sensor is not None and (run.sensor.missing, run.sensor.lost),
            sequence.has_air(machine_id, now),
            self._engine.knows_air(machine_id),
            alarms.get(machine_id),
        )
