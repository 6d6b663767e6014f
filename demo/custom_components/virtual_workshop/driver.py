"""Runs the world inside Home Assistant: one clock, one timer, one file."""

import asyncio
from collections.abc import Callable
import json
import logging
import os
from pathlib import Path
import time
from typing import Any

from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import (
    CALLBACK_TYPE,
    Event,
    HassJob,
    HomeAssistant,
    callback,
)
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.event import async_call_later
from homeassistant.util import dt as dt_util

from .model.faults import Fault
from .model.layout import COLLECTOR, SITE, GateKind, Layout
from .model.readings import Readings
from .model.world import World

_LOGGER = logging.getLogger(__name__)

MOVING_REPORTS = 0.5
"""Time between two reports of a moving cover [s]."""

SHORTEST_SLEEP = 0.01
"""The shortest timer [s]."""


class Workshop:
    """A world in a Home Assistant."""

    def __init__(self, hass: HomeAssistant, layout: Layout, path: Path) -> None:
        """Prepare a world; `async_start` runs it."""
        self.hass = hass
        self.layout = layout
        self.readings = Readings(layout)
        self._path = path
        self._viewers: list[Callable[[], None]] = []
        self._reporters: dict[tuple[str, str], Callable[[], None]] = {}
        self._timer: CALLBACK_TYPE | None = None
        self._unlisten: CALLBACK_TYPE | None = None
        self._mended = asyncio.Event()
        self._stopped = False
        self._start_wall = dt_util.utcnow().timestamp()
        self._start_monotonic = time.monotonic()
        self.world = World(layout, self._start_wall)
        self._late = {
            COLLECTOR: layout.collector.late,
            **{key: gate.late for key, gate in layout.gates.items()},
            **{key: machine.meter.late for key, machine in layout.machines.items()},
        }

    # Clock

    @property
    def now(self) -> float:
        """Return the world's time: like real time, it ignores corrections of Home Assistant's clock."""
        return self._start_wall + time.monotonic() - self._start_monotonic

    @property
    def up_for(self) -> float:
        """Return how long this Home Assistant has had the world [s]."""
        return time.monotonic() - self._start_monotonic

    # Life

    async def async_start(self) -> None:
        """Continue the world from the last state on disk, including the time since then."""
        saved = await self.hass.async_add_executor_job(_read, self._path)
        if saved is not None:
            self.world.load(saved["world"])
            self.readings.load(saved["readings"], self.world)
            self._start_wall = max(self._start_wall, self.world.now)
        self._unlisten = self.hass.bus.async_listen_once(
            EVENT_HOMEASSISTANT_STOP, self._async_home_assistant_stops
        )
        self._async_turn()

    @callback
    def async_stop(self) -> None:
        """Leave the world to itself."""
        if self._unlisten is not None:
            self._unlisten()
            self._unlisten = None
        self._stopped = True
        self.world.advance(self.now)
        self._save()
        self._sleep(None)
        self._release()

    @callback
    def async_view(self, refresh: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `view` when anything may have changed; returns how to end that."""
        self._viewers.append(refresh)
        return lambda: self._viewers.remove(refresh)

    @callback
    def async_read(
        self, part: str, quantity: str, report: Callable[[], None]
    ) -> CALLBACK_TYPE:
        """Call `read` when a meter reports; returns how to end that."""
        self._reporters[part, quantity] = report
        return lambda: self._reporters.pop((part, quantity), None) and None

    # Doing things

    @callback
    def act(self, what: Callable[[World], None]) -> None:
        """Act on the world now; the result is on disk when this returns."""
        self.world.advance(self.now)
        what(self.world)
        self._async_turn(save=True)

    @callback
    def act_on_faults(self, what: Callable[[World], None]) -> None:
        """Change faults; meters notice at once, and hanging commands may return."""
        before = {key: set(faults) for key, faults in self.world.faults.items()}
        self.world.advance(self.now)
        what(self.world)
        changed = {
            key
            for key in {*before, *self.world.faults}
            if before.get(key, set()) != self.world.faults.get(key, set())
        }
        if SITE in changed:
            changed |= {COLLECTOR, *self.layout.machines}
        self.readings.hurry(changed)
        self._release()
        self._async_turn(save=True)

    async def async_command(
        self, part: str, name: str, what: Callable[[World], None]
    ) -> None:
        """Carry out a command from Home Assistant, or fail as the part's fault demands."""
        self.act(lambda world: world.truth.count_command(world.now, part, name))
        fault = self.world.command_fault(part)
        if fault is Fault.COMMAND_ERROR:
            raise HomeAssistantError(f"{part} did not answer")
        if fault is Fault.COMMAND_TIMEOUT:
            raise TimeoutError
        if fault is Fault.COMMAND_LOST:
            return
        if fault is Fault.COMMAND_HANG:
            while self.world.has(part, Fault.COMMAND_HANG) and not self._stopped:
                await self._mended.wait()
            return
        self.act(what)

    def truth(self) -> dict[str, Any]:
        """Return the record up to now, and the real state."""
        self.world.advance(self.now)
        return {
            **self.world.truth.as_data(self.world.now),
            "standing": self.world.standing(),
        }

    # What entities ask

    def reachable(self, part: str) -> bool:
        """Whether a part's device is online."""
        world = self.world
        offline = (Fault.COLLECTOR_OFFLINE, Fault.GATE_UNPOWERED, Fault.PLUG_OFFLINE)
        return (
            world.mains
            and self.up_for >= self._late.get(part, 0.0)
            and not any(world.has(part, fault) for fault in offline)
        )

    # Within

    @callback
    def _async_turn(self, *, save: bool = False) -> None:
        """Advance the world to the present, report changes, and sleep until the next one."""
        happened = self.world.advance(self.now)
        reported = self.readings.collect(self.world)
        if happened or save:
            self._save()
        for refresh in list(self._viewers):
            refresh()
        for key in reported:
            if key in self._reporters:
                self._reporters[key]()
        self._sleep(self._next_look())

    def _next_look(self) -> float:
        """Return the next instant with something to report."""
        instants = [self.readings.next_due()]
        if (event := self.world.next_event()) is not None:
            instants.append(event)
        if any(
            gate.driving and gate.spec.kind is GateKind.COVER
            for gate in self.world.gates.values()
        ):
            instants.append(self.world.now + MOVING_REPORTS)
        up_since = self.now - self.up_for
        instants += [
            up_since + late for late in self._late.values() if late > self.up_for
        ]
        return min(instants)

    @callback
    def _sleep(self, until: float | None) -> None:
        """Set the timer."""
        if self._timer is not None:
            self._timer()
            self._timer = None
        if until is None or self._stopped:
            return
        self._timer = async_call_later(
            self.hass,
            max(SHORTEST_SLEEP, until - self.now),
            HassJob(self._async_wake, "virtual workshop", cancel_on_shutdown=True),
        )

    @callback
    def _async_wake(self, _now: Any) -> None:
        self._timer = None
        self._async_turn()

    @callback
    def _async_home_assistant_stops(self, _event: Event) -> None:
        self._unlisten = None
        self.async_stop()

    @callback
    def _release(self) -> None:
        """Let hanging commands check whether they may return."""
        self._mended.set()
        self._mended = asyncio.Event()

    def _save(self) -> None:
        """Write the world to disk, at once and on the event loop.

        After a kill at the next instant, Home Assistant must find the world as it
        really was: a pending write would look like a relay that drops out. It's a few
        kilobytes, and no disk sync is needed to survive the end of a process.
        """
        data = {"world": self.world.dump(), "readings": self.readings.dump()}
        fresh = f"{self._path}.new"
        handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
        try:
            os.write(handle, json.dumps(data, separators=(",", ":")).encode())
        finally:
            os.close(handle)
        Path(fresh).replace(self._path)


def _read(path: Path) -> dict[str, Any] | None:
    """Read the file of a world, if it exists and is readable."""
    try:
        data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except ValueError:
        _LOGGER.exception("The world in %s cannot be read; a new one begins", path)
        return None
    return data
