"""Runs a system check through the system and its drivers."""

import asyncio
from collections.abc import Callable, Collection
from dataclasses import replace
from datetime import datetime
from typing import NamedTuple

from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import Event, callback
from homeassistant.helpers.event import async_track_state_change_event
from homeassistant.util import dt as dt_util

from ...core.commissioning.findings import CheckFinding, End, Setting
from ...core.commissioning.plant_access import (
    PlantAccess,
    collector_plan,
    gate_plans,
    machine_plans,
)
from ...core.commissioning.system_check import SystemCheck, SystemCheckConfig
from ...core.commissioning.task import Answer, Sight, SignalRole, Task
from ...core.config import COLLECTOR
from ...core.inputs import TimePassed
from ...runtime.outputs import Outputs
from ...runtime.system_context import SystemContext
from ...runtime.timer import Timer
from .issues import clear_issues, raise_issues
from .observation import heard, invertible, roles_of, signals
from .settings import make
from .store import CheckStore, KeptCheck

_LOOK = 1.0
"""Seconds between two looks at the shop while nothing changes."""


class Busy(Exception):  # noqa: N818 - an answer to a person, not a failure
    """Raised when a check can't begin; `why` is the key of its text."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


class _RunningCheck(NamedTuple):
    """A check in progress."""

    check: SystemCheck
    hands: PlantAccess


class SystemCheckManager:
    """One system's checks: at most one at a time, and the last one's report."""

    def __init__(self, system: SystemContext, outputs: Outputs) -> None:
        """Start without a check; `outputs` knows which calls failed."""
        self.last: KeptCheck | None = None
        self._system = system
        self._outputs = outputs
        self._hass = system.hass
        self._store = CheckStore(system.hass, system.entry)
        self._running: _RunningCheck | None = None
        self._roles: dict[str, tuple[SignalRole, ...]] = {}
        self._task: Task | None = None
        self._timer = Timer(system.hass, "gatewright system check", self.look)
        self._unsubs: list[Callable[[], None]] = []
        self._looking = self._again = False
        self._waiting: list[asyncio.Event] = []

    async def load(self) -> None:
        """Load the last check's report."""
        self.last = await self._store.load()
        self._raise_issues()

    @property
    def running(self) -> bool:
        """Whether a check is in progress."""
        return self._running is not None

    @property
    def ended_at(self) -> datetime | None:
        """When the last check ended."""
        return None if self.last is None else self.last.at

    @property
    def open_count(self) -> int | None:
        """How many results of the last check are still open."""
        return None if self.last is None else self.last.count

    @property
    def task(self) -> Task | None:
        """The present task of the check; None without one."""
        return self._task

    @property
    def progress(self) -> tuple[int, int]:
        """How many parts are done, and of how many."""
        return (0, 0) if self._running is None else self._running.check.progress

    def refusal(self) -> str | None:
        """Return why no check can begin now: the key of a text."""
        if self._running is not None:
            return "walk_going"
        if self._system.watching:
            return "walk_monitor_only"
        refusal = PlantAccess(self._system.sequence).refusal(self._system.now())
        return None if refusal is None else f"walk_{refusal.value}"

    def parts(self) -> dict[str, str]:
        """Return the names of all checkable parts, in the order of the check."""
        plan = self._plan(None, person=True)
        names = {part.gate_id: self.name(part.gate_id) for part in plan.gates}
        names |= {m.machine_id: self.name(m.machine_id) for m in plan.machines}
        return {**names, COLLECTOR: self.name(COLLECTOR)}

    def name(self, part: str) -> str:
        """Return the name of a part, even of one that is gone."""
        return self._system.announcer.name(part)

    @callback
    def begin(self, parts: Collection[str] | None, *, person: bool) -> None:
        """Begin a check of these parts, or of all; raises `Busy` if it can't begin."""
        if (why := self.refusal()) is not None:
            raise Busy(why)
        system = self._system
        now = self._system.now()
        hands = PlantAccess(system.sequence)
        plan = self._plan(parts, person=person)
        self._running = _RunningCheck(
            SystemCheck(plan, self._sight(hands, now), now), hands
        )
        layout = system.layout
        watched = (COLLECTOR, *layout.gates, *system.sequence.machines)
        self._unsubs = [
            async_track_state_change_event(self._hass, heard(layout), self._on_event),
            *(system.listen(part, self.look) for part in watched),
            system.on_replan(self._replanned),
            self._hass.bus.async_listen(EVENT_HOMEASSISTANT_STOP, self._on_stop),
        ]
        self._follow(self._running, now)
        system.tell((COLLECTOR,))

    @callback
    def answer(self, answer: Answer) -> bool:
        """Take a person's answer; return whether it was asked for."""
        if (running := self._running) is None or self._looking:
            return False
        self._looking = True
        try:
            now = self._system.now()
            taken = running.check.answer(answer, self._sight(running.hands, now), now)
            self._follow(running, now)
        finally:
            self._looked()
        return taken

    @callback
    def stop(self, why: End = End.STOPPED) -> None:
        """End the check in progress, if any, and leave the shop at rest."""
        if (running := self._running) is not None:
            running.check.stop(why)
            self._follow(running, self._system.now())

    async def next_task(self) -> None:
        """Return when the task changes or the check is over."""
        key = _key(self._task)
        while self._running is not None and _key(self._task) == key:
            event = asyncio.Event()
            self._waiting.append(event)
            await event.wait()

    async def finish(self, *, setting: bool, telling: bool) -> tuple[CheckFinding, ...]:
        """Apply the last check's settings, and return what stays open.

        With `telling`, open results are raised as repairs.
        """
        if (last := self.last) is None:
            return ()
        made: tuple[Setting, ...] = last.made
        if setting:
            made = make(self._hass, self._system.entry, last.report.settings)
        self.last = replace(last, made=made, told=telling)
        await self._keep()
        return self.last.open

    @callback
    def look(self) -> None:
        """Observe the shop, and do what follows."""
        if self._looking:
            # Changes caused by our own actions are observed afterwards.
            self._again = True
        if (running := self._running) is None or self._looking:
            return
        if self._system.watching:
            # The system began to monitor only: nothing may move any more.
            self.stop(End.CHANGED)
            return
        self._looking = True
        try:
            now = self._system.now()
            running.check.observe(self._sight(running.hands, now), now)
            self._follow(running, now)
        finally:
            self._looked()

    def _looked(self) -> None:
        self._looking = False
        if self._again:
            self._again = False
            self._hass.loop.call_soon(self.look)

    def _plan(
        self, parts: Collection[str] | None, *, person: bool
    ) -> SystemCheckConfig:
        system = self._system
        sequence = system.sequence
        self._roles = roles_of(self._hass, system.layout)

        def wanted(part: str) -> bool:
            return parts is None or part in parts

        gates = gate_plans(sequence, self._roles, invertible(system.layout))
        collector = collector_plan(
            sequence, self._system.now(), measured=system.layout.power is not None
        )
        return SystemCheckConfig(
            gates=tuple(gate for gate in gates if wanted(gate.gate_id)),
            machines=tuple(m for m in machine_plans(sequence) if wanted(m.machine_id)),
            collector=collector if wanted(COLLECTOR) else None,
            person=person,
        )

    def _sight(self, hands: PlantAccess, now: float) -> Sight:
        system = self._system
        seen = signals(self._hass, system.layout, self._roles)
        return hands.see(seen, self._outputs.refused(), now)

    def _follow(self, running: _RunningCheck, now: float) -> None:
        """Carry out the present task."""
        check = running.check
        if check.ended is not None:
            self._over(running, now)
            return
        before, self._task = self._task, check.task
        if self._task is not before:
            running.hands.carry_out(self._task, now)
            self._system.handle(TimePassed())
        self._arm(check, now)
        if _key(before) != _key(self._task):
            self._wake()

    def _over(self, running: _RunningCheck, now: float) -> None:
        self._running = self._task = None
        while self._unsubs:
            self._unsubs.pop()()
        self._timer.disarm()
        running.hands.end(now)
        self._system.handle(TimePassed())
        standing = () if self.last is None else self.last.issues
        self.last = KeptCheck(
            at=dt_util.utcnow(), report=running.check.report, standing=standing
        )
        self._hass.async_create_task(self._keep(), "gatewright stores a system check")
        self._wake()

    async def _keep(self) -> None:
        self._raise_issues()
        if self.last is not None:
            await self._store.write(self.last)

    def _raise_issues(self) -> None:
        entry = self._system.entry
        clear_issues(self._hass, entry)
        known = {COLLECTOR, *entry.subentries}
        if self.last is not None:
            found = [found for found in self.last.issues if found.part in known]
            raise_issues(self._hass, entry, found, self.name)
        self._system.tell((COLLECTOR,))

    def _wake(self) -> None:
        waiting, self._waiting = self._waiting, []
        for event in waiting:
            event.set()

    def _arm(self, check: SystemCheck, now: float) -> None:
        wait = _LOOK if check.due is None else min(_LOOK, max(0.0, check.due - now))
        self._timer.arm(wait)

    @callback
    def _on_event(self, _event: object) -> None:
        self.look()

    @callback
    def _on_stop(self, _event: Event) -> None:
        self.stop()

    @callback
    def _replanned(self) -> None:
        self.stop(End.CHANGED)


def _key(task: Task | None) -> object:
    """Return what makes a task a different one for a person."""
    return None if task is None else (task.part, task.ask, task.stage)
