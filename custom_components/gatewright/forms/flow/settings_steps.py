"""The steps that show a system's settings, page by page."""

from collections.abc import Callable, Coroutine
from typing import Any

from homeassistant.config_entries import ConfigFlowResult

from ..form_errors import FormErrors
from .collector import collector_context
from .monitor_only import GoLiveStep
from .settings_pages import PAGES

type _Step = Callable[
    [SettingsSteps, dict[str, Any] | None], Coroutine[Any, Any, ConfigFlowResult]
]


def _page(name: str) -> _Step:
    """Return the step of a page."""

    async def step(
        self: SettingsSteps, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        return await self.page(name, user_input)

    return step


class SettingsSteps(GoLiveStep):
    """Change a system's settings; it applies them without a restart."""

    async_step_collector = _page("collector")
    async_step_timing = _page("timing")
    async_step_motor = _page("motor")
    async_step_watching = _page("watching")
    async_step_bin = _page("bin")
    async_step_filter = _page("filter")
    async_step_cleaning = _page("cleaning")
    async_step_service = _page("service")
    async_step_room = _page("room")
    async_step_phones = _page("phones")
    async_step_fan = _page("fan")
    async_step_outlet = _page("outlet")
    async_step_driving = _page("driving")

    async def page(
        self, name: str, user_input: dict[str, Any] | None
    ) -> ConfigFlowResult:
        """Show a page, or store what was typed on it."""
        form, entry = PAGES[name].form, self.config_entry
        mistakes: FormErrors | None = None
        if user_input is not None:
            answers = form.read(collector_context(self.hass, entry), user_input)
            if not answers.mistakes:
                data = form.merged(entry.data, answers.data)
                return await self.store_system(answers.name, data)
            mistakes = answers.mistakes
        shown = form.show(collector_context(self.hass, entry), user_input, mistakes)
        return self.async_show_form(step_id=name, **shown, last_step=True)
