"""Checks now and then what to suggest to the owner of a system."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.event import async_track_time_interval

from ...runtime.system_context import SystemContext
from .idle import forget_idle, suggest_idle
from .ids import forget_ids, suggest_ids
from .start_when import ask_start_when, forget_start_when
from .travel import forget_travel, suggest_travel

LOOK = timedelta(hours=1)


class SuggestionsManager:
    """The suggestions for the owner of one system, as repairs."""

    def __init__(self, system: SystemContext) -> None:
        self._system = system
        self._unsubs: list[Callable[[], None]] = []

    @callback
    def start(self) -> None:
        """Check now, every hour, and after each change by the owner."""
        self._unsubs = [
            async_track_time_interval(
                self._system.hass, self._tick, LOOK, cancel_on_shutdown=True
            ),
            self._system.on_replan(self.look),
        ]
        self.look()

    @callback
    def stop(self) -> None:
        """Stop checking; a disabled system has nothing to suggest."""
        while self._unsubs:
            self._unsubs.pop()()
        if self._system.entry.disabled_by is not None:
            forget_suggestions(self._system.hass, self._system.entry, for_good=False)

    @callback
    def look(self) -> None:
        """Raise the present suggestions, and delete the others."""
        ask_start_when(self._system)
        suggest_travel(self._system)
        suggest_idle(self._system)
        suggest_ids(self._system)

    @callback
    def _tick(self, _now: datetime) -> None:
        self.look()


@callback
def forget_suggestions(
    hass: HomeAssistant, entry: ConfigEntry[Any], *, for_good: bool
) -> None:
    """Delete every suggestion; `for_good` also forgets which were ignored."""
    forget_start_when(hass, entry)
    forget_travel(hass, entry)
    forget_idle(hass, entry, for_good=for_good)
    forget_ids(hass, entry, for_good=for_good)
