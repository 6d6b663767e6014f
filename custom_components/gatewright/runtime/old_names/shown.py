"""Which names the states, attributes and events of a system show.

A state has only one value. So a system that was set up with version 0.1.0 shows the old
names as long as its owner uses them, and the new ones afterwards.
"""

from collections.abc import Mapping
from typing import Any, Final

from homeassistant.config_entries import ConfigEntry

from .table import (
    ALARMS,
    ANSWER_KEYS,
    CAUSES,
    ENDINGS,
    GATE_SETS,
    MACHINE_PHASES,
    PHASES,
    REASONS,
    Renamed,
    old_of,
)

CONF_OLD_NAMES: Final = "old_names"
"""Set while a system shows the old names."""

_OLD_KEYS: Final = old_of(ANSWER_KEYS)
_OLD_VALUES: Final[Mapping[str, Renamed]] = {
    "alarm": old_of(ALARMS),
    "alarms": old_of(ALARMS),
    "cause": old_of(CAUSES),
    "ended": old_of(ENDINGS),
    "kind": old_of(ALARMS) | old_of(GATE_SETS),
    "phase": old_of(MACHINE_PHASES),
}
"""The old names of values, by their key in attributes, events and responses."""

_BY_REASON: Final = ("in_all", "not_collecting", "this_month", "this_week", "today")
"""Keys with times by the reason for missing dust collection."""

_OLD_REASONS: Final = old_of(REASONS)


def shows_old(entry: ConfigEntry[Any]) -> bool:
    """Return whether a system shows the old names."""
    return bool(entry.data.get(CONF_OLD_NAMES))


def shown_state[T](entry: ConfigEntry[Any], key: str | None, state: T) -> T | str:
    """Return a state's shown name; `key` is its translation key."""
    renamed = PHASES.get(key or "")
    if renamed is None or not isinstance(state, str) or not shows_old(entry):
        return state
    return old_of(renamed).get(state, state)


def shown_options(
    entry: ConfigEntry[Any], key: str | None, options: list[str] | None
) -> list[str] | None:
    """Return an entity's possible states under their shown names."""
    if options is None:
        return None
    return [shown_state(entry, key, option) for option in options]


def shown_data(entry: ConfigEntry[Any], data: dict[str, Any]) -> dict[str, Any]:
    """Return attributes, event data or a response as a system shows them."""
    return with_old(data) if shows_old(entry) else data


def with_old(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return data with the old values, and with each renamed key under both names."""
    found: dict[str, Any] = {}
    for key, value in data.items():
        told = _old_value(key, value)
        found[key] = told
        if (old := _OLD_KEYS.get(key)) is not None:
            found[old] = told
    return found


def _old_value(key: str, value: Any) -> Any:
    if isinstance(value, Mapping):
        if key in _BY_REASON:
            return {_OLD_REASONS.get(name, name): of for name, of in value.items()}
        return with_old(value)
    if isinstance(value, list):
        return [_old_value(key, item) for item in value]
    if isinstance(value, str):
        return _OLD_VALUES.get(key, {}).get(value, value)
    return value
