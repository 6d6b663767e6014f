"""A field of a form, and the answers of one filled-in form."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping
from dataclasses import KW_ONLY, dataclass, field
import math
from typing import Any, ClassVar, cast

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant
from homeassistant.helpers.selector import Selector
import voluptuous as vol

from ..core.config import GateConfig
from .entity_usage import EntityUsage
from .form_errors import FormErrors

type Values = Mapping[str, Any]
"""A form's field values, by key."""


@dataclass(slots=True, kw_only=True)
class FormContext:
    """Where a form is filled in, and for which part of a system.

    `stored` is the part's stored data, empty for a new one; `shown` is what the form
    showed at first, and `values` what it shows now. `gates` are the system's gates by
    id, `part_names` the parts to choose from, usually those gates, and `taken` the
    names of others.
    """

    hass: HomeAssistant
    claims: EntityUsage
    entry: ConfigEntry[Any] | None = None
    part_id: str = ""
    name: str = ""
    new: bool = True
    stored: Values = field(default_factory=dict)
    shown: Values = field(default_factory=dict)
    values: Values = field(default_factory=dict)
    gates: Mapping[str, GateConfig] = field(default_factory=dict)
    part_names: Mapping[str, str] = field(default_factory=dict)
    taken: Mapping[str, str] = field(default_factory=dict)

    @property
    def system(self) -> ConfigEntry[Any]:
        """Return the system that the part belongs to."""
        return cast("ConfigEntry[Any]", self.entry)


class Answers:
    """A filled-in form while it is read, field by field.

    `data` is the data to store, as far as it has been read; `picked` are the entities
    by their present ids.
    """

    def __init__(
        self,
        context: FormContext,
        fields: Mapping[str, Field],
        typed: Values,
        mistakes: FormErrors,
    ) -> None:
        self.context = context
        self.typed = dict(typed)
        self.mistakes = mistakes
        self.name = ""
        self.data: dict[str, Any] = {}
        self.picked: dict[str, list[str]] = {}
        self._fields = fields

    def read(self, *keys: str) -> None:
        """Validate fields, and collect what to store."""
        for key in keys:
            self._fields[key].read(self)

    def dump(self, key: str) -> Any:
        """Validate a field, and return what it would store."""
        return self._fields[key].dump(self)

    def number(self, key: str, usual: float) -> float:
        """Validate a number; return what to store of it, or its default."""
        value: float = self.dump(key)
        typed = self.typed.get(key)
        return usual if typed is None or not math.isfinite(typed) else value

    def refuse(self, key: str, code: str, detail: str = "") -> None:
        """Note an error of a field."""
        self.mistakes.add(key, code, detail)

    def refuse_half(self, keys: tuple[str, ...], code: str) -> None:
        """Note an error if only one of two related fields is filled in."""
        lacking = [key for key in keys if key not in self.data]
        if len(lacking) == 1:
            self.refuse(lacking[0], code)

    def given(self, *keys: str) -> bool:
        """Return whether any of these fields is filled in."""
        return any(self.typed.get(key) not in (None, [], False) for key in keys)

    def touched(self, *keys: str) -> bool:
        """Return whether a field was filled in rather than left as shown."""
        return any(
            self.typed.get(key) not in (None, [], self.context.shown.get(key))
            for key in keys
        )

    def left_as(self, key: str, *usual: object) -> bool:
        """Return whether a field still shows an earlier default."""
        value = self.typed.get(key)
        return bool(value == self.context.shown.get(key) and value in usual)


def always(context: FormContext) -> bool:
    """Return True for the form of any part."""
    return True


@dataclass(frozen=True)
class Field(ABC):
    """One field of a form.

    `new` is shown in the form of a new part. `usual` is stored if the field is left
    empty, and `omit` is what an absent value means, so it isn't stored. The field needs
    one of the fields that it `requires`, by the error code without one; if it was
    merely left over from those, it's dropped. `placeholder` is the name of `usual` in
    its text.
    """

    key: str
    _: KW_ONLY
    required: bool | Callable[[FormContext], bool] = False
    default: Any = vol.UNDEFINED
    new: Any = None
    usual: Any = None
    omit: Any = None
    requires: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    exists: Callable[[FormContext], bool] = always
    placeholder: Any = None
    stored: bool = True
    faults: ClassVar[Iterable[str]] = ()

    @abstractmethod
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        """Return the field's selector while the form shows `values`."""

    @property
    def errors(self) -> set[str]:
        """Return the field's error codes."""
        return {*self.requires, *self.faults}

    @property
    def owned(self) -> set[str]:
        """Return the keys of the stored data that the field decides."""
        return {self.key} if self.stored else set()

    def marker(self, context: FormContext) -> vol.Marker:
        """Return the field's marker in a schema."""
        required = self.required
        if callable(required):
            required = required(context)
        return (vol.Required if required else vol.Optional)(
            self.key, default=self.default
        )

    def is_there(self, context: FormContext) -> bool:
        """Return whether the form has the field at all."""
        return self.exists(context)

    def begin(self, context: FormContext) -> Any:
        """Return what the form of a new part shows."""
        return self.new

    def load(self, context: FormContext) -> Any:
        """Return what the form shows for stored data."""
        return context.stored.get(self.key, self.new)

    def dump(self, answers: Answers) -> Any:
        """Return what to store for the typed value, noting errors."""
        return answers.typed.get(self.key)

    def read(self, answers: Answers) -> None:
        """Validate the field, and add what to store to the answers' data."""
        if (value := self.dump(answers)) is None:
            value = self.usual
        if value is None or value == self.omit or not self.stored:
            return
        for code, others in self.requires.items():
            if not answers.given(*others):
                if answers.touched(self.key):
                    answers.refuse(self.key, code)
                return
        answers.data[self.key] = value

    def placeholders(self, context: FormContext) -> dict[str, str]:
        """Return the placeholders of the field's text."""
        if self.placeholder is None:
            return {}
        return {f"usual_{self.key}": self.placeholder}
