"""The menu of a system's settings, which the gear icon opens."""

from collections.abc import Callable, Mapping
from typing import Any, override

from homeassistant.config_entries import ConfigEntryState, ConfigFlowResult

from ...const import CONF_CALIBRATION
from .presets import PresetStep
from .settings_pages import AIRFLOW_PAGES, MARK, PAGES
from .settings_steps import SettingsSteps
from .setup_file_steps import SetupFileSteps
from .system_check import SystemCheckFlow

type Mark = Callable[[Mapping[str, Any]], str]
"""Returns the mark of a menu item, from a system's stored data."""


def _no_mark(data: Mapping[str, Any]) -> str:
    return ""


def _airflow_mark(data: Mapping[str, Any]) -> str:
    return MARK if any(PAGES[page].mark(data) for page in AIRFLOW_PAGES) else ""


MENU: Mapping[str, Mark] = {
    "collector": _no_mark,
    "timing": _no_mark,
    "motor": PAGES["motor"].mark,
    "watching": PAGES["watching"].mark,
    "bin": PAGES["bin"].mark,
    "filter": PAGES["filter"].mark,
    "cleaning": PAGES["cleaning"].mark,
    "service": PAGES["service"].mark,
    "room": PAGES["room"].mark,
    "airflow": _airflow_mark,
    "phones": PAGES["phones"].mark,
    "system_check": _no_mark,
    "presets": _no_mark,
    "setup_file": _no_mark,
    "done": _no_mark,
}
"""The menu: each step in its order, and its mark.

A label names its mark as `{<step>_mark}`.
"""

AIRFLOW_MENU: Mapping[str, Mark] = {
    **{page: PAGES[page].mark for page in AIRFLOW_PAGES},
    "calibrate": lambda data: MARK if CONF_CALIBRATION in data else "",
    "calibration_forget": _no_mark,
    "init": _no_mark,
}
"""The menu of ducts and fan."""


class SettingsFlow(SettingsSteps, PresetStep, SetupFileSteps, SystemCheckFlow):
    """Change a system's settings page by page, check the system, or import a set-up."""

    @override
    async def async_step_init(self, user_input: None = None) -> ConfigFlowResult:
        """Offer the pages; those that are set up have a mark."""
        return self._menu("init", MENU)

    async def async_step_airflow(self, user_input: None = None) -> ConfigFlowResult:
        """Offer the pages about ducts and fan."""
        loaded = self.config_entry.state is ConfigEntryState.LOADED
        there = {*self.calibration_options()} if loaded else set()
        left_out = {"calibrate", "calibration_forget"} - there
        menu = {
            step: mark for step, mark in AIRFLOW_MENU.items() if step not in left_out
        }
        return self._menu("airflow", menu)

    async def async_step_done(self, user_input: None = None) -> ConfigFlowResult:
        """Close the menu."""
        return self.async_create_entry(data=dict(self.config_entry.options))

    @override
    async def stored(self) -> ConfigFlowResult:
        """Return to the menu, which now shows what is set up."""
        return await self.async_step_init()

    def _menu(self, step: str, menu: Mapping[str, Mark]) -> ConfigFlowResult:
        data = self.config_entry.data
        return self.async_show_menu(
            step_id=step,
            menu_options=list(menu),
            description_placeholders={
                f"{option}_mark": mark(data) for option, mark in menu.items()
            },
        )
