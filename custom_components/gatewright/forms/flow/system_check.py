"""The system check as a person sees it: pages of a system's options.

Every page shows the check's present task: it waits, or it asks. The check belongs to
the manager; closing a page ends it.
"""

import asyncio
from collections.abc import Callable, Coroutine
from typing import Any, override

from homeassistant.config_entries import (
    ConfigEntryState,
    ConfigFlowResult,
)
from homeassistant.data_entry_flow import AbortFlow
from homeassistant.helpers.selector import BooleanSelector
import voluptuous as vol

from ...core.commissioning.findings import End
from ...core.commissioning.task import ANSWERS, Answer, Task
from ...features.commissioning.manager import Busy, SystemCheckManager
from ...features.commissioning.report_text import line, report_text
from ...runtime.system_context import system_of
from ..selectors import parts_field
from .calibrate import CalibrateSteps

CONF_PARTS = "parts"
CONF_SET = "set"

END_WALK = "end_walk"


def _answered(
    answer: Answer,
) -> Callable[[SystemCheckFlow], Coroutine[Any, Any, ConfigFlowResult]]:
    """Return the step that takes an answer.

    An answer that comes too late gets the present page.
    """

    async def step(self: SystemCheckFlow, user_input: None = None) -> ConfigFlowResult:
        return await self.take(answer)

    return step


class SystemCheckFlow(CalibrateSteps):
    """Run a system check, or read the last report."""

    def __init__(self) -> None:
        self._mine = False
        self._shown: Task | None = None
        self._waits: asyncio.Task[None] | None = None

    @property
    def _runner(self) -> SystemCheckManager:
        """The system's check manager; raises `AbortFlow` while it isn't loaded."""
        if not self._runs:
            raise AbortFlow("not_loaded")
        return system_of(self.config_entry).of(SystemCheckManager)

    @property
    def _runs(self) -> bool:
        return self.config_entry.state is ConfigEntryState.LOADED

    @override
    def async_remove(self) -> None:
        """End the check of a closed page."""
        if self._mine and self._runs:
            self._runner.stop()

    async def async_step_system_check(
        self, user_input: None = None
    ) -> ConfigFlowResult:
        """Offer the menu."""
        last = self._runner.last
        known = line(self.hass, "no_walk")
        if last is not None:
            known = report_text(self.hass, last, self._runner.name).partition("\n")[0]
        options = ["begin"] if last is None else ["begin", "last_report"]
        return self.async_show_menu(
            step_id="system_check",
            menu_options=[*options, "init"],
            description_placeholders={"last": known},
        )

    async def async_step_last_report(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Show the last report."""
        if user_input is not None or (last := self._runner.last) is None:
            return await self.async_step_system_check()
        text = report_text(self.hass, last, self._runner.name)
        return self.async_show_form(
            step_id="last_report",
            data_schema=vol.Schema({}),
            description_placeholders={"report": text},
            last_step=False,
        )

    async def async_step_begin(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Explain the check, and ask which parts to include."""
        parts = self._runner.parts()
        errors: dict[str, str] = {}
        chosen = list(parts)
        if user_input is not None:
            chosen = user_input.get(CONF_PARTS, [])
            if not chosen:
                errors[CONF_PARTS] = "nothing_chosen"
            else:
                try:
                    self._runner.begin(chosen, person=True)
                except Busy as err:
                    errors["base"] = err.why
                else:
                    self._mine = True
                    return await self._onward()
        schema = vol.Schema(
            {vol.Optional(CONF_PARTS, default=chosen): parts_field(parts)}
        )
        return self.async_show_form(
            step_id="begin", data_schema=schema, errors=errors, last_step=False
        )

    # Waiting ---------------------------------------------------------------------

    async def async_step_moving(self, user_input: None = None) -> ConfigFlowResult:
        """Wait until the task changes."""
        # Only a progress step may end while it waits: if the system was unloaded, the
        # next step says so.
        task = self._runner.task if self._runs else None
        if self._waits is None and task is not None and task.ask is None:
            # Home Assistant must not wait for a page that waits for a person.
            self._waits = self.config_entry.async_create_background_task(
                self.hass, self._runner.next_task(), "gatewright system check page"
            )
        if self._waits is None or self._waits.done() or task is None:
            self._waits = None
            return self.async_show_progress_done(next_step_id="onward")
        return self.async_show_progress(
            step_id="moving",
            progress_action=str(task.stage),
            progress_task=self._waits,
            description_placeholders=self._about(),
        )

    async def async_step_onward(self, user_input: None = None) -> ConfigFlowResult:
        """Show the present task."""
        return await self._onward()

    # Asking ----------------------------------------------------------------------

    async_step_go = _answered(Answer.GO)
    async_step_arrived = _answered(Answer.ARRIVED)
    async_step_stayed = _answered(Answer.STAYED)
    async_step_went_wrong_way = _answered(Answer.WENT_WRONG_WAY)
    async_step_another_moved = _answered(Answer.ANOTHER_MOVED)
    async_step_is_open = _answered(Answer.IS_OPEN)
    async_step_is_shut = _answered(Answer.IS_CLOSED)
    async_step_yes = _answered(Answer.YES)
    async_step_no = _answered(Answer.NO)
    async_step_skip = _answered(Answer.SKIP)

    async def async_step_end_walk(self, user_input: None = None) -> ConfigFlowResult:
        """End the check here."""
        self._runner.stop(End.STOPPED)
        return await self._onward()

    # A page that is opened again shows the present task.
    async_step_watch_gate = async_step_onward
    async_step_see_open = async_step_onward
    async_step_see_shut = async_step_onward
    async_step_how_stands = async_step_onward
    async_step_open_by_hand = async_step_onward
    async_step_shut_by_hand = async_step_onward
    async_step_run_machine = async_step_onward
    async_step_start_collector = async_step_onward
    async_step_does_turn = async_step_onward

    # The end ---------------------------------------------------------------------

    async def async_step_found(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Show the results, and ask whether to apply them."""
        last = self._runner.last
        if last is None:
            return self.async_abort(reason="not_loaded")
        if user_input is not None:
            await self._runner.finish(
                setting=user_input.get(CONF_SET, False), telling=True
            )
            return self.async_create_entry(data=dict(self.config_entry.options))
        fields: dict[Any, Any] = {}
        if last.report.settings:
            fields[vol.Required(CONF_SET, default=True)] = BooleanSelector()
        text = report_text(self.hass, last, self._runner.name)
        return self.async_show_form(
            step_id="found",
            data_schema=vol.Schema(fields),
            description_placeholders={"report": text},
        )

    # How it goes on --------------------------------------------------------------

    async def take(self, answer: Answer) -> ConfigFlowResult:
        """Take an answer, if it fits the present question."""
        if self._runner.task == self._shown:
            self._runner.answer(answer)
        return await self._onward()

    async def _onward(self) -> ConfigFlowResult:
        task = self._runner.task
        if task is None:
            self._mine = False
            return await self.async_step_found()
        if task.ask is None:
            self._waits = None
            return await self.async_step_moving()
        self._shown = task
        return self.async_show_menu(
            step_id=task.ask.value,
            menu_options=[*(answer.value for answer in ANSWERS[task.ask]), END_WALK],
            description_placeholders=self._about(),
        )

    def _about(self) -> dict[str, str]:
        """Return the placeholders of a page."""
        runner = self._runner
        done, parts = runner.progress
        task = runner.task
        name = "–" if task is None else runner.name(task.part)
        command = ""
        if task is not None and task.command is not None:
            command = line(self.hass, "open" if task.command.opened else "shut")
        return {
            "part": name,
            "told": command or "–",
            "place": str(min(done + 1, parts)),
            "places": str(parts),
        }
