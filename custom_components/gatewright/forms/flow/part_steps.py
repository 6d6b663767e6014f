"""The common steps for adding and changing any part of a system."""

from collections.abc import Callable, Coroutine, Mapping
from typing import Any, ClassVar

from homeassistant.config_entries import (
    ConfigEntry,
    ConfigSubentryFlow,
    SubentryFlowResult,
)

from ...const import SUBENTRY_GATE, SUBENTRY_MACHINE
from ..entity_usage import EntityUsage
from ..field import Answers, FormContext, Values
from ..form import Form
from ..form_errors import FormErrors
from ..names import taken_names
from .parts import NEW_PART


def gate_names(entry: ConfigEntry[Any]) -> dict[str, str]:
    """Return the names of a system's gates by their ids."""
    return names_of(entry, SUBENTRY_GATE)


def machine_names(entry: ConfigEntry[Any]) -> dict[str, str]:
    """Return the names of a system's machines by their ids."""
    return names_of(entry, SUBENTRY_MACHINE)


def names_of(entry: ConfigEntry[Any], subentry_type: str) -> dict[str, str]:
    """Return the names of a system's parts of one type by their ids."""
    return {
        part.subentry_id: part.title
        for part in entry.get_subentries_of_type(subentry_type)
    }


type _Step = Callable[
    [PartFlow, dict[str, Any] | None], Coroutine[Any, Any, SubentryFlowResult]
]


def page_step(name: str) -> _Step:
    """Return the step that shows a page, or reads it when it's filled in."""

    async def step(
        self: PartFlow, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        return await self.answer(name, user_input)

    return step


class PartFlow(ConfigSubentryFlow):
    """Add or change a part of a system by its form, which is shown in pages.

    `pages` are the form's pages by their steps: `user` adds a part, the others change
    one.
    """

    form: ClassVar[Form]
    pages: ClassVar[Mapping[str, Form]]
    step = "user"
    """The step of the page on display."""

    async_step_user = page_step("user")
    async_step_basics = page_step("basics")

    async def async_step_reconfigure(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Offer the pages that change a part."""
        offered = self.offered(self._get_reconfigure_subentry().data)
        if len(offered) == 1:
            return self.show(offered[0])
        context = self.form_context()
        return self.async_show_menu(
            step_id="reconfigure",
            menu_options=offered,
            description_placeholders=self.form.texts(context),
        )

    def offered(self, stored: Values) -> list[str]:
        """Return the pages that apply to a part."""
        return [step for step in self.pages if step != "user"]

    @property
    def part_id(self) -> str:
        """Return the id of the edited part; a new one has none yet."""
        return str(self.context.get("subentry_id", ""))

    def form_context(self) -> FormContext:
        """Return the form context of the edited part."""
        entry = self._get_entry()
        part = entry.subentries.get(self.part_id)
        return self.begun(
            FormContext(
                hass=self.hass,
                claims=EntityUsage(self.hass, entry, self.part_id or NEW_PART),
                entry=entry,
                part_id=self.part_id,
                name="" if part is None else part.title,
                new=part is None,
                stored={} if part is None else part.data,
                taken=taken_names(self.hass, entry.entry_id, self.part_id),
            )
        )

    def begun(self, context: FormContext) -> FormContext:
        """Return the context, with what the form shows at first."""
        return self.form.begun(context)

    def show(
        self,
        step: str,
        user_input: Mapping[str, Any] | None = None,
        mistakes: FormErrors | None = None,
    ) -> SubentryFlowResult:
        """Show a page, empty or as it was filled in."""
        self.step = step
        shown = self.pages[step].show(self.form_context(), user_input, mistakes)
        return self.async_show_form(step_id=step, **shown)

    async def take(
        self, step: str, answers: Answers, user_input: Values
    ) -> SubentryFlowResult:
        """Take a valid page."""
        return self.store(answers.name, answers.data)

    def store(self, name: str, data: dict[str, Any]) -> SubentryFlowResult:
        """Store the part."""
        if not self.part_id:
            return self.async_create_entry(title=name, data=data)
        entry, part = self._get_entry(), self._get_reconfigure_subentry()
        return self.async_update_and_abort(
            entry, part, title=name, data=self.form.merged(part.data, data)
        )

    async def answer(
        self, step: str, user_input: dict[str, Any] | None
    ) -> SubentryFlowResult:
        """Show a page, or read what was typed on it."""
        self.step = step
        if user_input is None:
            return self.show(step)
        answers = self.pages[step].read(self.form_context(), user_input)
        if answers.mistakes:
            return self.show(step, user_input, answers.mistakes)
        return await self.take(step, answers, user_input)
