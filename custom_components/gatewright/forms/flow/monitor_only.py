"""The monitor-only checkbox, and the warning before a system goes live."""

from abc import abstractmethod
from collections.abc import Mapping
from typing import Any, override

from homeassistant.config_entries import (
    ConfigEntryState,
    ConfigFlowResult,
    OptionsFlow,
)
import voluptuous as vol

from ...const import CONF_MONITOR_ONLY_SINCE, CONF_SWITCH
from ...features.monitor_only.mode import at_rest, at_work, data_with, is_monitor_only
from ...runtime.system_context import system_of
from ..field import Answers, FormContext
from ..kinds import BooleanField

CONF_MONITOR_ONLY = "watch_only"

_NOBODY = "–"


class WatchOnlyField(BooleanField):
    """The checkbox; stored is since when the system monitors, if it does."""

    faults = ("watch_not_at_rest",)

    @property
    @override
    def owned(self) -> set[str]:
        return {CONF_MONITOR_ONLY_SINCE}

    @override
    def load(self, context: FormContext) -> bool:
        return is_monitor_only(context.stored)

    @override
    def read(self, answers: Answers) -> None:
        entry, stored = answers.context.entry, answers.context.stored
        kept = {key: stored[key] for key in self.owned if key in stored}
        data = data_with(kept, watch=bool(answers.typed.get(self.key)))
        answers.data |= data
        if entry is None or not is_monitor_only(data) or is_monitor_only(entry.data):
            return
        # Nobody would stop a running collector after it's let go.
        loaded = entry.state is ConfigEntryState.LOADED
        if loaded and not at_rest(system_of(entry)):
            answers.refuse(self.key, "watch_not_at_rest")


class GoLiveStep(OptionsFlow):
    """Warns of what happens once the system is live, before it is."""

    _name_to_store: str
    _data_to_store: Mapping[str, Any]

    @abstractmethod
    async def stored(self) -> ConfigFlowResult:
        """Continue after the system is stored."""

    async def store_system(
        self, name: str, data: Mapping[str, Any]
    ) -> ConfigFlowResult:
        """Store a system; ask first if it goes live."""
        self._name_to_store, self._data_to_store = name, data
        if is_monitor_only(self.config_entry.data) and not is_monitor_only(data):
            return await self.async_step_go_live()
        return await self._store()

    async def async_step_go_live(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Go live after the warning."""
        if user_input is not None:
            return await self._store()
        entry = self.config_entry
        running: list[str] = []
        if entry.state is ConfigEntryState.LOADED:
            running = at_work(system_of(entry))
        return self.async_show_form(
            step_id="go_live",
            data_schema=vol.Schema({}),
            errors={},
            description_placeholders={
                "name": self._name_to_store,
                "machines": ", ".join(running) or _NOBODY,
            },
            last_step=True,
        )

    async def _store(self) -> ConfigFlowResult:
        self.hass.config_entries.async_update_entry(
            self.config_entry,
            unique_id=self._data_to_store[CONF_SWITCH],
            title=self._name_to_store,
            data=dict(self._data_to_store),
        )
        return await self.stored()
