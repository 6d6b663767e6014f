"""Reads files that version 0.1.0 has written: what is kept in them by name is renamed."""

from collections.abc import Mapping
from typing import Any, Final

from .table import (
    ALARMS,
    COLLECTOR_PHASES,
    ENDINGS,
    MACHINE_PHASES,
    REASONS,
    Renamed,
)

MINOR_VERSION: Final = 2
"""The first version of the files that has the new names."""

_VALUES: Final[Mapping[str, Renamed]] = {
    "phase": {**COLLECTOR_PHASES, **MACHINE_PHASES},
    "ended": ENDINGS,
}
_LISTS_OF_ALARMS: Final = ("alarms", "occurrences")
_BY_REASON: Final = "without"


def renewed(kept: Any, key: str = "") -> Any:
    """Return what was kept under a key with its names renamed, and else as it was.

    Whatever has another shape than 0.1.0 gave it is left alone: whoever reads it says so.
    """
    if key in _LISTS_OF_ALARMS:
        return _alarms(kept)
    if isinstance(kept, dict):
        if key == _BY_REASON:
            return {
                REASONS.get(name, name): renewed(of, key) for name, of in kept.items()
            }
        return {name: renewed(of, name) for name, of in kept.items()}
    if isinstance(kept, list):
        return [renewed(item, key) for item in kept]
    if isinstance(kept, str):
        return _VALUES.get(key, {}).get(kept, kept)
    return kept


def _alarms(kept: Any) -> Any:
    """Rename the kinds of alarms: each is a list that begins with it, perhaps by days."""
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
