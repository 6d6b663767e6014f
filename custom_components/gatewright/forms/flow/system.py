"""The steps for setting up a whole system: collector, machines, gates, all at once."""

from collections import defaultdict
from typing import Any

from homeassistant.config_entries import ConfigFlowResult, ConfigSubentryDataWithId
from homeassistant.util.ulid import ulid_now

from ...const import CONF_SWITCH, SUBENTRY_GATE, SUBENTRY_MACHINE
from ...features.calibration.evaluation import Found
from ...features.monitor_only.mode import is_monitor_only
from ...texts.texts import Texts
from ..form_errors import FormErrors
from ..sensor_description import name_of
from .collector import collector_context
from .settings_pages import COLLECTOR_PAGE
from .setup_import_steps import SetupImportSteps
from .setup_page import Page
from .setup_pages import CONF_SETUP_FILE, CollectorPage, pages
from .setup_upload import UploadError, read_upload
from .system_draft import Draft


class SystemFlow(SetupImportSteps):
    """Set up a system step by step or from a file, or change what its collector is.

    Every answer is kept. After each one, all are validated again from the first on, and
    the first page without a valid answer is shown, filled in with what is known. So
    nothing is lost when something changes in between.
    """

    def __init__(self) -> None:
        self._answers: dict[str, dict[str, Any]] = {}
        self._earlier: dict[str, dict[str, Any]] = {}
        self._ids: defaultdict[str, str] = defaultdict(ulid_now)
        self._found: dict[tuple[str, str], Found] = {}
        self._draft: Draft
        self._shown = ""
        self._unused_accepted = False

    async def async_step_user(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Ask what the collector is; a set-up file knows it all."""
        if user_input is not None:
            answer = CollectorPage.form.flat(user_input)
            if (file_id := answer.pop(CONF_SETUP_FILE, None)) is not None:
                return await self._upload(file_id, answer)
        return await self._answer(CollectorPage.step, user_input)

    async def _upload(self, file_id: str, answer: dict[str, Any]) -> ConfigFlowResult:
        try:
            self._uploaded = await read_upload(self.hass, file_id)
        except UploadError as err:
            page = CollectorPage(Draft(self.hass, self._ids.__getitem__, self._found))
            mistakes = page.form.mistakes()
            mistakes.add(CONF_SETUP_FILE, err.code, err.detail)
            shown = page.show(answer, mistakes)
            return self.async_show_form(step_id=page.step, **shown, last_step=False)
        return await self.async_step_setup_review()

    async def async_step_reconfigure(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Change what its collector is; everything else is among the settings."""
        entry = self._get_reconfigure_entry()
        form, mistakes = COLLECTOR_PAGE.form, None
        if user_input is not None:
            answers = form.read(collector_context(self.hass, entry), user_input)
            if not answers.mistakes:
                return self.async_update_and_abort(
                    entry,
                    unique_id=answers.data[CONF_SWITCH],
                    title=answers.name,
                    data=form.merged(entry.data, answers.data),
                )
            mistakes = answers.mistakes
        shown = form.show(collector_context(self.hass, entry), user_input, mistakes)
        return self.async_show_form(step_id="reconfigure", **shown)

    async def async_step_machines(self, user_input: dict[str, Any]) -> ConfigFlowResult:
        """Take the answer to the page on display."""
        return await self._answer(self._shown, user_input)

    async_step_gates = async_step_machines
    async_step_gate = async_step_machines
    async_step_machine = async_step_machines
    async_step_levels = async_step_machines

    async def async_step_unused_gates(
        self, user_input: None = None
    ) -> ConfigFlowResult:
        """Show the gates without a machine, and the alternatives."""
        return self.async_show_menu(
            step_id="unused_gates",
            menu_options=["again", "finish"],
            description_placeholders={"gates": ", ".join(self._draft.unused_gates())},
        )

    async def async_step_finish(self, user_input: None = None) -> ConfigFlowResult:
        """Leave the gates without a machine as they are."""
        self._unused_accepted = True
        return await self._continue()

    async def async_step_again(self, user_input: None = None) -> ConfigFlowResult:
        """Go through the machines again."""
        for machine in self._draft.machines:
            self._earlier[machine.key] = self._answers.pop(machine.key)
        return await self._continue()

    async def _answer(
        self, key: str, user_input: dict[str, Any] | None
    ) -> ConfigFlowResult:
        if user_input is not None:
            self._answers[key] = user_input
        return await self._continue()

    async def _continue(self) -> ConfigFlowResult:
        """Show the first page without a valid answer, or create the system."""
        draft = self._draft = Draft(self.hass, self._ids.__getitem__, self._found)
        for page in pages(draft):
            await page.prepare()
            mistakes = page.form.mistakes()
            answer = self._answers.get(page.key) if page.asked else {}
            if answer is not None:
                page.read(page.form.flat(answer), mistakes)
            if answer is None or mistakes:
                return self._show(page, mistakes)

        if draft.unused_gates() and not self._unused_accepted:
            return await self.async_step_unused_gates()
        # Another form for the same collector may be open: the first one finished wins,
        # and the other shows an error on its first page.
        await self.async_set_unique_id(draft.data[CONF_SWITCH], raise_on_progress=False)
        draft.name_gates_apart()
        return self.async_create_entry(
            title=draft.name,
            data=draft.data,
            description="monitor_only" if is_monitor_only(draft.data) else None,
            description_placeholders={"power": await self._about_power(draft)},
            subentries=[
                ConfigSubentryDataWithId(
                    subentry_id=part.part_id,
                    subentry_type=subentry_type,
                    title=part.name,
                    data=part.data,
                    unique_id=None,
                )
                for subentry_type, parts in (
                    (SUBENTRY_GATE, draft.gates),
                    (SUBENTRY_MACHINE, draft.machines),
                )
                for part in parts
                if not part.left_out
            ],
        )

    async def _about_power(self, draft: Draft) -> str:
        """Name the power sensor that was found, in a paragraph of its own."""
        if draft.meter is None:
            return ""
        texts = await Texts.load(self.hass)
        sensor = name_of(self.hass, draft.meter)
        return "\n\n" + texts("set_up_note", "power", sensor=sensor)

    def _show(self, page: Page, mistakes: FormErrors) -> ConfigFlowResult:
        self._shown = page.key
        known = self._answers.get(page.key) or self._earlier.get(page.key)
        return self.async_show_form(
            step_id=page.step, **page.show(known, mistakes), last_step=False
        )
