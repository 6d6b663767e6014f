"""Kinds of fields: names, checkboxes, choices of words, parts and entities, texts."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import KW_ONLY, dataclass
from typing import Any, override

from homeassistant.const import CONF_NAME
from homeassistant.core import HomeAssistant
from homeassistant.helpers.selector import (
    BooleanSelector,
    EntitySelectorConfig,
    Selector,
    TextSelector,
    TextSelectorConfig,
)

from ..runtime.entity_references import to_entity_id, to_stored
from .entity_picker import EntityPicker, chosen_in, offer, take
from .field import Answers, Field, FormContext, Values
from .names import NAME_ERRORS, take_name
from .selectors import OfferedEntity, OfferedTexts, choice_field, parts_field


@dataclass(frozen=True)
class NameField(Field):
    """The name of a part, which becomes its subentry's title.

    An empty name of a new part is derived by `guess` from an entity picked in the
    fields `after`.
    """

    key: str = CONF_NAME
    _: KW_ONLY
    after: tuple[str, ...] = ()
    guess: Callable[[HomeAssistant, str], str] | None = None
    stored: bool = False

    faults = NAME_ERRORS

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        return TextSelector()

    @override
    def load(self, context: FormContext) -> str:
        return context.name

    @override
    def read(self, answers: Answers) -> None:
        context = answers.context
        name = answers.typed.get(self.key)
        picked = [entity for key in self.after for entity in answers.picked[key]]
        if not name and context.new and picked and self.guess:
            name = self.guess(context.hass, picked[0])
        answers.name = take_name(name, context.taken, answers.mistakes, self.key)


@dataclass(frozen=True)
class BooleanField(Field):
    """A checkbox."""

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        return BooleanSelector()


@dataclass(frozen=True)
class SettingField(BooleanField):
    """A checkbox that is stored only when it's selected."""

    _: KW_ONLY
    omit: Any = False


@dataclass(frozen=True)
class ChoiceField(Field):
    """A choice of words; `texts` is where they are translated."""

    options: Iterable[str] = ()
    _: KW_ONLY
    texts: str = ""

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        return choice_field(self.texts or self.key, self.options)

    @override
    def dump(self, answers: Answers) -> str | None:
        chosen = answers.typed.get(self.key)
        return str(chosen) if chosen else None


@dataclass(frozen=True)
class TextsField(Field):
    """Any number of texts."""

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        return OfferedTexts(TextSelectorConfig(multiple=True))


def _part_names(context: FormContext) -> Mapping[str, str]:
    return context.part_names


@dataclass(frozen=True)
class PartsField(Field):
    """A choice of any of the gates or other parts; absent without any.

    `unknown` is the error code for a part that no longer exists.
    """

    _: KW_ONLY
    names: Callable[[FormContext], Mapping[str, str]] = _part_names
    unknown: str = ""

    @override
    def is_there(self, context: FormContext) -> bool:
        return bool(self.names(context)) and super().is_there(context)

    @property
    @override
    def errors(self) -> set[str]:
        return {*super().errors, self.unknown} - {""}

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        return parts_field(self.names(context))

    @override
    def load(self, context: FormContext) -> list[str]:
        known = self.names(context)
        return [part for part in context.stored[self.key] if part in known]

    @override
    def dump(self, answers: Answers) -> list[str]:
        chosen = list(answers.typed.get(self.key) or ())
        if self.unknown and not self.names(answers.context).keys() >= set(chosen):
            answers.refuse(self.key, self.unknown)
        return chosen


@dataclass(frozen=True)
class EntityField(Field):
    """A picker of one entity or several, stored by ids that survive renaming."""

    pick: EntityPicker
    _: KW_ONLY
    multiple: bool = False

    @property
    @override
    def errors(self) -> set[str]:
        return {*super().errors, *self.pick.errors}

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        # What the field showed at first is always offered.
        shown = chosen_in(context.shown, self.key)
        offered = offer(context.hass, self.pick, context.claims, shown)
        return OfferedEntity(
            EntitySelectorConfig(include_entities=offered, multiple=self.multiple)
        )

    @override
    def load(self, context: FormContext) -> Any:
        stored = context.stored.get(self.key)
        if not self.multiple:
            return to_entity_id(context.hass, stored or "")
        found = (to_entity_id(context.hass, reference) for reference in stored or ())
        return [entity_id for entity_id in found if entity_id]

    @override
    def dump(self, answers: Answers) -> Any:
        picked = take(answers, self.pick, self.key)
        answers.picked[self.key] = picked
        kept = [to_stored(answers.context.hass, entity_id) for entity_id in picked]
        if self.multiple:
            return kept or None
        return kept[0] if kept else None
