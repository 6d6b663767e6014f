"""Whether plain data that was kept has the shape of what would be kept now."""

from collections.abc import Mapping, Sequence
import math
from typing import Any, Final

_MOST: Final = 1e15
"""No figure of a shop is larger: a joule, a second since 1970, a count of anything."""


class UnfitError(ValueError):
    """Raised for data that is not of the shape; says where."""


def check_shape(kept: object, pattern: object, where: str = "") -> None:
    """Raise `UnfitError` where `kept` differs in shape from `pattern`.

    Both may lack what the other has. What is None in either may be anything. The first
    of a list stands for all of them, and so does any of a map whose values are alike:
    its keys are ids or days.
    """
    if kept is None or pattern is None:
        return
    if isinstance(pattern, Mapping):
        if not isinstance(kept, Mapping):
            raise UnfitError(f"{where} is no map")
        like = _alike(pattern)
        for key, value in kept.items():
            check_shape(value, pattern.get(key, like), f"{where}.{key}")
    elif isinstance(pattern, list | tuple):
        if not isinstance(kept, list | tuple):
            raise UnfitError(f"{where} is no list")
        if pattern and _all_of_a_kind(pattern):
            for place, value in enumerate(kept):
                check_shape(value, pattern[0], f"{where}[{place}]")
    elif isinstance(pattern, bool):
        if not isinstance(kept, bool):
            raise UnfitError(f"{where} is neither true nor false")
    elif isinstance(pattern, int | float):
        if isinstance(kept, bool) or not isinstance(kept, int | float):
            raise UnfitError(f"{where} is no number")
    elif isinstance(pattern, str) and not isinstance(kept, str):
        raise UnfitError(f"{where} is no text")


def _alike(pattern: Mapping[str, object]) -> object:
    """Return what stands for every value of a map; None where they are not alike."""
    values = [value for value in pattern.values() if isinstance(value, Mapping)]
    if not values or len(values) != len(pattern):
        return None
    keys = {frozenset(value) for value in values}
    return values[0] if len(keys) == 1 and len(values[0]) > 1 else None


def _all_of_a_kind(pattern: Sequence[object]) -> bool:
    return len({type(value) for value in pattern}) == 1


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
