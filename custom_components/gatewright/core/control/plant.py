"""The parts of one system as the shop knows them: collector, gates, machines, linked devices.

Here is what they are told and what they have to say; what follows from it is the
business of `sequence`.
"""

from collections.abc import Callable, Iterator

from ..config import COLLECTOR, SystemConfig
from .actuator import Actuator, Order
from .gates import GateController
from .machine import Machine
from .machine_set import MachineSet
from .motor import Motor
from .switch_controller import SwitchController, SwitchTimes


class Plant:
    """Everything the sequence works with.

    `suspended` and `trying` are a system check's: a machine that runs is not served
    by itself, and the collector was started to see whether it does.

    `coming_up` says that what was never heard of yet may still be, `coming_back` that
    the shop was away and that its parts come back one by one. `disabled` are the parts
    whose entity the owner has disabled. `beside` returns what is known of an actuator that
    is driven along with these.
    """

    def __init__(self, system: SystemConfig, now: float) -> None:
        """Begin at `now` with nothing known: the impeller may be turning."""
        self.motor = Motor(system.collector)
        self.gates = GateController(system.collector.confirm)
        self.linked_devices = SwitchController()
        self.machine_set = MachineSet()
        self.adopting = True
        self.suspended = self.trying = False
        self.coming_up = self.coming_back = False
        self.disabled: frozenset[str] = frozenset()
        self.beside: Callable[[str], Actuator | None] = lambda _: None
        self.replan(system, now)

    def replan(self, system: SystemConfig, now: float) -> None:
        """Take up a changed plan without disturbing what goes on."""
        self.system = system
        self._slowest = max((gate.travel for gate in system.gates), default=0.0)
        self.motor.replan(system.collector)
        self.gates.plan(system.gates, system.collector.confirm, now)
        self.linked_devices.plan(
            {
                device.linked_device_id: SwitchTimes(device.delay, device.shutoff_delay)
                for device in system.linked_devices
            }
        )
        self.machine_set.plan(system.machines, now)

    def renew_collector(self) -> None:
        """Forget what is known of a collector whose switch was exchanged for another."""
        duty, meter = self.motor.duty, self.motor.spin_up_meter
        self.motor = Motor(self.system.collector)
        self.motor.duty, self.motor.spin_up_meter = duty, meter
        self.adopting = True

    @property
    def machines(self) -> dict[str, Machine]:
        """Every machine by its id, in the plan's order."""
        return self.machine_set.runs

    @property
    def watched(self) -> set[str]:
        """The machines at which something goes on."""
        return self.machine_set.watched

    def read(self, machine_id: str, value: float | None, now: float) -> bool:
        """Take a machine's reading; return whether `advance` has to be called.

        A signal reads 1.0 or 0.0; None is "no usable reading".
        """
        run = self.machine_set.runs[machine_id]
        sensor, relay = run.sensor, run.relay
        if sensor is None:
            return False
        believed = relay.contradicted
        changed = sensor.read(relay.read(value, now, sensor.levels.stop), now)
        if not changed and believed is relay.contradicted:
            return False
        self.machine_set.watch(machine_id)
        return True

    def switch_relay(self, machine_id: str, on: bool | None, now: float) -> bool:
        """Take what the relay of a machine's plug says; return as `read` does.

        A machine whose plug is off has stopped.
        """
        run = self.machines[machine_id]
        believed = run.relay.contradicted
        off = run.relay.switched(on, now)
        changed = off and run.sensor is not None and run.sensor.read(0.0, now)
        if not changed and believed is run.relay.contradicted:
            return False
        self.machine_set.watch(machine_id)
        return True

    def set_connected(
        self, machine_id: str, connected: bool | None, now: float
    ) -> None:
        """Take the signal of a movable machine's hose; None is "not known"."""
        self.machine_set.watch(machine_id).set_connected(connected, now)

    def report_early_signal(
        self, machine_id: str, present: bool | None, now: float
    ) -> None:
        """Take whether somebody is about to work at a machine; None is "not known"."""
        self.machine_set.watch(machine_id).early_signal.hear(present, now)

    def read_collector_power(self, watts: float | None, now: float) -> bool:
        """Take a reading of the collector's power in W; return as `read` does."""
        return self.motor.read_power(watts, now)

    def report_gate(
        self,
        gate_id: str,
        value: bool | None,
        now: float,
        *,
        reachable: bool = True,
        own: bool = False,
        no_feedback: bool = False,
        position: float | None = None,
    ) -> None:
        """Take a report from a gate: True open, False closed, None between the two.

        One that is `no_feedback` is there and does not say how it stands. `position` is how
        far it is open, 0 to 1, where it says so.
        """
        self.gates.report(
            gate_id,
            value,
            now,
            reachable=reachable,
            own=own,
            no_feedback=no_feedback,
            position=position,
        )

    def orders(self) -> Iterator[tuple[str, Order]]:
        """Yield the commands that are due, by the id of what they concern.

        The collector stops before a gate moves, and starts after one has been told to.
        """
        order = self.motor.actuator.order
        if order and not order.target:
            yield COLLECTOR, order
        yield from self.gates.orders()
        if order and order.target:
            yield COLLECTOR, order
        yield from self.linked_devices.orders()

    def actuator(self, part: str) -> Actuator | None:
        """Return what is known of an actuator."""
        if part == COLLECTOR:
            return self.motor.actuator
        known = self.gates.actuator(part) or self.linked_devices.actuator(part)
        return known or self.beside(part)

    def dispatched(self, part: str, now: float) -> None:
        """Note that a command is on its way."""
        if part in self.gates:
            self.gates.dispatched(part, now)
        elif (actuator := self.actuator(part)) is not None:
            actuator.dispatched(now)

    def hold_up(self, part: str) -> None:
        """Note that a command waits for one before it that has not returned."""
        if (actuator := self.actuator(part)) is not None:
            actuator.hold_up()

    def refused(self, part: str) -> None:
        """Note that the command which left last was not taken."""
        if part in self.gates:
            self.gates.refused(part)
        elif (actuator := self.actuator(part)) is not None:
            actuator.refused()

    def is_collecting(self, machine_id: str, now: float) -> bool:
        """Whether dust is collected at a machine.

        The impeller is up to speed, and all its gates are open.
        """
        gates = self.machines[machine_id].work_gates
        return self.motor.up_to_speed(now) and self.gates.all_open(gates, now)

    def has_feedback(self, machine_id: str) -> bool:
        """Whether the collector and all gates of a machine say how they stand."""
        gates = map(self.gates.actuator, self.machines[machine_id].plan.gates)
        return self.motor.actuator.reachable and all(
            gate is None or gate.reachable for gate in gates
        )

    def pass_time(self, now: float, *, automatic: bool, allowed: bool) -> None:
        """Bring every part up to `now`.

        `automatic` says that a running machine is served, `allowed` that anything is;
        while it is `suspended` none is.
        """
        self.motor.advance(now)
        self.gates.advance(now)
        self.linked_devices.advance(now)
        self.machine_set.advance(
            now,
            automatic=automatic and not self.suspended,
            allowed=allowed,
            clears=lambda run: self._clears(run, now),
            patience=self._patience,
            spin_down=self.system.collector.spin_down,
        )

    def dues_after(self, now: float) -> list[float]:
        """Return the instants after `now` at which time alone changes a part."""
        return [
            *self.machine_set.due_after(now),
            *self.gates.due_after(now),
            *self.linked_devices.due_after(now),
            *self.motor.due_after(now),
        ]

    def _clears(self, run: Machine, now: float) -> bool:
        """Whether the purge step of a machine has its suction."""
        gates = run.wanted_gates
        return self.motor.up_to_speed(now) and self.gates.all_open(gates, now)

    @property
    def _patience(self) -> float:
        """Return how long in s a purge step may wait for its gates and the motor."""
        collector = self.system.collector
        start = collector.start_delay + collector.rest + self.motor.actuator.window
        start += self.motor.spin_up
        return 2 * self._slowest + start
