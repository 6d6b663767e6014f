"""Reads values out of a file, and notes each mistake with the place it is at."""

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
import math
from typing import Any, Final

_MOST_TEXT: Final = 255


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRefusal:
    """Why a file cannot be read: a code to translate, and where, `ducts[2].end`."""

    code: str
    path: str = ""
    values: Mapping[str, str]


class UnreadablePlanError(Exception):
    """Raised for a file that is no plan, with everything that is wrong with it."""

    def __init__(self, refusals: tuple[PlanRefusal, ...]) -> None:
        super().__init__("; ".join(f"{one.code} at {one.path}" for one in refusals))
        self.refusals = refusals


class Fields:
    """A map of a file, at a place; mistakes go into one list for the whole file."""

    def __init__(
        self, raw: Mapping[str, Any], path: str, refusals: list[PlanRefusal]
    ) -> None:
        self._raw = raw
        self._path = path
        self._refusals = refusals
        self._read: set[str] = set()

    def refuse(self, code: str, key: str, **values: str) -> None:
        """Note a mistake at a key."""
        path = self._at(key)
        self._refusals.append(PlanRefusal(code=code, path=path, values=values))

    @property
    def more(self) -> dict[str, Any]:
        """What nobody has read; to be asked for at the end."""
        return {key: self._raw[key] for key in self._raw if key not in self._read}

    def path_of(self, key: str) -> str:
        """Return the place of a key in the file."""
        return self._at(key)

    def given(self, key: str) -> bool:
        """Whether there is a value; null is none."""
        self._read.add(key)
        return self._raw.get(key) is not None

    def null(self, key: str) -> bool:
        """Whether there is a null, which is not the same as nothing."""
        self._read.add(key)
        return key in self._raw and self._raw[key] is None

    def number(
        self, key: str, low: float, high: float, *, needed: bool = False
    ) -> float | None:
        """Return a number in a range."""
        if not self._there(key, needed=needed):
            return None
        value = self._raw[key]
        if (
            not isinstance(value, int | float)
            or isinstance(value, bool)
            or not math.isfinite(value)
        ):
            self.refuse("wrong_type", key, wanted="number")
            return None
        if not low <= value <= high:
            self.refuse(
                "out_of_range",
                key,
                value=f"{value:g}",
                low=f"{low:g}",
                high=f"{high:g}",
            )
            return None
        return float(value)

    def text(self, key: str, *, needed: bool = False) -> str | None:
        """Return a text."""
        if not self._there(key, needed=needed):
            return None
        value = self._raw[key]
        if not isinstance(value, str):
            self.refuse("wrong_type", key, wanted="text")
            return None
        if len(value) > _MOST_TEXT:
            self.refuse("too_many", key, most=str(_MOST_TEXT))
            return None
        return value

    def choice(
        self, key: str, choices: Collection[str], *, needed: bool = False
    ) -> str | None:
        """Return one of some words."""
        value = self.text(key, needed=needed)
        if value is not None and value not in choices:
            self.refuse(
                "unknown_choice", key, value=value, choices=", ".join(sorted(choices))
            )
            return None
        return value

    def flag(self, key: str) -> bool | None:
        """Return a yes or no."""
        if not self.given(key):
            return None
        value = self._raw[key]
        if not isinstance(value, bool):
            self.refuse("wrong_type", key, wanted="flag")
            return None
        return value

    def inner(self, key: str, *, needed: bool = False) -> Fields | None:
        """Return a map within."""
        if not self._there(key, needed=needed):
            return None
        return self._inner(self._raw[key], key)

    def rows(self, key: str, most: int, *, needed: bool = False) -> Iterator[Fields]:
        """Yield the maps of a list."""
        for number, value in enumerate(self._list(key, most, needed=needed)):
            if (row := self._inner(value, f"{key}[{number}]")) is not None:
                yield row

    def texts(self, key: str, most: int) -> tuple[str, ...]:
        """Return a list of texts."""
        found: list[str] = []
        for number, value in enumerate(self._list(key, most)):
            if isinstance(value, str):
                found.append(value)
            else:
                self.refuse("wrong_type", f"{key}[{number}]", wanted="text")
        return tuple(found)

    def pairs(
        self, key: str, most: int, reach: float
    ) -> tuple[tuple[float, float], ...]:
        """Return a list of pairs of numbers."""
        found: list[tuple[float, float]] = []
        for number, value in enumerate(self._list(key, most)):
            where = f"{key}[{number}]"
            if not isinstance(value, list | tuple) or len(value) != 2:
                self.refuse("wrong_type", where, wanted="pair")
                continue
            pair = Fields({"[0]": value[0], "[1]": value[1]}, where, self._refusals)
            pair._path = self._at(where)
            x, y = (pair.number(part, -reach, reach, needed=True) for part in pair._raw)
            if x is not None and y is not None:
                found.append((x, y))
        return tuple(found)

    def _list(self, key: str, most: int, *, needed: bool = False) -> list[Any]:
        if not self._there(key, needed=needed):
            return []
        value = self._raw[key]
        if not isinstance(value, list | tuple):
            self.refuse("wrong_type", key, wanted="list")
            return []
        if len(value) > most:
            self.refuse("too_many", key, most=str(most))
            return []
        return list(value)

    def _inner(self, value: Any, key: str) -> Fields | None:
        if not isinstance(value, Mapping):
            self.refuse("wrong_type", key, wanted="map")
            return None
        return Fields(value, self._at(key), self._refusals)

    def _there(self, key: str, *, needed: bool) -> bool:
        if self.given(key):
            return True
        if needed:
            self.refuse("missing", key)
        return False

    def _at(self, key: str) -> str:
        return f"{self._path}.{key}".lstrip(".").replace(".[", "[")


def optional[T](fields: Fields | None, read: Callable[[Fields], T]) -> T | None:
    """Return what is read from a map that may not be there."""
    return None if fields is None else read(fields)
