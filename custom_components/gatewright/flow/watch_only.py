"""The box that has a system only watch, and what is said before it goes live."""

from collections.abc import Mapping
from typing import Any, override

from homeassistant.config_entries import (
    ConfigEntry,
    ConfigEntryState,
    ConfigFlow,
    ConfigFlowResult,
)
import voluptuous as vol

from ..const import CONF_SWITCH, CONF_WATCH_SINCE
from ..forms.field import Answers, FormContext
from ..forms.kinds import BooleanField
from ..onlooking.mode import at_rest, at_work, data_with, is_watching
from ..system_context import system_of

CONF_WATCH_ONLY = "watch_only"

_NOBODY = "–"


class WatchOnlyField(BooleanField):
    """The box; stored is since when the system watches, if it does."""

    faults = ("watch_not_at_rest",)

    @property
    @override
    def owned(self) -> set[str]:
        return {CONF_WATCH_SINCE}

    @override
    def load(self, context: FormContext) -> bool:
        return is_watching(context.stored)

    @override
    def read(self, answers: Answers) -> None:
        entry, stored = answers.context.entry, answers.context.stored
        kept = {key: stored[key] for key in self.owned if key in stored}
        data = data_with(kept, watch=bool(answers.typed.get(self.key)))
        answers.data |= data
        if entry is None or not is_watching(data) or is_watching(entry.data):
            return
        # Nobody would stop a collector that runs when it is let go of.
        loaded = entry.state is ConfigEntryState.LOADED
        if loaded and not at_rest(system_of(entry)):
            answers.refuse(self.key, "watch_not_at_rest")


class GoLiveStep(ConfigFlow):
    """Says what happens once the system is live, before it is."""

    _name_to_store: str
    _data_to_store: Mapping[str, Any]

    async def store_system(
        self, entry: ConfigEntry[Any], name: str, data: Mapping[str, Any]
    ) -> ConfigFlowResult:
        """Store a system; ask first where it goes live with that."""
        self._name_to_store, self._data_to_store = name, data
        if is_watching(entry.data) and not is_watching(data):
            return self._ask(entry)
        return self._store(entry)

    async def async_step_go_live(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Go live once that was read."""
        entry = self._get_reconfigure_entry()
        return self._ask(entry) if user_input is None else self._store(entry)

    def _ask(self, entry: ConfigEntry[Any]) -> ConfigFlowResult:
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

    def _store(self, entry: ConfigEntry[Any]) -> ConfigFlowResult:
        return self.async_update_and_abort(
            entry,
            unique_id=self._data_to_store[CONF_SWITCH],
            title=self._name_to_store,
            data=dict(self._data_to_store),
        )
