"""Builds the configured workshop: Alder Yard with the configuration's changes."""

from collections.abc import Mapping
from typing import Any

from .model.alder_yard import ALDER_YARD
from .model.layout import Layout, layout_from_dict


def build_layout(changes: Mapping[str, Any]) -> Layout:
    """Build the workshop from the changes to Alder Yard; raises `LayoutError`.

    Maps are merged key by key, a key without a value is removed, everything else is
    replaced. So a configuration with its own machines and gates, and Alder Yard's
    without values, makes a separate workshop.
    """
    return layout_from_dict(_merge(ALDER_YARD, changes))


def _merge(base: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    merged = dict(base)
    for key, change in changes.items():
        below = merged.get(key)
        if change is None:
            merged.pop(key, None)
        elif isinstance(below, Mapping) and isinstance(change, Mapping):
            merged[key] = _merge(below, change)
        else:
            merged[key] = change
    return merged
