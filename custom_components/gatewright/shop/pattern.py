"""Whether plain data that was kept has the shape of what would be kept now."""

from collections.abc import Mapping
import math
from typing import Any, Final

_MOST: Final = 1e15
"""No figure of a shop is larger: a joule, a second since 1970, a count of anything."""


class UnfitError(ValueError):
    """Raised for data that is not of the shape; says where."""


def check_shape(kept: object, pattern: object, where: str = "") -> None:
    """Raise `UnfitError` where `kept` differs in shape from `pattern`.

    A map of the pattern holds what it has in common with the kept one to its shape;
    what either has alone is left to whoever reads it. What is None in the pattern may be
    anything plain, since it is not known what else it can be.
    """
    if isinstance(pattern, Mapping):
        if not isinstance(kept, Mapping):
            raise UnfitError(f"{where} is no map")
        for key in pattern.keys() & kept.keys():
            check_shape(kept[key], pattern[key], f"{where}.{key}")
    elif isinstance(pattern, list | tuple):
        if not isinstance(kept, list | tuple):
            raise UnfitError(f"{where} is no list")
    elif isinstance(pattern, bool):
        if not isinstance(kept, bool):
            raise UnfitError(f"{where} is neither true nor false")
    elif isinstance(pattern, int | float):
        if isinstance(kept, bool) or not isinstance(kept, int | float):
            raise UnfitError(f"{where} is no number")
    elif isinstance(pattern, str) and not isinstance(kept, str):
        raise UnfitError(f"{where} is no text")


def check_numbers(kept: Any, where: str = "") -> None:
    """Raise `UnfitError` for a number anywhere in plain data that none can be."""
    if isinstance(kept, Mapping):
        for key, value in kept.items():
            check_numbers(value, f"{where}.{key}")
    elif isinstance(kept, list | tuple):
        for place, value in enumerate(kept):
            check_numbers(value, f"{where}[{place}]")
    elif isinstance(kept, float | int) and not (
        math.isfinite(kept) and abs(kept) < _MOST
    ):
        raise UnfitError(f"{where} is out of all bounds")
