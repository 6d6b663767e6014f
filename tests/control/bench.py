"""A bench for the core: a shop, simulated actuators and a clock that jumps."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
import heapq
from itertools import count
import math
from typing import Any

import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    CollectorConfig,
    GateConfig,
    GateKind,
    MachineConfig,
    StartWhen,
    SystemConfig,
    Thresholds,
)
from custom_components.gatewright.core.control.actuator import Order
from custom_components.gatewright.core.control.alarms import AlarmChange
from custom_components.gatewright.core.control.enums import Switching
from custom_components.gatewright.core.control.sequence import Sequence
from custom_components.gatewright.core.control.shop import ShopControl


@dataclass
class Device:
    """An actuator as the hub sees it: called, busy for a while, reporting later.

    `delay` passes between a call and the first report, `travel` until it has
    arrived. `deaf` swallows calls, `hangs` keeps a call busy for so many seconds.
    A `blind` one reports at once what it was told, and still moves for `travel`.
    `signs` says that a report of ours carries the mark of our call; `bounces` that
    the old state is reported once more after the new one. A `no_feedback` gate obeys and does
    not say how it stands.
    """

    part: str
    state: bool | None = False
    delay: float = 0.3
    travel: float = 0.0
    reachable: bool = True
    deaf: bool = False
    hangs: float = 0.0
    blind: bool = False
    signs: bool = False
    bounces: bool = False
    no_feedback: bool = False
    shows: tuple[float, ...] = ()
    jams: float | None = None
    position: float | None = None
    moved_at: float = -math.inf
    busy_until: float = -math.inf
    number: int = 0

    def state_at(self, now: float) -> bool | None:
        """How the thing itself stands, whatever is reported."""
        if self.blind and now < self.moved_at + self.travel:
            return None
        return self.state

    def opened(self, now: float) -> float:
        """Return how far the thing itself is open, 0 to 1, moving evenly."""
        if (state_at := self.state_at(now)) is not None:
            return float(state_at)
        if not self.travel:
            return 0.0
        share = min(1.0, max(0.0, (now - self.moved_at) / self.travel))
        share = share if self.jams is None else min(share, self.jams)
        return share if self.opening else 1.0 - share

    opening: bool = False


@dataclass
class Bench:
    """Runs a shop against its devices and writes down every command."""

    system: SystemConfig
    devices: dict[str, Device]
    now: float = 0.0
    commands: list[tuple[float, str, bool]] = field(default_factory=list)
    alarms: list[AlarmChange] = field(default_factory=list)
    switchings: list[Switching] = field(default_factory=list)
    after_step: Callable[[Bench], None] | None = None
    on_command: Callable[[str, bool], None] | None = None

    def __post_init__(self) -> None:
        self.shop = ShopControl(self.system, self.now)
        self._queue: list[tuple[float, int, Callable[[], None]]] = []
        self._serial = count()
        self._sent: dict[str, int] = {}

    @property
    def sequence(self) -> Sequence:
        return self.shop.sequence

    def power_up(self) -> None:
        """Report how every device stands, as a hub does when it has started."""
        for device in self.devices.values():
            self._tell(device)
        self._turn()

    def at(self, instant: float, action: Callable[[], None]) -> None:
        """Schedule something that happens in the shop."""
        heapq.heappush(self._queue, (instant, next(self._serial), action))

    def read(self, instant: float, machine: str, value: float | None) -> None:
        self.at(instant, lambda: self._read(machine, value))

    def hand(self, instant: float, part: str, value: bool | None) -> None:
        """Schedule that somebody moves a device by hand."""
        self.at(instant, lambda: self._hand(part, value))

    def away(self, instant: float, part: str) -> None:
        self.at(instant, lambda: self._reach(part, reachable=False))

    def back(self, instant: float, part: str, value: bool | None) -> None:
        self.at(instant, lambda: self._reach(part, reachable=True, value=value))

    def run_to(self, end: float) -> None:
        """Let everything happen that is due until `end`."""
        while True:
            wake = self.shop.wake
            event = self._queue[0][0] if self._queue else None
            nexts = [t for t in (wake, event) if t is not None]
            if not nexts or min(nexts) > end:
                break
            self.now = max(self.now, min(nexts))
            while self._queue and self._queue[0][0] <= self.now:
                heapq.heappop(self._queue)[2]()
            self._turn()
        self.now = max(self.now, end)
        self._turn()

    def sent(self, part: str, since: float = 0.0) -> list[tuple[float, bool]]:
        """Return the commands a part was given."""
        return [
            (t, target) for t, p, target in self.commands if p == part and t >= since
        ]

    def told(self, kind: str) -> list[tuple[float, bool]]:
        """Return when an alarm of a kind was raised (True) and cleared (False)."""
        return [(c.at, c.raised) for c in self.alarms if c.condition.kind == kind]

    def _turn(self) -> None:
        self.shop.advance(self.now)
        for part, order in list(self.sequence.orders()):
            self._drive(part, order)
        self.alarms += self.shop.alarms.drain()
        self.switchings += self.sequence.drain_switchings()
        if self.after_step is not None:
            self.after_step(self)

    def hold_up(self, part: str) -> None:
        """Tell the shop that a command waits for a call that has not returned."""
        self.sequence.hold_up(part)

    def _drive(self, part: str, order: Order) -> None:
        device = self.devices[part]
        if self._sent.get(part) == order.number:
            return
        if self.now < device.busy_until:
            self.hold_up(part)
            return
        self._sent[part] = order.number
        if self.on_command is not None:
            self.on_command(part, order.target)
        self.sequence.dispatched(part, self.now)
        self.commands.append((self.now, part, order.target))
        if device.hangs:
            device.busy_until = self.now + device.hangs
            self.at(device.busy_until, lambda: None)
        if device.deaf:
            return
        device.number += 1
        number = device.number
        self.at(
            self.now + device.delay, lambda: self._move(device, order.target, number)
        )

    def _move(self, device: Device, target: bool, number: int) -> None:
        if number != device.number or device.deaf or device.state is target:
            return
        before = device.state
        device.moved_at, device.opening = self.now, target
        if device.travel and not device.blind:
            device.state = None
            if device.jams is None:
                self.at(
                    self.now + device.travel - device.delay,
                    lambda: self._arrive(device, target, number, before),
                )
            for share in device.shows:
                if device.jams is None or share <= device.jams:
                    self.at(
                        self.now + share * device.travel,
                        partial(self._pass, device, share, number),
                    )
            self._tell(device, own=device.signs)
        else:
            self._arrive(device, target, number, before)

    def _arrive(
        self, device: Device, target: bool, number: int, before: bool | None
    ) -> None:
        if number != device.number or device.deaf:
            return
        device.state = target
        if device.shows:
            device.position = float(target)
        self._tell(device, own=device.signs)
        if device.bounces:
            self.at(self.now + 0.25, lambda: self._report(device, before))
            self.at(self.now + 0.75, lambda: self._tell(device))

    def _pass(self, device: Device, share: float, number: int) -> None:
        """Have a gate report how far it is on its way."""
        if number == device.number and device.state is None:
            device.position = share if device.opening else 1.0 - share
            self._tell(device, own=device.signs)

    def _tell(self, device: Device, *, own: bool = False) -> None:
        self._report(device, device.state, own=own)

    def _report(self, device: Device, value: bool | None, *, own: bool = False) -> None:
        """Have the shop hear what a device says."""
        part, reachable = device.part, device.reachable
        if part == COLLECTOR:
            self.sequence.report_collector(
                value,
                self.now,
                reachable=reachable,
                own=own,
                no_feedback=device.no_feedback,
            )
        elif part in self.sequence.gates:
            self.sequence.report_gate(
                part,
                value,
                self.now,
                reachable=reachable,
                own=own,
                no_feedback=device.no_feedback,
                position=device.position,
            )
        else:
            self.sequence.linked_devices.report(
                part, value, self.now, reachable=reachable, own=own
            )

    def _read(self, machine: str, value: float | None) -> None:
        self.sequence.read(machine, value, self.now)

    def _hand(self, part: str, value: bool | None) -> None:
        device = self.devices[part]
        device.number += 1
        device.state = value
        self._tell(device)

    def _reach(self, part: str, *, reachable: bool, value: bool | None = None) -> None:
        device = self.devices[part]
        device.reachable = reachable
        if reachable:
            device.state = value
        self._tell(device)


def near(value: float, within: float = 1e-3) -> Any:
    """Return what equals any number within so much of `value`."""
    return pytest.approx(value, abs=within)


LEVELS = Thresholds(start=150.0, stop=60.0, start_confirm=1.0, stop_confirm=4.0)


def field_bench(
    *,
    rest: float = 30.0,
    shutoff_delay: float = 15.0,
    now: float = 0.0,
    bandsaw_levels: Thresholds = LEVELS,
    start_when: StartWhen = StartWhen.GATE_OPENING,
) -> Bench:
    """Return the bench of the field cases: planer, table saw, band saw."""
    system = SystemConfig(
        collector=CollectorConfig(
            name="Shop collector",
            shutoff_delay=shutoff_delay,
            spin_down=20.0,
            rest=rest,
            confirm=10.0,
            hand_gates=("planer_gate",),
            start_when=start_when,
        ),
        gates=(
            GateConfig(gate_id="planer_gate", name="Planer gate"),
            GateConfig(gate_id="tablesaw_gate", name="Table saw gate"),
            GateConfig(
                gate_id="bandsaw_gate",
                name="Band saw gate",
                kind=GateKind.POWERED,
                feedback=False,
            ),
        ),
        machines=(
            MachineConfig(
                machine_id="planer",
                name="Planer",
                gates=("planer_gate",),
                levels=LEVELS,
            ),
            MachineConfig(
                machine_id="tablesaw",
                name="Table saw",
                gates=("tablesaw_gate",),
                levels=LEVELS,
            ),
            MachineConfig(
                machine_id="bandsaw",
                name="Band saw",
                gates=("bandsaw_gate",),
                levels=bandsaw_levels,
            ),
        ),
    )
    return Bench(
        system,
        {
            COLLECTOR: Device(COLLECTOR),
            "planer_gate": Device("planer_gate", delay=0.1, travel=3.0),
            "tablesaw_gate": Device("tablesaw_gate", delay=0.1, travel=3.0),
            "bandsaw_gate": Device("bandsaw_gate", delay=0.0),
        },
        now=now,
    )


def resting_bench(
    *,
    bandsaw_levels: Thresholds = LEVELS,
    start_when: StartWhen = StartWhen.GATE_OPENING,
    used: bool = False,
) -> Bench:
    """Return the bench of the field cases at rest at 0, with idle readings.

    Where it was `used` before, every machine has run once, and its gate was seen to move.
    """
    bench = field_bench(
        now=-1000.0, bandsaw_levels=bandsaw_levels, start_when=start_when
    )
    bench.power_up()
    for number, machine in enumerate(("planer", "tablesaw", "bandsaw")):
        bench.read(-999.0, machine, 5.0)
        if used:
            bench.read(-900.0 + 200.0 * number, machine, 1450.0)
            bench.read(-850.0 + 200.0 * number, machine, 5.0)
    bench.run_to(0.0)
    bench.commands.clear()
    return bench
