"""The repair that asks after a week whether to go live."""

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
import voluptuous as vol

from ...runtime.system_context import SystemContext
from .manager import MonitorOnlyManager
from .mode import at_work, set_monitor_only


class WatchedWeekFlow(RepairsFlow):
    """Shows the results, and goes live or monitors for another week."""

    def __init__(self, system: SystemContext, asked: str) -> None:
        """Ask about a monitored system; `asked` is when the question's week began."""
        self._system = system
        self._asked = asked

    async def async_step_init(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Ask."""
        if (watcher := self._system.find(MonitorOnlyManager)) is None:
            return self.async_create_entry(data={})
        if self._is_over:
            return self.async_abort(reason="over")
        return self.async_show_menu(
            step_id="init",
            menu_options=["go_live", "watch_on"],
            description_placeholders=watcher.words(),
        )

    async def async_step_go_live(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Warn of what starts at once, then go live."""
        if self._is_over:
            return self.async_abort(reason="over")
        running = at_work(self._system)
        if user_input is None or running:
            return self._warn(running)
        return self._live()

    async def async_step_go_live_running(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Go live while a machine runs: the owner has read what happens."""
        if user_input is None:
            return self._warn(at_work(self._system))
        if self._is_over:
            return self.async_abort(reason="over")
        return self._live()

    @property
    def _is_over(self) -> bool:
        """Return whether the question was answered, or is about an earlier time."""
        watcher = self._system.find(MonitorOnlyManager)
        return watcher is None or watcher.asked_about != self._asked

    async def async_step_watch_on(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Monitor for another week."""
        if self._is_over:
            return self.async_abort(reason="over")
        if (watcher := self._system.find(MonitorOnlyManager)) is not None:
            watcher.wait_another_week()
            await self._system.entry.runtime_data.save()
        return self.async_create_entry(data={})

    def _warn(self, running: list[str]) -> RepairsFlowResult:
        return self.async_show_form(
            step_id="go_live_running" if running else "go_live",
            data_schema=vol.Schema({}),
            description_placeholders={
                "name": self._system.entry.title,
                "machines": ", ".join(running),
            },
        )

    def _live(self) -> RepairsFlowResult:
        set_monitor_only(self.hass, self._system.entry, watch=False)
        return self.async_create_entry(data={})
