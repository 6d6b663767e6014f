"""The base of all pages that set up a part of a new system."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from typing import Any, ClassVar, cast

from homeassistant.core import HomeAssistant

from ...runtime.entity_references import to_entity_id
from ..entity_picker import take
from ..entity_usage import EntityUsage
from ..field import Answers, FormContext, Values
from ..form import Form, Shown
from ..form_errors import FormErrors
from ..kinds import EntityField
from ..names import take_name
from ..sensor_description import name_of
from .system_draft import Draft, DraftPart


class Page(ABC):
    """One page: its questions, and what it makes of the answers."""

    step: ClassVar[str]
    form: ClassVar[Form]
    asked = True

    def __init__(self, draft: Draft) -> None:
        """Prepare the page; none of its entities are used yet."""
        self.draft = draft
        self.hass = draft.hass
        self.claims = draft.claims.copy()
        self.placeholders: dict[str, str] = {"system": draft.name}
        # Known without asking, and read as if it had been answered.
        self.known: dict[str, Any] = {}

    @property
    def key(self) -> str:
        """Return the key of the answer."""
        return self.step

    async def prepare(self) -> None:  # noqa: B027 - most pages know what to show
        """Find what the page has to show."""

    def values(self) -> dict[str, Any]:
        """Return what the page shows before it's answered."""
        return {field.key: field.new for field in self.form.fields}

    def show(self, answer: Values | None, mistakes: FormErrors) -> Shown:
        """Show the page as it was answered, or as it is before."""
        values = self.known | (self.values() if answer is None else dict(answer))
        shown = self.form.show(self.form_context(self.claims), values, mistakes)
        shown["description_placeholders"] |= self.placeholders
        return shown

    @abstractmethod
    def read(self, typed: Values, mistakes: FormErrors) -> None:
        """Validate an answer and add it to the draft."""

    def form_context(self, claims: EntityUsage) -> FormContext:
        """Return the page's form context."""
        return FormContext(hass=self.hass, claims=claims, taken=self.draft.taken)

    def judge(self, typed: Values, mistakes: FormErrors) -> Answers:
        """Validate an answer; the form's other fields are those of a new part."""
        context = self.form.begun(self.form_context(self.draft.claims))
        return self.form.read(context, typed, mistakes)

    def pick_each(
        self,
        name: str,
        typed: Values,
        mistakes: FormErrors,
        named: Callable[[HomeAssistant, str], str],
    ) -> Iterator[DraftPart]:
        """Yield a part for each entity picked in a field, without duplicates."""
        pick, seen = cast("EntityField", self.form[name]).pick, set[str]()
        answers = Answers(self.form_context(self.draft.claims), {}, typed, mistakes)
        for picked in typed.get(name, []):
            entity_id = to_entity_id(self.hass, picked) or picked
            if entity_id in seen:
                continue
            seen.add(entity_id)
            key = f"{name}:{entity_id}"
            self.draft.claims.begin(key, named(self.hass, entity_id))
            take(answers, pick, name, entity_id)
            yield DraftPart(
                key=key,
                part_id=self.draft.part_id(key),
                label=name_of(self.hass, entity_id),
                base={},
                entity_id=entity_id,
            )

    def name_each(
        self, name: str, typed: Values, mistakes: FormErrors
    ) -> Iterator[DraftPart]:
        """Yield a part for each name typed in a field."""
        taken = dict(self.draft.taken)
        for text in typed.get(name, []):
            if not text.strip():
                continue
            part = take_name(text, taken, mistakes, name)
            taken[part.casefold()] = part
            key = f"{name}:{part}"
            yield DraftPart(
                key=key, part_id=self.draft.part_id(key), label=part, base={}, name=part
            )
