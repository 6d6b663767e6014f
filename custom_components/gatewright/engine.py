"""Runs one system in the hub: hears its entities, lets the core decide, drives.

The engine is the only place where the core meets Home Assistant's clock, states
and services. Everything it hears it tells the core together with the instant, has
the core advance, pokes the drivers, and tells our own entities whose part changed.
"""

from collections import deque
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from time import monotonic
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import CALLBACK_TYPE, HassJob, HomeAssistant, callback
from homeassistant.helpers.event import async_call_later, async_track_time_interval
from homeassistant.util import dt as dt_util

from . import hiding
from .announce import Announcer
from .const import CONF_HIDE_WRAPPED
from .devices import keep_devices
from .driver import Contexts, Driver
from .ears import Ears
from .missing import tell_missing
from .planning import Layout, Source, read_layout
from .shop.actuation import Actuator
from .shop.ledger import Run
from .shop.memory import restore, save
from .shop.plan import COLLECTOR
from .shop.sequence import Sequence
from .shop.shop import Shop
from .storage import Handover, MemoryStore, leave

type GatewrightConfigEntry = ConfigEntry[Engine]

_RUNS_KEPT = 200
_TICK = timedelta(seconds=30)
"""How often running totals are shown and saved while anything runs."""


class Engine:
    """One system: the runtime data of its config entry."""

    def __init__(
        self, hass: HomeAssistant, entry: GatewrightConfigEntry, store: MemoryStore
    ) -> None:
        """Prepare the system of a config entry; `start` sets it going."""
        self.hass = hass
        self.entry = entry
        self.layout: Layout = read_layout(hass, entry)
        self.shop = Shop(self.layout.system, monotonic())
        self.contexts = Contexts()
        self.drivers: dict[str, Driver] = {}
        self.runs: deque[Run] = deque(maxlen=_RUNS_KEPT)
        self._store = store
        self._ears = Ears(hass, self)
        self._announcer = Announcer(hass, entry, self.shop)
        self._listeners: dict[str, list[Callable[[], None]]] = {}
        self._added: list[Callable[[], None]] = []
        self._keys: dict[str, object] = {}
        self._timer: CALLBACK_TYPE | None = None
        self._timer_at: float | None = None
        self._untick: CALLBACK_TYPE | None = None
        self._advancing = False
        self._again = False
        self._started = False

    # Life -----------------------------------------------------------------------

    def remember(self, memory: dict[str, Any], at: float | None) -> None:
        """Take up the memory of an earlier load, left at `at` in this process."""
        now = monotonic()
        elapsed = None if at is None else max(0.0, now - at)
        restore(self.shop, memory, now, elapsed=elapsed)

    @callback
    def start(self) -> None:
        """Hear the entities and begin to work."""
        self._untick = async_track_time_interval(
            self.hass, self._tick, _TICK, cancel_on_shutdown=True
        )
        self._started = True
        self._connect()
        self.advance()

    @callback
    def stop(self) -> None:
        """Stop hearing and leave everything as it stands, for the next load."""
        self._started = False
        self._ears.close()
        if self._untick is not None:
            self._untick()
        if self._timer is not None:
            self._timer()
            self._timer = None
        leave(self.hass, self.entry.entry_id, Handover(self.memory(), monotonic()))

    def memory(self) -> dict[str, Any]:
        """Return what has to survive a restart."""
        return save(self.shop, monotonic())

    async def save(self) -> None:
        """Write the memory at once."""
        await self._store.write(self.memory())

    @callback
    def replan(self) -> None:
        """Take up what the owner changed, with everything going on as it was."""
        before = self.layout
        self.layout = read_layout(self.hass, self.entry)
        now = monotonic()
        self.sequence.replan(self.layout.system, now)
        for gate_id, sources in self.layout.gates.items():
            old = before.gates.get(gate_id)
            if old is not None and _stored(old.actuator) != _stored(sources.actuator):
                self.sequence.gates.renew(gate_id)
        if self.layout.switch.stored != before.switch.stored:
            self._exchange_collector(before.switch)
        kept = {source.stored for source in self.layout.wrapped()}
        hiding.unhide(
            self.hass,
            _present(
                source for source in before.wrapped() if source.stored not in kept
            ),
        )
        keep_devices(self.hass, self.entry, self.layout)
        self._connect()
        for added in self._added:
            added()
        self._keys.clear()
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
        try:
            while self._again:
                self._again = False
                self._round(monotonic())
        finally:
            self._advancing = False

    def actuator(self, part: str) -> Actuator | None:
        """Return what the core knows of an actuator."""
        if part == COLLECTOR:
            return self.sequence.motor.actuator
        return self.sequence.gates.actuator(part) or self.sequence.companions.actuator(
            part
        )

    def instant(self, at: float | None) -> datetime | None:
        """Return the wall-clock time of an instant on the core's clock."""
        if at is None:
            return None
        return dt_util.utcnow() + timedelta(seconds=at - monotonic())

    @callback
    def listen(self, part: str, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` when the part changes; returns how to stop that."""
        listeners = self._listeners.setdefault(part, [])
        listeners.append(listener)

        @callback
        def unlisten() -> None:
            listeners.remove(listener)

        return unlisten

    @callback
    def on_replan(self, added: Callable[[], None]) -> None:
        """Call `added` whenever machines or gates may have been added."""
        self._added.append(added)

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
        before, self.drivers = self.drivers, {}
        for part, (entity_id, inverted) in wanted.items():
            driver = before.get(part)
            if driver is None or (driver.entity_id, driver.inverted) != wanted[part]:
                driver = self._driver(part, entity_id, inverted=inverted)
            self.drivers[part] = driver
        if self.entry.data[CONF_HIDE_WRAPPED]:
            hiding.hide(self.hass, _present(self.layout.wrapped()))
        else:
            hiding.unhide(self.hass, _present(self.layout.wrapped()))
        tell_missing(self.hass, self.entry, self.layout.missing)
        self._ears.listen(self.layout)

    def _driver(self, part: str, entity_id: str, *, inverted: bool) -> Driver:
        def order() -> Any:
            actuator = self.actuator(part) if self._started else None
            return None if actuator is None else actuator.order

        return Driver(
            self.hass,
            self.entry,
            entity_id,
            self.contexts,
            order=order,
            dispatched=lambda: self.sequence.dispatched(part),
            inverted=inverted,
        )

    def _exchange_collector(self, before: Source) -> None:
        """Switch off a collector that is no longer ours, as it may be running."""
        if self.sequence.collector_wanted and before.entity_id is not None:
            switch_off(self.hass, before.entity_id)
        self.sequence.renew_collector()

    def _round(self, now: float) -> None:
        touched = set(self.sequence.watched)
        self.shop.advance(now)
        for part, _ in list(self.sequence.orders()):
            if (driver := self.drivers.get(part)) is not None:
                driver.poke()
        touched |= self.sequence.watched
        self._publish(touched, now)
        self.runs.extend(self.shop.ledger.drain())
        self._announcer.tell()
        self._arm(now)

    def _publish(self, touched: set[str], now: float) -> None:
        sequence = self.sequence
        changed = False
        for gate in sequence.system.gates:
            actuator = sequence.gates.actuator(gate.gate_id)
            if actuator is not None and self._differs(
                gate.gate_id,
                (
                    actuator.reported,
                    actuator.stands(now),
                    actuator.want,
                    actuator.reachable,
                    actuator.failed,
                ),
            ):
                changed = True
        motor = sequence.motor
        if self._differs(
            COLLECTOR,
            (
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
                tuple(self.shop.alarms.standing),
            ),
        ):
            changed = True
        # What has air depends on the gates and the collector as well.
        for machine_id in sequence.machines if changed else touched:
            run = sequence.machines.get(machine_id)
            if run is not None and self._differs(
                machine_id,
                (
                    run.phase,
                    run.step,
                    run.until,
                    run.in_use,
                    run.attached,
                    run.requested,
                    run.request_until,
                    run.sensor is not None and (run.sensor.missing, run.sensor.lost),
                    sequence.has_air(machine_id, now),
                ),
            ):
                changed = True
        if changed:
            self._store.write_soon(self.memory)

    def _differs(self, part: str, key: object) -> bool:
        """Tell a part's entities when its key is another than last time."""
        if self._keys.get(part) == key:
            return False
        self._keys[part] = key
        for listener in tuple(self._listeners.get(part, ())):
            listener()
        return True

    @callback
    def _tick(self, _now: datetime) -> None:
        """Show and save the totals while anything runs."""
        sequence = self.sequence
        in_use = [m for m in sequence.watched if sequence.machines[m].in_use]
        if not in_use and not sequence.motor.turning:
            return
        self.shop.ledger.book(monotonic())
        for part in (COLLECTOR, *in_use):
            for listener in tuple(self._listeners.get(part, ())):
                listener()
        self._store.write_soon(self.memory)

    def _arm(self, now: float) -> None:
        """Have ourselves woken when time alone will change something."""
        wake = self.shop.wake
        if wake == self._timer_at and self._timer is not None:
            return
        if self._timer is not None:
            self._timer()
            self._timer = None
        self._timer_at = wake
        if wake is not None:
            self._timer = async_call_later(
                self.hass,
                max(0.0, wake - now),
                HassJob(self._woken, "gatewright wake", cancel_on_shutdown=True),
            )

    @callback
    def _woken(self, _now: datetime) -> None:
        self._timer = None
        self.advance()


def switch_off(hass: HomeAssistant, entity_id: str) -> None:
    """Switch off an entity that is no longer driven, without waiting for it."""
    domain = entity_id.partition(".")[0]
    hass.async_create_task(
        hass.services.async_call(domain, "turn_off", {"entity_id": entity_id}),
        f"gatewright lets go of {entity_id}",
    )


def _stored(source: Source | None) -> str | None:
    return None if source is None else source.stored


def _present(sources: Iterable[Source]) -> list[str]:
    return [source.entity_id for source in sources if source.entity_id is not None]
