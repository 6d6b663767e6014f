"""What every part of one system works with: Home Assistant, the core and the loop.

It neither names nor imports a feature. A feature gets what it needs through its
constructor; whatever shows features (entities, actions, cards, voice) finds them by
type.
"""

from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from typing import Any, Protocol

from homeassistant.config_entries import ConfigEntry, ConfigEntryState
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.util import dt as dt_util

from ..core.control.alarms import AlarmKind, Condition
from ..core.control.sequence import Sequence
from ..core.control.shop import ShopControl
from ..core.inputs import FireShutdownReset, Input, RetryAsked
from ..core.stored.config import StoredConfig
from .actuator_driver import OwnContexts
from .config_loader import LoadedConfig
from .decoding import CoverPosition
from .events import EventReporter
from .updates import Updates


@dataclass(kw_only=True, eq=False)
class SystemContext:
    """One system, for its features.

    `handle` takes an event and does what follows; within `gather`, what follows is done
    once, at its end. `now` is the instant of the event being handled, or of this
    moment, in s on the core's clock. `watching` says that the system only monitors.
    """

    hass: HomeAssistant
    entry: GatewrightConfigEntry
    described: StoredConfig
    layout: LoadedConfig
    shop: ShopControl
    watching: bool
    contexts: OwnContexts
    slides: dict[str, CoverPosition]
    announcer: EventReporter
    updates: Updates
    handle: Callable[[Input], None]
    gather: Callable[[], AbstractContextManager[None]]
    now: Callable[[], float]
    _features: dict[type, object] = field(default_factory=dict)
    _replanned: list[Callable[[], None]] = field(default_factory=list)

    @property
    def sequence(self) -> Sequence:
        """The behavior of the system."""
        return self.shop.sequence

    # Features --------------------------------------------------------------------

    def add(self, feature: object) -> None:
        """Register a feature by its type."""
        self._features[type(feature)] = feature

    def find[T](self, kind: type[T]) -> T | None:
        """Return the feature of a type; None if the system has none."""
        found = self._features.get(kind)
        return found if isinstance(found, kind) else None

    def of[T](self, kind: type[T]) -> T:
        """Return the feature of a type that every system has."""
        if (found := self.find(kind)) is None:
            raise LookupError(kind.__name__)
        return found

    # Changes ---------------------------------------------------------------------

    @callback
    def listen(self, part: str, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` when the part changes; return a function that removes it."""
        return self.updates.listen(part, listener)

    @callback
    def tell(self, parts: Iterable[str]) -> None:
        """Notify the entities of these parts."""
        self.updates.tell(parts)

    @callback
    def on_replan(self, replanned: Callable[[], None]) -> CALLBACK_TYPE:
        """Call back when parts may have come or gone; return how to remove it."""
        self._replanned.append(replanned)
        return partial(self._replanned.remove, replanned)

    @callback
    def replanned(self) -> None:
        """Notify everybody who follows added and removed parts."""
        for listener in tuple(self._replanned):
            listener()
        self.updates.forget()

    # What can be said of it ------------------------------------------------------

    def instant(self, at: float | None) -> datetime | None:
        """Return the wall-clock time of an instant on the core's clock."""
        if at is None:
            return None
        try:
            return dt_util.utcnow() + timedelta(seconds=at - self.now())
        except OverflowError:
            # So far in the future that no such date exists.
            return None

    @callback
    def answer(self, kind: AlarmKind, part: str) -> None:
        """Act on an alarm for a person: reset it, or retry.

        Raises `RefusedError` while a detector still reports fire.
        """
        shutdown = kind is AlarmKind.FIRE_SHUTDOWN
        self.handle(FireShutdownReset() if shutdown else RetryAsked(part))
        self.announcer.begin_anew(Condition(kind, part))


class RuntimeData(Protocol):
    """The runtime data of our config entries, as features see it."""

    context: SystemContext

    async def save(self) -> None:
        """Write what has to survive a restart."""

    def replan(self) -> None:
        """Apply the owner's changes while everything keeps running."""


type GatewrightConfigEntry = ConfigEntry[RuntimeData]


def loaded_system(entry: ConfigEntry[Any]) -> SystemContext | None:
    """Return the system of a config entry; None while it isn't loaded."""
    if entry.state is not ConfigEntryState.LOADED or not hasattr(entry, "runtime_data"):
        return None
    return system_of(entry)


def system_of(entry: GatewrightConfigEntry) -> SystemContext:
    """Return the system of a loaded config entry."""
    return entry.runtime_data.context
