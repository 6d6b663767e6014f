"""How stored values are read and written: a table made from the types of the fields.

A value that isn't what its field has to be reads as if it had not been given. It stays
stored as it is, like every key that no field knows, until somebody sets the field.
"""

from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from enum import StrEnum
from functools import cache
import math
from operator import attrgetter
from types import MappingProxyType, NoneType
from typing import (
    Annotated,
    Any,
    ClassVar,
    Final,
    NamedTuple,
    Self,
    get_args,
    get_origin,
    get_type_hints,
)

type StoredCheck = Callable[[Any], bool]

_MOST: Final = 1e7
"""No figure of a form is larger."""

NAMED: Final = frozenset({"kept", "part_id", "name"})
"""The fields of a system or part that Home Assistant keeps beside its data."""

_NOTHING: Final[Mapping[str, Any]] = MappingProxyType({})


class UnreadableError(Exception):
    """Raised where nothing can be made of what is stored; `what` is the key to blame."""

    def __init__(self, what: str) -> None:
        super().__init__(what)
        self.what = what


# What a value has to be -----------------------------------------------------------------


def is_number(value: Any) -> bool:
    """Whether a stored value is a number that a form could have taken."""
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and math.isfinite(value)
        and 0 <= value <= _MOST
    )


def is_signed(value: Any) -> bool:
    """Whether a stored value is such a number, or one below zero."""
    return is_number(abs(value)) if isinstance(value, int | float) else False


def is_text(value: Any) -> bool:
    """Whether a stored value is a text."""
    return isinstance(value, str)


def is_anything(_value: Any) -> bool:
    """Take every stored value."""
    return True


_CHECKS: Final[Mapping[Any, StoredCheck]] = {
    float: is_number,
    int: is_number,
    bool: lambda value: isinstance(value, bool),
    str: is_text,
}


def is_one_of(choices: Iterable[str]) -> StoredCheck:
    """Return the check for one of several words."""
    known = {str(choice) for choice in choices}
    return lambda value: isinstance(value, str) and value in known


# The table ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class At:
    """How a field is stored, in its annotation: the key if that isn't its own name.

    `check` and `load` are those of its type unless given. A form `always` stores it, so
    that a lack is told. What is stored under the key `needed_with` says nothing without
    it.
    """

    key: str = ""
    check: StoredCheck | None = None
    load: Callable[[Any], Any] | None = None
    always: bool = False
    needed_with: str = ""


class _FieldType(NamedTuple):
    """How the values of a type are stored."""

    check: StoredCheck
    load: Callable[[Any], Any]
    dump: Callable[[Any], Any]


def _kind_of(hint: Any) -> _FieldType:
    args = [arg for arg in get_args(hint) if arg is not NoneType]
    if get_origin(hint) is tuple:
        each, length = _kind_of(args[0]), None if Ellipsis in args else len(args)
        return _FieldType(
            lambda value: (
                isinstance(value, list | tuple)
                and length in (None, len(value))
                and all(map(each.check, value))
            ),
            lambda value: tuple(map(each.load, value)),
            lambda value: list(map(each.dump, value)),
        )
    if args:
        # None is how a value that is not stored is read.
        return _kind_of(args[0])
    if issubclass(hint, Stored):
        return _FieldType(
            lambda value: isinstance(value, Mapping) and not unreadable_in(hint, value),
            hint.from_form,
            hint.to_data,
        )
    if issubclass(hint, StrEnum):
        return _FieldType(is_one_of(hint), hint, str)
    return _FieldType(_CHECKS.get(hint, is_anything), _same, _same)


def _same(value: Any) -> Any:
    return value


class StoredField(NamedTuple):
    """One stored field: `place` leads to it from the description of the whole."""

    place: str
    key: str
    kind: _FieldType
    default: Any
    always: bool
    needed_with: str


class FieldTable(NamedTuple):
    """The fields of a description by their names, and its parts.

    The values of the parts are stored among its own; `fields` are those of all, `keyed`
    the same by their keys, `asked` those whose lack may be told.
    """

    own: Mapping[str, StoredField]
    parts: Mapping[str, type[Stored]]
    fields: tuple[StoredField, ...]
    keyed: Mapping[str, StoredField]
    asked: tuple[StoredField, ...]


@cache
def _made_of(cls: Any) -> FieldTable:
    hints = get_type_hints(cls, include_extras=True)
    own: dict[str, StoredField] = {}
    parts: dict[str, type[Stored]] = {}
    for item in fields(cls):
        hint, at = hints[item.name], At()
        if item.name in cls.BESIDE:
            continue
        if isinstance(hint, type) and issubclass(hint, Stored):
            parts[item.name] = hint
            continue
        if get_origin(hint) is Annotated:
            hint, at = get_args(hint)
        kind = _kind_of(hint)
        own[item.name] = StoredField(
            place=item.name,
            key=at.key or item.name,
            kind=kind._replace(check=at.check or kind.check, load=at.load or kind.load),
            default=item.default,
            always=at.always,
            needed_with=at.needed_with,
        )
    inner = (
        item._replace(place=f"{name}.{item.place}")
        for name, part in parts.items()
        for item in table_of(part).fields
    )
    found = (*own.values(), *inner)
    return FieldTable(
        own=own,
        parts=parts,
        fields=found,
        keyed={item.key: item for item in found},
        asked=tuple(
            item
            for item in found
            if item.always or item.needed_with or item.default is MISSING
        ),
    )


def table_of(cls: Any) -> FieldTable:
    """Return the fields of a description, a subclass of `Stored`."""
    return _made_of(cls)


def keys_of(cls: type[Stored]) -> frozenset[str]:
    """Return the keys under which a description is stored."""
    return frozenset(table_of(cls).keyed)


def defaults_of(cls: type[Stored]) -> dict[str, Any]:
    """Return what is always stored, by its key, with what counts where it isn't."""
    return {f.key: f.kind.dump(f.default) for f in table_of(cls).fields if f.always}


def unreadable_in(cls: type[Stored], data: Mapping[str, Any]) -> list[str]:
    """Return the keys of what is lacking, then of what isn't what it has to be."""
    table, good = table_of(cls), _good_in(cls, data)
    return [
        item.key
        for item in table.asked
        if item.key not in data and (not item.needed_with or _asks(data, good, item))
    ] + [key for key in data if key in table.keyed and key not in good]


def readable_in(cls: type[Stored], data: Mapping[str, Any]) -> dict[str, Any]:
    """Return stored data without the values of fields that cannot be read."""
    wrong = keys_of(cls) - _readable_keys(cls, data)
    return {key: value for key, value in data.items() if key not in wrong}


def _readable_keys(cls: type[Stored], data: Mapping[str, Any]) -> set[str]:
    """Return the keys of what is right, but for what says nothing without another."""
    good = _good_in(cls, data)
    return good - {
        item.needed_with
        for item in table_of(cls).asked
        if item.key not in good and _asks(data, good, item)
    }


def _good_in(cls: type[Stored], data: Mapping[str, Any]) -> set[str]:
    keyed = table_of(cls).keyed
    return {k for k, value in data.items() if k in keyed and keyed[k].kind.check(value)}


def _asks(data: Mapping[str, Any], good: Container[str], item: StoredField) -> bool:
    """Return whether something stored says nothing without a field."""
    return item.needed_with in good and data[item.needed_with] is not False


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """Something that is stored: its fields as they count, `kept` as it was read."""

    BESIDE: ClassVar[frozenset[str]] = frozenset({"kept"})
    """The fields that are not among the stored values."""

    kept: Mapping[str, Any] = field(default=_NOTHING, repr=False, compare=False)

    @classmethod
    def from_data(cls, data: Mapping[str, Any], **known: Any) -> Self:
        """Read stored data; `known` are the fields that are not stored in it.

        Raises `UnreadableError` where a value without a default is missing or wrong.
        """
        return cls._made(data, _readable_keys(cls, data), known)

    @classmethod
    def from_form(cls, data: Mapping[str, Any], **known: Any) -> Self:
        """Read what a form would store, mistakes and all: it tells them itself."""
        return cls._made(data, set(data), known)

    @classmethod
    def _made(
        cls, data: Mapping[str, Any], good: set[str], known: Mapping[str, Any]
    ) -> Self:
        table = table_of(cls)
        values = {"kept": data, **known}
        for name, item in table.own.items():
            if item.key in good:
                values[name] = item.kind.load(data[item.key])
            elif item.default is MISSING:
                raise UnreadableError(item.key)
        for name, part in table.parts.items():
            values[name] = part._made(data, good, {})  # noqa: SLF001
        return cls(**values)

    def with_data(self, data: Mapping[str, Any]) -> Self:
        """Return the same with some of its stored data changed."""
        known = {name: getattr(self, name) for name in self.BESIDE - {"kept"}}
        return type(self).from_data({**self.to_data(), **data}, **known)

    def to_data(self) -> dict[str, Any]:
        """Return the data to store: what was read, with what has been set since."""
        before = type(self).from_data(self.kept) if self.kept else None
        data = dict(self.kept)
        for item in table_of(type(self)).fields:
            value_of = attrgetter(item.place)
            value = value_of(self)
            was = item.default if before is None else value_of(before)
            changed = value != was or (before is None and item.always)
            if value is None:
                if changed:
                    data.pop(item.key, None)
            elif changed or (item.key not in data and _asks(data, data, item)):
                data[item.key] = item.kind.dump(value)
        return data
