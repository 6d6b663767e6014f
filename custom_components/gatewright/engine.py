"""Runs one system in the hub: hears its entities, lets the core decide, drives.

The engine is the only place where the core meets Home Assistant's clock, states
and services. Everything it hears it tells the core together with the instant, has
the core advance, pokes the drivers, and tells our own entities whose part changed.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta
from functools import partial
from time import monotonic
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.helpers.event import async_track_time_interval
from homeassistant.util import dt as dt_util

from .air.live import AirMonitor
from .announce import Announcer
from .calls import CallLog
from .devices import keep_devices
from .disabled import tell_disabled
from .driver import Contexts, Driver
from .ears import Ears
from .hiding import Hider
from .leaving import (
    exchange_collector,
    exchanged,
    keeps_on,
    leave_companions,
    let_go,
)
from .missing import tell_missing
from .onlooking.mode import WATCHED, recalled_shop
from .onlooking.watcher import begin_watching
from .planning import Layout, read_layout
from .publisher import Publisher, Touched
from .readable import readable, tell_unread
from .record.book import RecordBook
from .shop.actuation import Actuator, Order
from .shop.alarms import AlarmKind, Condition
from .shop.memory import save
from .shop.plan import COLLECTOR
from .shop.sequence import Sequence
from .shop.shop import Shop
from .shop.times import earliest
from .shop.words import Refusal, Refused
from .sources import Slide
from .storage import Handover, MemoryStore, leave, take
from .stored.config import Unread
from .stored.table import UnreadableError
from .timer import Timer
from .upkeep.hub import UpkeepHub
from .walk.runner import WalkRunner
from .watch import Watch

type GatewrightConfigEntry = ConfigEntry[Engine]

KEEPS_ON = "keeps_on"
"""Key of the memory: what would stay on if the system were gone."""

_HIDDEN = "hidden"
_OCCURRENCES = "occurrences"
_TICK = timedelta(seconds=30)
"""How often running totals are shown and saved while anything runs."""


class Engine:
    """One system: the runtime data of its config entry."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: GatewrightConfigEntry,
        store: MemoryStore,
        left: Handover | None,
        past: Mapping[str, Any] | None = None,
    ) -> None:
        """Prepare a system that goes on from what was left; `start` sets it going.

        `past` is what was kept of its upkeep.
        """
        self.hass = hass
        self.entry = entry
        self.described = readable(hass, entry)
        self.layout: Layout = read_layout(hass, self.described)
        self.shop = recalled_shop(self.layout.system, self.described.system, left)
        self.watcher = begin_watching(self, {} if left is None else left.memory)
        self.contexts = Contexts()
        self.drivers: dict[str, Driver] = {}
        self.slides: dict[str, Slide] = {}
        self._store = store
        self._ears = Ears(hass, self)
        self._watch = Watch(hass, self)
        self.announcer = Announcer(hass, entry, self.shop)
        kept = None if left is None else left.memory.get(_OCCURRENCES)
        self.announcer.occurrences.restore(kept, self.shop.alarms.standing)
        self._calls = CallLog(self.shop, self.announcer.details, self.actuator)
        self._publisher = Publisher(self)
        self.air = AirMonitor(self)
        self.walk = WalkRunner(self)
        self.upkeep = UpkeepHub(self, past)
        self.announcer.name_also(self.upkeep.name)
        self.record = RecordBook(self)
        self._hider = Hider(hass, () if left is None else left.memory.get(_HIDDEN, ()))
        self._replanned: list[Callable[[], None]] = []
        self._timer = Timer(hass, "gatewright wake", self.advance)
        self._timer_at: float | None = None
        self._unsubs: list[CALLBACK_TYPE] = []
        self._advancing = False
        self._again = False
        self._started = False

    # Life -----------------------------------------------------------------------

    @callback
    def start(self) -> None:
        """Hear the entities and begin to work."""
        self._unsubs = [
            async_track_time_interval(
                self.hass, self._tick, _TICK, cancel_on_shutdown=True
            ),
            self.hass.bus.async_listen(EVENT_HOMEASSISTANT_STOP, self._hub_stops),
        ]
        self._started = True
        self.announcer.recall()
        self._connect()
        self.advance()
        if self.watcher is not None:
            self.watcher.start()

    @callback
    def stop(self) -> None:
        """Stop hearing and leave everything as it stands, for the next load."""
        if not self._started:
            return
        self.walk.stop()
        self._started = False
        self._ears.close()
        self._watch.close()
        self.upkeep.close()
        if self.watcher is not None:
            self.watcher.stop()
        while self._unsubs:
            self._unsubs.pop()()
        self._timer.disarm()
        for driver in self.drivers.values():
            driver.close()
        self.drivers = {}
        leave(self.hass, self.entry.entry_id, Handover(self.memory(), monotonic()))

    def memory(self) -> dict[str, Any]:
        """Return what has to survive a restart."""
        return {
            **save(self.shop, monotonic()),
            _HIDDEN: self._hider.hidden,
            KEEPS_ON: keeps_on(self),
            _OCCURRENCES: self.announcer.occurrences.save(),
            **({WATCHED: self.watcher.memory()} if self.watcher is not None else {}),
        }

    async def save(self) -> None:
        """Write the memory at once."""
        await self._store.write(self.memory())
        await self.upkeep.save()

    async def retire(self) -> None:
        """End the work of a system that is not loaded again: only its totals are kept.

        The gates stay as they are: the impeller still turns.
        """
        take(self.hass, self.entry.entry_id)
        kept = self.memory()
        blank = save(Shop(self.layout.system, monotonic()), monotonic())
        blank["motor"] |= {key: kept["motor"][key] for key in ("starts", "stopped")}
        blank["ledger"] = {**kept["ledger"], "open": {}, "turning": False}
        for key in ("automatic", "lockout", "emergency", "hand_gates"):
            blank[key] = kept[key]
        self._hider.keep(())
        tell_missing(self.hass, self.entry, ())
        tell_disabled(self.hass, self.entry, None)
        self.announcer.retire()
        await self._store.write(
            blank if self.watcher is None else blank | {WATCHED: kept[WATCHED]}
        )
        await self.upkeep.save()
        for stored in kept[KEEPS_ON]:
            await let_go(self.hass, stored)

    @callback
    def replan(self) -> None:
        """Take up what the owner changed, with everything going on as it was."""
        before = self.layout
        try:
            described = readable(self.hass, self.entry)
        except UnreadableError as err:
            # It works on as it was.
            tell_unread(
                self.hass, self.entry, (Unread(None, self.entry.title, err.what),)
            )
            return
        self.described = described
        self.layout = read_layout(self.hass, described)
        now = monotonic()
        leave_companions(self, before)
        self.sequence.replan(self.layout.system, now)
        collector = self.layout.system.collector
        if collector.hand_gates != before.system.collector.hand_gates:
            # What is set up anew counts, not what was chosen before that.
            self.sequence.hand_gates = ()
        for gate_id, sources in self.layout.gates.items():
            old = before.gates.get(gate_id)
            if (
                old is not None
                and exchanged(old.actuator, sources.actuator)
                and self.sequence.gates.actuator(gate_id) is not None
            ):
                self.sequence.gates.renew(gate_id)
        if exchanged(before.switch, self.layout.switch):
            exchange_collector(self, before.switch)
        self.upkeep.replan()
        keep_devices(self.hass, self.entry, self.layout)
        self._connect()
        for replanned in tuple(self._replanned):
            replanned()
        self._publisher.forget()
        self.advance()

    # What entities need ----------------------------------------------------------

    @property
    def sequence(self) -> Sequence:
        """The behavior of the system."""
        return self.shop.sequence

    @callback
    def advance(self) -> None:
        """Let the core catch up with what it was told, and act on it."""
        # An actuator may report while it is being driven: that is one more round.
        self._again = True
        if self._advancing or not self._started:
            return
        self._advancing = True
        touched = Touched()
        try:
            while self._again:
                self._again = False
                now = monotonic()
                self._round(touched, now)
                if not self._again:
                    self._tell(touched, now)
                    touched = Touched()
        finally:
            self._advancing = False

    def actuator(self, part: str) -> Actuator | None:
        """Return what the core knows of an actuator."""
        return self.sequence.actuator(part) or self.upkeep.actuator(part)

    def instant(self, at: float | None) -> datetime | None:
        """Return the wall-clock time of an instant on the core's clock."""
        if at is None:
            return None
        try:
            return dt_util.utcnow() + timedelta(seconds=at - monotonic())
        except OverflowError:
            # So far away that there is no such day.
            return None

    def knows_air(self, machine_id: str) -> bool:
        """Whether the collector and all gates of a machine say how they stand."""
        gates = (
            self.sequence.gates.actuator(gate)
            for gate in self.sequence.machines[machine_id].plan.gates
        )
        return self.sequence.motor.actuator.reachable and all(
            gate is None or gate.reachable for gate in gates
        )

    @callback
    def answer(self, kind: AlarmKind, part: str) -> None:
        """Do what a person can do about an alarm: reset it, or try again.

        Raises `Refused` while a detector still gives the alarm.
        """
        if kind is AlarmKind.EMERGENCY:
            if self._watch.emergency:
                raise Refused(Refusal.EMERGENCY)
            self.sequence.set_emergency(False)
        elif (actuator := self.actuator(part)) is not None:
            self.shop.faults.try_again(part)
            actuator.retry(monotonic())
        self.advance()
        self.announcer.begin_anew(Condition(kind, part))

    @callback
    def listen(self, part: str, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` when the part changes; returns how to stop that."""
        return self._publisher.listen(part, listener)

    @callback
    def tell(self, parts: Iterable[str]) -> None:
        """Have the entities of these parts look again."""
        self._publisher.tell(parts)

    @callback
    def on_replan(self, replanned: Callable[[], None]) -> CALLBACK_TYPE:
        """Call back whenever parts may have come or gone; returns how to stop that."""
        self._replanned.append(replanned)
        return partial(self._replanned.remove, replanned)

    # How it works ----------------------------------------------------------------

    def _connect(self) -> None:
        """Bind drivers and ears to the entities of the present layout."""
        wanted: dict[str, tuple[str, bool]] = {}
        if (entity_id := self.layout.switch.entity_id) is not None:
            wanted[COLLECTOR] = (entity_id, False)
        for gate_id, gate in self.layout.gates.items():
            if gate.actuator is not None and gate.actuator.entity_id is not None:
                wanted[gate_id] = (gate.actuator.entity_id, gate.inverted)
        for companion_id, source in self.layout.companions.items():
            if source.entity_id is not None:
                wanted[companion_id] = (source.entity_id, False)
        for part, entity_id in self.upkeep.driven(self.layout):
            wanted[part] = (entity_id, False)
        if self.watcher is not None:
            # Who only watches has nothing to drive with.
            wanted.clear()
        before, self.drivers = self.drivers, {}
        for part, (entity_id, inverted) in wanted.items():
            driver = before.get(part)
            if driver is None or (driver.entity_id, driver.inverted) != wanted[part]:
                driver = self._driver(part, entity_id, inverted=inverted)
            self.drivers[part] = driver
        for part, driver in before.items():
            if self.drivers.get(part) is not driver:
                driver.close()
        hide = self.described.system.hide_wrapped and self.watcher is None
        self._hider.keep(
            source.stored for source in (self.layout.wrapped() if hide else ())
        )
        tell_missing(self.hass, self.entry, self.layout.missing)
        self.sequence.disabled = tell_disabled(self.hass, self.entry, self.layout)
        tell_unread(self.hass, self.entry, self.described.unread)
        self._ears.listen(self.layout)
        self.upkeep.listen(self.layout)
        self._watch.listen(self.layout.watched)

    def _driver(self, part: str, entity_id: str, *, inverted: bool) -> Driver:
        return Driver(
            self.hass,
            self.entry,
            entity_id,
            self.contexts,
            actuator=lambda: self.actuator(part) if self._started else None,
            held_up=lambda: self._held_up(part),
            dispatched=lambda: self._dispatched(part),
            ended=lambda error: self._call_ended(part, error),
            inverted=inverted,
        )

    def _held_up(self, part: str) -> None:
        if (actuator := self.actuator(part)) is not None:
            actuator.hold_up()

    def _dispatched(self, part: str) -> None:
        if self.sequence.actuator(part) is not None:
            self.sequence.dispatched(part, monotonic())
        elif (actuator := self.upkeep.actuator(part)) is not None:
            actuator.dispatched(monotonic())

    def _call_ended(self, part: str, error: str | None) -> None:
        self._calls.ended(part, error)
        if error is not None:
            if self.sequence.actuator(part) is not None:
                self.sequence.refused(part)
            elif (actuator := self.upkeep.actuator(part)) is not None:
                actuator.refused()
            self.advance()

    def _round(self, touched: Touched, now: float) -> None:
        touched.note(self.sequence)
        self.shop.decide(now)
        # The calls leave before anything else is reckoned: a machine waits for its air.
        self._poke(self.sequence.orders())
        self.shop.note(now)
        if self._calls.look():
            self._again = True
        touched.note(self.sequence)

    def _poke(self, orders: Iterable[tuple[str, Order]]) -> None:
        for part, _ in tuple(orders):
            if (driver := self.drivers.get(part)) is not None:
                driver.poke()

    def _tell(self, touched: Touched, now: float) -> None:
        self.upkeep.observe(now)
        self._poke(self.upkeep.orders())
        self._arm(now)
        if self._publisher.publish(touched, now):
            self._store.write_soon(self.memory)
        finished = self.shop.ledger.drain()
        self.upkeep.finish(finished, now)
        self.announcer.tell()

    @callback
    def _tick(self, _now: datetime) -> None:
        """Show and save the totals while anything runs."""
        sequence = self.sequence
        in_use = sequence.roster.in_use
        active = bool(in_use) or sequence.motor.turning
        now = monotonic()
        if active:
            self.shop.ledger.book(now)
        self.upkeep.tick(now, active=active)
        if not active:
            return
        self._publisher.tell((COLLECTOR, *in_use))
        self._store.write_soon(self.memory)

    @callback
    def _hub_stops(self, _event: Event) -> None:
        """Have the memory written once more, as late as the hub writes anything."""
        self._store.write_soon(self.memory)
        self.upkeep.save_soon()

    def _arm(self, now: float) -> None:
        """Have ourselves woken when time alone will change something."""
        wake = earliest((self.shop.wake, self.upkeep.wake))
        if wake == self._timer_at and self._timer.armed:
            return
        self._timer_at = wake
        if wake is None:
            self._timer.disarm()
        else:
            self._timer.arm(max(0.0, wake - now))
