"""Reads files written by version 0.1.0, and renames the keys and values in them."""

from collections.abc import Mapping
from typing import Any, Final

from .table import ALARMS, COLLECTOR_PHASES, ENDINGS, MACHINE_PHASES, REASONS, Renamed

MINOR_VERSION: Final = 2
"""The first file version with the new names."""

_VALUES: Final[Mapping[str, Renamed]] = {
    "phase": {**COLLECTOR_PHASES, **MACHINE_PHASES},
    "ended": ENDINGS,
}
_KEYS: Final[Renamed] = {
    "air_time": "collecting_time",
    "attached": "connected",
    "companions": "linked_devices",
    "emergency": "fire_shutdown",
    "lockout": "start_block",
    "sparing": "saving_start",
    "want": "target",
}
"""Keys of stored values."""

_LISTS_OF_ALARMS: Final = ("alarms", "occurrences")
_BY_REASON: Final = "without"


def renewed(kept: Any, key: str = "") -> Any:
    """Return what was stored under a key, renamed where necessary.

    Anything of another shape than in 0.1.0 stays as it is: its reader reports it.
    """
    if key in _LISTS_OF_ALARMS:
        return _alarms(kept)
    if isinstance(kept, dict):
        if key == _BY_REASON:
            return {
                REASONS.get(name, name): renewed(of, key) for name, of in kept.items()
            }
        return {_KEYS.get(name, name): renewed(of, name) for name, of in kept.items()}
    if isinstance(kept, list):
        return [renewed(item, key) for item in kept]
    if isinstance(kept, str):
        return _VALUES.get(key, {}).get(kept, kept)
    return kept


def _alarms(kept: Any) -> Any:
    """Rename the kinds of alarms: each is the first item of a list, perhaps by days."""
    if isinstance(kept, dict):
        return {day: _alarms(of) for day, of in kept.items()}
    if not isinstance(kept, list):
        return kept
    return [
        [ALARMS.get(row[0], row[0]), *row[1:]]
        if isinstance(row, list) and row and isinstance(row[0], str)
        else row
        for row in kept
    ]
