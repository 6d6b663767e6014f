"""A form: groups of fields, and errors that only show in combination."""

from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any, TypedDict

from homeassistant.data_entry_flow import section
import voluptuous as vol

from .field import Answers, Field, FormContext, Values
from .form_errors import FormErrors

type Read = Callable[[Answers], None]
type About = Callable[[FormContext], Mapping[str, str]]


def read_elsewhere(answers: Answers) -> None:
    """Leave a group's fields to another group, or to the form."""


class Group:
    """Fields of a form that belong together: a section of it, or a page of its own.

    They are read in order and then checked together, unless `read` does both; `errors`
    are the codes that it or `check` can report. `about` returns further placeholders of
    the group's texts.
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
        about: About | None = None,
    ) -> None:
        """Group fields; without `collapsed` they are always visible.

        `owns` are further keys of the stored data that the group decides.
        """
        self.name = name
        self.owned = {*owns, *(key for field in fields for key in field.owned)}
        self.fields = fields
        self.collapsed = collapsed
        self.about = about
        self.errors = {*errors, *(code for field in fields for code in field.errors)}
        self._read = read
        self._check = check

    def read(self, answers: Answers) -> None:
        """Validate the group's fields, and collect what to store."""
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
    """Groups of fields that are stored together.

    A form can be shown in pages: `cut` returns one with some of its groups, or with new
    groups of its fields. Fields off the page are read as the form showed them, so that
    everything is validated together, by the form's original groups. A page leaves other
    pages' data as stored, valid or not, unless something typed here changes it.
    """

    def __init__(
        self,
        *groups: Group,
        prepare: Read | None = None,
        check: Read | None = None,
    ) -> None:
        """Combine groups.

        `prepare` may change what was typed before it's read, and `check` validates the
        whole.
        """
        self.groups = self._all = groups
        self._prepare = prepare
        self._check = check

    def __getitem__(self, key: str) -> Field:
        """Return a field by its key."""
        return self._fields[key]

    @property
    def fields(self) -> Iterator[Field]:
        """Yield the displayed fields in order."""
        for group in self.groups:
            yield from group.fields

    @property
    def errors(self) -> set[str]:
        """Return the error codes of what is displayed."""
        return {code for group in self.groups for code in group.errors}

    @property
    def owned(self) -> set[str]:
        """Return the keys of the stored data that the form, or the page, decides."""
        return {key for group in self.groups for key in group.owned}

    @property
    def sections(self) -> dict[str, tuple[str, ...]]:
        """Return the fields of each section."""
        return {
            group.name: tuple(field.key for field in group.fields)
            for group in self.groups
            if group.collapsed
        }

    def cut(self, *groups: Group) -> Form:
        """Return one page of the form, with these groups."""
        page = Form(*groups, prepare=self._prepare, check=self._check)
        page._all = self._all
        return page

    def page(
        self,
        name: str,
        *fields: str | Field,
        errors: Iterable[str] = (),
        owns: Iterable[str] = (),
        about: About | None = None,
    ) -> Form:
        """Return one page of the form, with these of its fields, all visible.

        A given field replaces the form's own. `errors`, `owns` and `about` are as in
        `Group`.
        """
        shown = (self[field] if isinstance(field, str) else field for field in fields)
        return self.cut(
            Group(name, *shown, collapsed=False, errors=errors, owns=owns, about=about)
        )

    def mistakes(self) -> FormErrors:
        """Return the errors of a form that hasn't been read yet.

        Errors of fields on another page are shown for the page as a whole.
        """
        on_show = {field.key for field in self.fields}
        return FormErrors({**self.sections, "base": self._fields.keys() - on_show})

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

    def typed(self, context: FormContext, user_input: Values) -> dict[str, Any]:
        """Return what was typed, and the values of fields that aren't displayed."""
        typed = dict(context.shown)
        for _, field in self._asked(context):
            typed.pop(field.key, None)
        return typed | self.flat(user_input)

    def read(
        self,
        context: FormContext,
        user_input: Values,
        mistakes: FormErrors | None = None,
    ) -> Answers:
        """Validate a filled-in form, and return what to store."""
        typed = self.typed(context, user_input)
        mistakes = self.mistakes() if mistakes is None else mistakes
        if context.new or self.groups is self._all:
            return self._judge(context, typed, mistakes)
        untouched = replace(context, claims=context.claims.copy())
        before = self._judge(untouched, context.shown, mistakes.fresh())
        answers = self._judge(context, typed, mistakes)
        on_show = {field.key for field in self.fields}
        mistakes.forgive(before.mistakes, self._fields.keys() - on_show)
        self._leave_others(answers, before.data)
        return answers

    def _judge(
        self, context: FormContext, typed: Values, mistakes: FormErrors
    ) -> Answers:
        answers = Answers(context, self._fields, typed, mistakes)
        if self._prepare:
            self._prepare(answers)
        for group in self._all:
            group.read(answers)
        if self._check:
            self._check(answers)
        return answers

    def _leave_others(self, answers: Answers, before: Values) -> None:
        """Keep the stored data of other pages that didn't change here."""
        stored, data = answers.context.stored, answers.data
        everything = {key for group in self._all for key in group.owned}
        for key in everything - self.owned:
            if data.get(key) != before.get(key):
                continue
            data.pop(key, None)
            if key in stored:
                data[key] = stored[key]

    def show(
        self,
        context: FormContext,
        user_input: Values | None = None,
        mistakes: FormErrors | None = None,
    ) -> Shown:
        """Return the form as it was filled in, or as it begins."""
        values = context.shown
        if user_input is not None:
            values = self.typed(context, user_input)
        context.values = values
        mistakes = mistakes or self.mistakes()
        return {
            "data_schema": self._schema(context, values, mistakes.places),
            "errors": mistakes.errors,
            "description_placeholders": {
                **self.texts(context),
                **mistakes.placeholders,
            },
        }

    def merged(self, stored: Values, data: Values) -> dict[str, Any]:
        """Return stored data with the form's values, and everything else unchanged."""
        owned = self.owned
        decided = owned | {field.key for field in self.fields}
        kept = {key: value for key, value in stored.items() if key not in owned}
        return kept | {key: value for key, value in data.items() if key in decided}

    def texts(self, context: FormContext) -> dict[str, str]:
        """Return the placeholders of the displayed texts."""
        texts = {"name": context.name}
        for group in self.groups:
            for field in group.fields:
                texts |= field.placeholders(context)
            if group.about:
                texts |= group.about(context)
        return texts

    @property
    def _fields(self) -> dict[str, Field]:
        return {field.key: field for group in self._all for field in group.fields}

    def _asked(self, context: FormContext) -> Iterator[tuple[Group, Field]]:
        """Yield the present fields, each with its group."""
        for group in self.groups:
            for field in group.fields:
                if field.is_there(context):
                    yield group, field

    def _schema(
        self, context: FormContext, values: Values, opened: Container[str]
    ) -> vol.Schema:
        """Return the filled-in fields, each section's below its header."""
        schema: dict[vol.Marker, Any] = {}
        asked = list(self._asked(context))
        for group in self.groups:
            held: dict[vol.Marker, Any] = {}
            for field in (field for asking, field in asked if asking is group):
                marker = field.marker(context)
                if (value := values.get(field.key)) is not None:
                    marker.description = {"suggested_value": value}
                held[marker] = field.selector(context, values)
            if not group.collapsed:
                schema |= held
            else:
                collapsed = group.name not in opened
                schema[vol.Required(group.name)] = section(
                    vol.Schema(held), {"collapsed": collapsed}
                )
        return vol.Schema(schema)
