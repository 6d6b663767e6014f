"""The box that has a system only watch, and what is said before it goes live."""

from collections.abc import Mapping
from typing import Any

from homeassistant.config_entries import (
    ConfigEntry,
    ConfigEntryState,
    ConfigFlow,
    ConfigFlowResult,
)
from homeassistant.helpers.selector import BooleanSelector
import voluptuous as vol

from ..const import CONF_SWITCH, CONF_WATCH_SINCE
from ..onlooking.mode import at_rest, at_work, data_with, is_watching
from ..system_context import system_of
from .fields import Fields
from .mistakes import Mistakes

CONF_WATCH_ONLY = "watch_only"

_NOBODY = "–"


def watch_only_fields() -> Fields:
    """Return the box."""
    return {vol.Required(CONF_WATCH_ONLY, default=False): BooleanSelector()}


def watch_only_values(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the box shows."""
    return {CONF_WATCH_ONLY: is_watching(data)}


def read_watch_only(
    typed: Mapping[str, Any], before: Mapping[str, Any]
) -> dict[str, Any]:
    """Return the data to store: since when the system watches, if it does."""
    kept = {key: value for key, value in before.items() if key == CONF_WATCH_SINCE}
    return data_with(kept, watch=bool(typed.get(CONF_WATCH_ONLY)))


def check_watch_only(
    entry: ConfigEntry[Any], data: Mapping[str, Any], mistakes: Mistakes
) -> None:
    """Refuse to let go of a collector that runs: nobody would stop it then."""
    begins = is_watching(data) and not is_watching(entry.data)
    loaded = entry.state is ConfigEntryState.LOADED
    if begins and loaded and not at_rest(system_of(entry)):
        mistakes.add(CONF_WATCH_ONLY, "watch_not_at_rest")


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
