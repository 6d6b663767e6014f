"""Looks now and then at what can be suggested to the owner of a system."""

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
    """What is suggested to the owner of one system, as repairs."""

    def __init__(self, system: SystemContext) -> None:
        """Prepare to look; `start` begins."""
        self._system = system
        self._unsubs: list[Callable[[], None]] = []

    @callback
    def start(self) -> None:
        """Look now, every hour, and whenever the owner has changed something."""
        self._unsubs = [
            async_track_time_interval(
                self._system.hass, self._tick, LOOK, cancel_on_shutdown=True
            ),
            self._system.on_replan(self.look),
        ]
        self.look()

    @callback
    def stop(self) -> None:
        """Look no more; a system that is disabled has nothing to suggest."""
        while self._unsubs:
            self._unsubs.pop()()
        if self._system.entry.disabled_by is not None:
            forget_suggestions(self._system.hass, self._system.entry, for_good=False)

    @callback
    def look(self) -> None:
        """Raise what can be suggested now, and take back the rest."""
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
    """Take back every suggestion; `for_good` forgets as well what was ignored."""
    forget_start_when(hass, entry)
    forget_travel(hass, entry)
    forget_idle(hass, entry, for_good=for_good)
    forget_ids(hass, entry, for_good=for_good)
