"""A form: fields in groups, and what is wrong with them only together."""

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
        about: About | None = None,
    ) -> None:
        """Put fields together; without `collapsed` they are always in view.

        `owns` are keys of the stored data that the group decides besides its fields.
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
    that all is judged together, by the groups that the form was made of. A page leaves
    what others hold: it stays as it is stored, right or wrong, unless something that
    was typed here changes it.
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
        """Return the keys of the stored data that the form, or the page, decides."""
        return {key for group in self.groups for key in group.owned}

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

    def page(
        self,
        name: str,
        *fields: str | Field,
        errors: Iterable[str] = (),
        owns: Iterable[str] = (),
        about: About | None = None,
    ) -> Form:
        """Return one page of the form, with these of its fields on it in full view.

        A field that is given itself stands for the form's own. `errors`, `owns` and
        `about` are as a group's.
        """
        shown = (self[field] if isinstance(field, str) else field for field in fields)
        return self.cut(
            Group(name, *shown, collapsed=False, errors=errors, owns=owns, about=about)
        )

    def mistakes(self) -> FormErrors:
        """Return the mistakes of a form that was not read yet.

        Those at fields that are on another page are shown for the page as a whole.
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
        """Return what was typed, and what the fields that are not on show hold."""
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
        """Judge a filled-in form, and return what is to be stored."""
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
        """Take what is stored for what is on other pages, and was not changed here."""
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
        """Return stored data with what the form decides, and all else as it was."""
        owned = self.owned
        decided = owned | {field.key for field in self.fields}
        kept = {key: value for key, value in stored.items() if key not in owned}
        return kept | {key: value for key, value in data.items() if key in decided}

    def texts(self, context: FormContext) -> dict[str, str]:
        """Return what the texts of what is on show name."""
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
        """Yield the fields that are there, each with its group."""
        for group in self.groups:
            for field in group.fields:
                if field.is_there(context):
                    yield group, field

    def _schema(
        self, context: FormContext, values: Values, opened: Container[str]
    ) -> vol.Schema:
        """Return the fields filled in, those of a section below its head."""
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
