"""Kinds of fields: names, boxes, choices of words, of parts and of entities, texts."""

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

from ..entities import to_entity_id, to_stored
from .field import Answers, Field, FormContext, Values
from .names import NAME_ERRORS, take_name
from .picks import Pick, chosen_in, offer, take
from .selectors import OfferedEntity, OfferedTexts, choice_field, parts_field


@dataclass(frozen=True)
class NameField(Field):
    """The name of a part, which becomes the title of what is stored.

    A new part that is left without a name is called as one of the entities picked in
    the fields `after` would be, by `guess`.
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
    """A box to tick."""

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        return BooleanSelector()


@dataclass(frozen=True)
class SettingField(BooleanField):
    """A box to tick that stores nothing unless it is ticked."""

    _: KW_ONLY
    omit: Any = False


@dataclass(frozen=True)
class ChoiceField(Field):
    """A choice of one of several words; `texts` is where they are translated."""

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
    """A choice of any of the gates, or of other parts; not there without any.

    `unknown` is the code for a part that is not there any more.
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
    """A picker of one entity or several, kept by the ids that outlast a renaming."""

    pick: Pick
    _: KW_ONLY
    multiple: bool = False

    @property
    @override
    def errors(self) -> set[str]:
        return {*super().errors, *self.pick.errors}

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        # What the field showed at first is offered in any case.
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
