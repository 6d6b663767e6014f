"""The whole workshop: it moves from event to event, never in small steps, so that a late call loses nothing.

Instants are seconds since the epoch on a clock that the caller supplies and that never
goes back.
"""

from collections.abc import Iterable
from typing import Any

from custom_components.gatewright.core.simulation.plant.motion import TICK
from custom_components.gatewright.core.times import earliest

from .fan import Collector
from .faults import COMMAND_FAULTS, POSSIBLE, Fault, Part
from .gate import Gate
from .glance import Flags, Seen
from .layout import COLLECTOR, SITE, GateKind, Layout, MeterKind
from .machine import PLUG_LATENCY, Machine
from .memory import dump, load
from .truth import GateTruth, MachineTruth, Truth

LATE = 15.0
"""The delay of a late command [s]."""

HAND_LATENCY = 0.1
"""The relay's delay after the switch on the collector's own case [s]."""


class WorldError(ValueError):
    """The request names something that this workshop lacks; the message says what."""


class World:
    """The state of a workshop, and everything that can be done to it."""

    def __init__(self, layout: Layout, now: float) -> None:
        self.layout = layout
        self.now = now
        self.collector = Collector(layout.collector)
        self.gates = {key: Gate(spec) for key, spec in layout.gates.items()}
        self.machines = {key: Machine(spec) for key, spec in layout.machines.items()}
        self.faults: dict[str, set[Fault]] = {}
        self.truth = self._blank_truth(now)
        self._seen = Seen()

    # Time

    def next_event(self) -> float | None:
        """Return the instant of the next event, or None."""
        return earliest(
            [
                self.collector.next_event(self.now),
                self._bin_fills(),
                *(gate.next_event(self.now) for gate in self.gates.values()),
                *(machine.next_event(self.now) for machine in self.machines.values()),
            ]
        )

    def advance(self, to: float) -> bool:
        """Advance to an instant; return whether anything happened. An instant in the past changes nothing."""
        happened = False
        while (event := self.next_event()) is not None and event <= to:
            self._pass(event)
            self._settle()
            happened = True
        self._pass(to)
        return happened

    # What Home Assistant does

    def command_fault(self, part: str) -> Fault | None:
        """Return how a command to this part would fail, if it would."""
        return next(iter(sorted(self.faults.get(part, set()) & COMMAND_FAULTS)), None)

    def command_gate(self, key: str, position: float) -> None:
        """Drive a gate to a position from 0 (closed) to 1 (open)."""
        self._gate(key).command(
            self.now,
            position,
            bouncing=self._bounces(key),
            delay=self._delay(key),
        )
        self._settle()

    def stop_gate(self, key: str) -> None:
        """Stop a gate."""
        self._gate(key).stop(self.now)

    def command_collector(self, *, on: bool) -> None:
        """Switch the collector's relay from Home Assistant."""
        self.collector.command(
            self.now,
            on=on,
            latency=self.layout.collector.latency + self._delay(COLLECTOR),
            bouncing=self._bounces(COLLECTOR),
        )
        self._settle()

    def command_plug(self, key: str, *, on: bool) -> None:
        """Switch the relay of a machine's plug from Home Assistant."""
        machine = self._machine(key)
        was = machine.relay.closed
        latency = PLUG_LATENCY + self._delay(key)
        machine.relay.command(self.now, on=on, latency=latency)
        if self._bounces(key):
            machine.relay.bounce.start(self.now, float(on), float(was))

    # What people do

    def run_machine(self, key: str, load: float, seconds: float | None = None) -> None:
        """Turn a machine on under a load from 0 to 1, for good or for some seconds."""
        machine = self._machine(key)
        machine.steps = []
        if seconds is None:
            machine.switch_on(self.now, load)
        else:
            machine.follow(self.now, [(seconds, load)])
        self._settle()

    def work_machine(
        self, key: str, steps: Iterable[tuple[float, float | None]]
    ) -> None:
        """Let a machine's operator follow a plan: pairs of (seconds, load or None for off); it ends off."""
        self._machine(key).follow(self.now, steps)
        self._settle()

    def stop_machine(self, key: str) -> None:
        """Turn a machine off."""
        self._machine(key).switch_off()
        self._settle()

    def attach(self, key: str, *, attached: bool) -> None:
        """Connect a movable machine's hose, or disconnect it."""
        machine = self._machine(key)
        if not machine.spec.movable:
            raise WorldError(f"Machine {key} is not movable")
        machine.attached = attached
        self.truth.note(self.now, key, "attached" if attached else "detached")

    def move_gate_by_hand(self, key: str, position: float) -> None:
        """Push a gate's slide to a position from 0 to 1."""
        self._gate(key).move_by_hand(self.now, position)
        self.truth.note(self.now, key, f"moved by hand to {position:.0%}")
        self._settle()

    def switch_collector_by_hand(self, *, on: bool) -> None:
        """Turn the switch on the collector's own case."""
        self.collector.command(self.now, on=on, latency=HAND_LATENCY)
        self.truth.note(
            self.now, COLLECTOR, f"switched {'on' if on else 'off'} by hand"
        )
        self._settle()

    def set_bin(self, percent: float) -> None:
        """Fill the bin, or empty it."""
        self.collector.bin_level = self.layout.collector.bin_liters * percent / 100.0

    # What goes wrong

    def kind_of(self, part: str) -> Part:
        """Return the kind of part that a key names."""
        if part == COLLECTOR:
            return Part.COLLECTOR
        if part == SITE:
            return Part.SITE
        if part in self.gates:
            return (
                Part.HAND_GATE
                if self.gates[part].spec.kind is GateKind.HAND
                else Part.GATE
            )
        spec = self._machine(part).spec
        return Part.CLAMP if spec.meter_kind is MeterKind.CLAMP else Part.PLUG

    def break_part(self, part: str, fault: Fault) -> None:
        """Add a fault; raises `WorldError` if it doesn't apply to the part."""
        possible = POSSIBLE[self.kind_of(part)]
        if part in self.machines and self.machines[part].spec.movable:
            possible |= POSSIBLE[Part.MOVABLE]
        if fault not in possible:
            raise WorldError(f"{fault} cannot befall {part}")
        self.faults.setdefault(part, set()).add(fault)
        self.truth.note(self.now, part, f"broken: {fault}")
        self._afflict()

    def mend_part(self, part: str, fault: Fault | None = None) -> None:
        """Remove one fault of a part, or all of them."""
        self.kind_of(part)
        mended = {fault} if fault else set(Fault)
        left = self.faults.pop(part, set()) - mended
        if left:
            self.faults[part] = left
        self.truth.note(self.now, part, f"mended: {fault or 'everything'}")
        self._afflict()

    def mend_everything(self) -> None:
        """Remove all faults of all parts."""
        self.faults = {}
        self.truth.note(self.now, SITE, "mended: everything")
        self._afflict()

    def has(self, part: str, fault: Fault) -> bool:
        """Whether a part has a fault."""
        return fault in self.faults.get(part, ())

    # What is really so

    @property
    def mains(self) -> bool:
        """Whether the workshop has power."""
        return not self.has(SITE, Fault.MAINS_OUT)

    def opening(self) -> float:
        """Return the sum of all gate positions."""
        return sum(gate.position(self.now) for gate in self.gates.values())

    def has_air(self, key: str) -> bool:
        """Whether dust is really collected at a machine: the fan fast enough and all its gates open."""
        return self.collector.moves_air(self.now) and all(
            self.gates[gate].is_open(self.now) for gate in self.machines[key].spec.gates
        )

    def machine_draw(self, key: str) -> float:
        """Return a machine's real power [W]."""
        return self.machines[key].draw(self.now)

    def collector_draw(self) -> float:
        """Return the collector's real power [W]."""
        return self.collector.draw(self.now, self.opening())

    def standing(self) -> dict[str, Any]:
        """Return the real state now, as plain data."""
        now = self.now
        return {
            "collector": {
                "powered": self.collector.powered,
                "relay": self.collector.relay.closed,
                "speed": round(self.collector.speed(now), 3),
                "turning": self.collector.turning(now),
                "draw": round(self.collector_draw(), 1),
                "bin_percent": round(self.collector.bin_share, 2),
            },
            "gates": {
                key: round(gate.position(now), 3) for key, gate in self.gates.items()
            },
            "machines": {
                key: {
                    "running": machine.running,
                    "draw": round(machine.draw(now), 1),
                    "attached": machine.attached or not machine.spec.movable,
                    "air": self.has_air(key),
                }
                for key, machine in self.machines.items()
            },
            "faults": {part: sorted(faults) for part, faults in self.faults.items()},
        }

    def reset_truth(self) -> None:
        """Begin a new record."""
        self.truth = self._blank_truth(self.now)

    # Memory

    def dump(self) -> dict[str, Any]:
        """Return everything that must survive Home Assistant as plain data."""
        return {
            "now": self.now,
            "collector": dump(self.collector),
            "gates": {key: dump(gate) for key, gate in self.gates.items()},
            "machines": {key: dump(machine) for key, machine in self.machines.items()},
            "faults": {part: sorted(faults) for part, faults in self.faults.items()},
            "truth": dump(self.truth),
        }

    def load(self, data: dict[str, Any]) -> None:
        """Restore the state that `dump` returned; newer parts keep their state."""
        self.now = data["now"]
        load(self.collector, data["collector"])
        for key, gate in self.gates.items():
            load(gate, data["gates"].get(key, {}))
        for key, machine in self.machines.items():
            load(machine, data["machines"].get(key, {}))
        self.faults = {
            part: {Fault(fault) for fault in faults}
            for part, faults in data["faults"].items()
            if part in {COLLECTOR, SITE, *self.gates, *self.machines}
        }
        load(self.truth, data["truth"])
        for key, record in data["truth"]["machines"].items():
            self.truth.machines[key] = MachineTruth(**record)
        for key, record in data["truth"]["gates"].items():
            self.truth.gates[key] = GateTruth(**record)
        self._seen = self._look_around()

    # Within

    def _gate(self, key: str) -> Gate:
        if key not in self.gates:
            raise WorldError(f"There is no gate {key}")
        return self.gates[key]

    def _machine(self, key: str) -> Machine:
        if key not in self.machines:
            raise WorldError(f"There is no machine {key}")
        return self.machines[key]

    def _bounces(self, part: str) -> bool:
        return self.has(part, Fault.COMMAND_BOUNCE)

    def _delay(self, part: str) -> float:
        return LATE if self.has(part, Fault.COMMAND_LATE) else 0.0

    def _blank_truth(self, now: float) -> Truth:
        return Truth(
            since=now,
            machines={key: MachineTruth() for key in self.machines},
            gates={key: GateTruth() for key in self.gates},
        )

    def _flags(self, now: float) -> Flags:
        return Flags.at(now, self.collector, self.gates)

    def _pass(self, to: float) -> None:
        """Account for the time up to an instant, without relevant changes in it."""
        seconds = to - self.now
        if seconds <= 0:
            return
        # In the middle of the interval every position is clearly on one side.
        middle = self.now + seconds / 2
        flags = self._flags(middle)
        truth = self.truth
        truth.motor_on += seconds if self.collector.powered else 0.0
        truth.count_shut(
            seconds,
            turning=flags.turning,
            all_shut=flags.all_shut,
            none_open=flags.none_open,
            strained=flags.strained,
        )
        for key in self.gates:
            truth.count_gate(
                key, seconds, is_open=key in flags.open_gates, air=flags.air
            )
        self.collector.bin_level += seconds * self._dust_rate(flags)
        for key, machine in self.machines.items():
            machine.energy += seconds * machine.draw(middle)
            truth.count_machine(
                key,
                seconds,
                running=machine.running,
                attached=machine.attached or not machine.spec.movable,
                air=flags.air and flags.open_gates.issuperset(machine.spec.gates),
            )
        self.now = to

    def _dust_rate(self, flags: Flags) -> float:
        """Return how fast the bin fills [l/s]: only collected dust gets there."""
        if not flags.air:
            return 0.0
        return sum(
            machine.spec.dust * machine.load
            for machine in self.machines.values()
            if machine.running and flags.open_gates.issuperset(machine.spec.gates)
        )

    def _bin_fills(self) -> float | None:
        """Return when the bin sensor will trip."""
        spec = self.layout.collector
        left = spec.bin_liters * spec.bin_full / 100.0 - self.collector.bin_level
        rate = self._dust_rate(self._flags(self.now + 2 * TICK))
        if left <= 0 or rate <= 0:
            return None
        instant = self.now + left / rate
        return instant if instant > self.now + TICK else None

    def _settle(self) -> None:
        """Carry out what is due now, and record it."""
        self.collector.settle(self.now)
        for gate in self.gates.values():
            gate.settle(self.now)
        for machine in self.machines.values():
            machine.settle(self.now)
        self._write_down()

    def _write_down(self) -> None:
        """Record what changed since the last call."""
        before = self._seen
        after = self._seen = self._look_around()
        stands = {k: self.gates[k].position(self.now) for k in before.driving}
        none_open = self._flags(self.now).none_open
        self.truth.note_changes(self.now, before, after, none_open, stands)

    def _look_around(self) -> Seen:
        return Seen.of(self.collector, self.gates, self.machines)

    def _afflict(self) -> None:
        """Pass the faults on to every part."""
        low_air = self.has(SITE, Fault.AIR_SUPPLY_LOW)
        mains = self.mains
        self.collector.afflict(
            self.now,
            tripped=self.has(COLLECTOR, Fault.BREAKER_TRIPPED),
            cutout=self.has(COLLECTOR, Fault.MOTOR_CUTOUT),
            welded=self.has(COLLECTOR, Fault.CONTACTOR_WELDED),
            hidden=self.has(COLLECTOR, Fault.CONTACTOR_WELDED_HIDDEN),
            mains=mains,
        )
        for key, gate in self.gates.items():
            gate.afflict(
                self.now,
                stuck=self.has(key, Fault.GATE_STUCK)
                or (low_air and gate.spec.pneumatic),
                slow=self.has(key, Fault.GATE_SLOW),
                unpowered=self.has(key, Fault.GATE_UNPOWERED) or not mains,
            )
        for machine in self.machines.values():
            machine.energize(self.now, mains=mains)
        self._settle()
