"""A form: fields in groups, and what is wrong with them only together."""

from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from typing import Any, TypedDict

from homeassistant.data_entry_flow import section
import voluptuous as vol

from .field import Answers, Field, FormContext, Values, always
from .mistakes import Mistakes

type Read = Callable[[Answers], None]
type About = Callable[[FormContext], Mapping[str, str]]


def read_elsewhere(answers: Answers) -> None:
    """Leave the fields of a group to another one, or to the form, which reads them."""


class Group:
    """Some fields of a form that belong together: a section of it, or a page of its own.

    They are read one after the other, and then checked together, unless `read` says
    how; `errors` are the codes of what it or `check` can find. `about` returns what the
    group's texts name besides what its fields do.
    """

    def __init__(
        self,
        name: str,
        *fields: Field,
        collapsed: bool = True,
        read: Read | None = None,
        check: Read | None = None,
        errors: Iterable[str] = (),
        owns: Iterable[str] = (),
        exists: Callable[[FormContext], bool] = always,
        about: About | None = None,
    ) -> None:
        """Put fields together; without `collapsed` they are always in view.

        `owns` are keys of the stored data that the group decides besides its fields.
        """
        self.exists = exists
        self.name = name
        self.owned = {*owns, *(key for field in fields for key in field.owned)}
        self.fields = fields
        self.collapsed = collapsed
        self.about = about
        self.errors = {*errors, *(code for field in fields for code in field.errors)}
        self._read = read
        self._check = check

    def read(self, answers: Answers) -> None:
        """Judge the group's fields, and take what is to be stored of them."""
        if self._read:
            self._read(answers)
        else:
            answers.read(*(field.key for field in self.fields))
        if self._check:
            self._check(answers)


class Shown(TypedDict):
    """What a form shows, as Home Assistant takes it."""

    data_schema: vol.Schema
    errors: dict[str, str]
    description_placeholders: dict[str, str]


class Form:
    """Groups of fields that say one thing together.

    A form can be shown in pages: `cut` returns one with some of its groups, or with new
    groups of its fields. Whatever is not on the page is read as the form showed it, so
    that all is judged together, by the groups that the form was made of.
    """

    def __init__(
        self,
        *groups: Group,
        prepare: Read | None = None,
        check: Read | None = None,
    ) -> None:
        """Put groups together.

        `prepare` may change what was typed before it is read, and `check` judges all
        that was.
        """
        self.groups = self._all = groups
        self._prepare = prepare
        self._check = check

    def __getitem__(self, key: str) -> Field:
        """Return a field."""
        return self._fields[key]

    @property
    def fields(self) -> Iterator[Field]:
        """Yield the fields on show, in their order."""
        for group in self.groups:
            yield from group.fields

    @property
    def errors(self) -> set[str]:
        """Return the codes of what can be wrong with what is on show."""
        return {code for group in self.groups for code in group.errors}

    @property
    def owned(self) -> set[str]:
        """Return the keys of the stored data that the form decides."""
        return {key for group in self._all for key in group.owned}

    @property
    def sections(self) -> dict[str, tuple[str, ...]]:
        """Return which fields each section holds."""
        return {
            group.name: tuple(field.key for field in group.fields)
            for group in self.groups
            if group.collapsed
        }

    def cut(self, *groups: Group) -> Form:
        """Return one page of the form, with these groups on it."""
        page = Form(*groups, prepare=self._prepare, check=self._check)
        page._all = self._all
        return page

    def mistakes(self) -> Mistakes:
        """Return the mistakes of a form that was not read yet.

        Those at fields that are on another page are shown for the page as a whole.
        """
        on_show = {field.key for field in self.fields}
        return Mistakes({**self.sections, "base": self._fields.keys() - on_show})

    def begun(self, context: FormContext) -> FormContext:
        """Return the context, with what the form shows at first."""
        context.shown = {
            field.key: field.begin(context) if context.new else field.load(context)
            for field in self._fields.values()
        }
        return context

    def flat(self, user_input: Values) -> dict[str, Any]:
        """Return what was typed, without the sections."""
        sections = self.sections
        flat = {key: value for key, value in user_input.items() if key not in sections}
        for name in sections:
            flat |= user_input.get(name, {})
        return flat

    def nested(self, values: Values) -> dict[str, Any]:
        """Return values in their sections, as if they had been typed."""
        place = {key: name for name, fields in self.sections.items() for key in fields}
        nested: dict[str, Any] = {name: {} for name in self.sections}
        for key, value in values.items():
            if value is not None:
                (nested[place[key]] if key in place else nested)[key] = value
        return nested

    def read(
        self,
        context: FormContext,
        user_input: Values,
        mistakes: Mistakes | None = None,
    ) -> Answers:
        """Judge a filled-in form, and return what is to be stored."""
        typed = dict(context.shown)
        for field in self.fields:
            typed.pop(field.key, None)
        typed |= self.flat(user_input)
        mistakes = self.mistakes() if mistakes is None else mistakes
        answers = Answers(context, self._fields, typed, mistakes)
        if self._prepare:
            self._prepare(answers)
        for group in self._all:
            group.read(answers)
        if self._check:
            self._check(answers)
        return answers

    def show(
        self,
        context: FormContext,
        user_input: Values | None = None,
        mistakes: Mistakes | None = None,
    ) -> Shown:
        """Return the form as it was filled in, or as it begins."""
        values = context.shown if user_input is None else self.flat(user_input)
        mistakes = mistakes or self.mistakes()
        return {
            "data_schema": self._schema(context, values, mistakes.places),
            "errors": mistakes.errors,
            "description_placeholders": {
                **self._texts(context),
                **mistakes.placeholders,
            },
        }

    def merged(self, stored: Values, data: Values) -> dict[str, Any]:
        """Return stored data with what the form decides, and all else as it was."""
        owned = self.owned
        kept = {key: value for key, value in stored.items() if key not in owned}
        return kept | dict(data)

    @property
    def _fields(self) -> dict[str, Field]:
        return {field.key: field for group in self._all for field in group.fields}

    def _texts(self, context: FormContext) -> dict[str, str]:
        """Return what the texts of what is on show name."""
        texts = {"name": context.name}
        for group in self.groups:
            for field in group.fields:
                texts |= field.placeholders(context)
            if group.about:
                texts |= group.about(context)
        return texts

    def _schema(
        self, context: FormContext, values: Values, opened: Container[str]
    ) -> vol.Schema:
        """Return the fields filled in, and the sections without any left out."""
        schema: dict[vol.Marker, Any] = {}
        for group in self.groups:
            held: dict[vol.Marker, Any] = {}
            for field in group.fields:
                if not (group.exists(context) and field.is_there(context)):
                    continue
                marker = field.marker(context)
                if (value := values.get(field.key)) is not None:
                    marker.description = {"suggested_value": value}
                held[marker] = field.selector(context, values)
            if not group.collapsed:
                schema |= held
            elif held:
                collapsed = group.name not in opened
                schema[vol.Required(group.name)] = section(
                    vol.Schema(held), {"collapsed": collapsed}
                )
        return vol.Schema(schema)
