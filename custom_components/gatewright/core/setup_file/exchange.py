"""Exchanges the entities and parts that a set-up names for others."""

from collections.abc import Callable, Mapping
from typing import Any

from .document import ENTITY_KEYS, PART_KEYS, PURGE_KEY

type Exchange = Callable[[str], str | None]
"""Gives what stands for a name from now on; None where nothing does."""


def with_entities(data: Mapping[str, Any], exchange: Exchange) -> dict[str, Any]:
    """Return the data of a system or part with other entities."""
    return _exchanged(data, ENTITY_KEYS, exchange)


def with_parts(data: Mapping[str, Any], exchange: Exchange) -> dict[str, Any]:
    """Return the data of a system or part that refers to other parts."""
    found = _exchanged(data, PART_KEYS, exchange)
    if PURGE_KEY in found:
        found[PURGE_KEY] = [
            _exchanged(step, PART_KEYS, exchange) for step in found[PURGE_KEY]
        ]
    return found


def _exchanged(
    data: Mapping[str, Any], keys: frozenset[str], exchange: Exchange
) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in data.items():
        if key not in keys or not isinstance(value, str | list | tuple):
            found[key] = value
        elif isinstance(value, str):
            if (other := exchange(value)) is not None:
                found[key] = other
        else:
            others = (exchange(one) for one in value)
            found[key] = [other for other in others if other is not None]
    return found
