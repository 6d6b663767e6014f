"""Converts the state of the world into plain data and back, so that it survives Home Assistant."""

from dataclasses import fields, is_dataclass
from typing import Any

_DESCRIPTION = {"spec", "travel", "spin_up", "spin_down"}
"""The fields that describe a part and aren't its state."""


def dump(part: Any) -> Any:
    """Return the state of a part, and of its parts, as plain data."""
    if is_dataclass(part) and not isinstance(part, type):
        return {
            item.name: dump(getattr(part, item.name))
            for item in fields(part)
            if item.name not in _DESCRIPTION
        }
    if isinstance(part, dict):
        return {key: dump(value) for key, value in part.items()}
    if isinstance(part, list | tuple):
        return [dump(value) for value in part]
    return part


def load(part: Any, data: dict[str, Any]) -> None:
    """Restore a part from plain data. Unknown keys are ignored, missing ones stay unchanged."""
    for item in fields(part):
        if item.name in _DESCRIPTION or item.name not in data:
            continue
        kept = getattr(part, item.name)
        value = data[item.name]
        if is_dataclass(kept) and not isinstance(kept, type):
            load(kept, value)
        elif isinstance(kept, list):
            setattr(
                part,
                item.name,
                [tuple(entry) if isinstance(entry, list) else entry for entry in value],
            )
        else:
            setattr(part, item.name, value)
