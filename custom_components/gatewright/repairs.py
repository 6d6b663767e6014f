"""Repairs with a button: retry, reset, or report work as done."""

from typing import override

from homeassistant.components.repairs import (
    ConfirmRepairFlow,
    RepairsFlow,
    RepairsFlowResult,
)
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant

from .const import DOMAIN
from .core.control.alarms import AlarmKind, Condition
from .core.control.enums import RefusedError
from .core.inputs import Mode, ModeSet
from .features.calibration.manager import ISSUE as DRIFT
from .features.calibration.repair import DriftFlow
from .features.maintenance.manager import MaintenanceManager
from .features.monitor_only.manager import ISSUE
from .features.monitor_only.repair import WatchedWeekFlow
from .features.suggestions import idle, ids, start_when, travel
from .runtime.alarm_issues import TRIED_AGAIN
from .runtime.old_names.notice import ISSUE as OLD_NAMES, OldNamesFlow
from .runtime.store import FILE_LOST, FileKind
from .runtime.system_context import SystemContext, system_of


class AlarmFlow(ConfirmRepairFlow):
    """Explains an alarm, and acts on it when a person confirms."""

    def __init__(
        self, system: SystemContext, kind: AlarmKind, part: str, occurrence: str
    ) -> None:
        self._system = system
        self._kind = kind
        self._part = part
        self._occurrence = occurrence

    @override
    async def async_step_confirm(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Retry, reset, or record work as done; once, and only for an active alarm."""
        condition = Condition(self._kind, self._part)
        occurrences = self._system.announcer.occurrences
        if occurrences.condition(self._occurrence) != condition:
            return self.async_abort(reason="over")
        if user_input is None:
            return self._form()
        if self._offline:
            return self._form({"base": "still_offline"})
        try:
            if not self._system.of(MaintenanceManager).answer(self._kind, self._part):
                self._system.answer(self._kind, self._part)
        except RefusedError as err:
            return self.async_abort(reason=f"refused_{err.why.value}")
        if self._still_wrong:
            # Ending this page would count as success, and delete the repair.
            return self.async_abort(
                reason="tried_again", description_placeholders=self.issue_placeholders
            )
        return self.async_create_entry(data={})

    def _form(self, errors: dict[str, str] | None = None) -> RepairsFlowResult:
        return self.async_show_form(
            step_id="confirm",
            errors=errors,
            description_placeholders=self.issue_placeholders,
        )

    @property
    def _offline(self) -> bool:
        """Return whether nothing can be retried because the device is offline."""
        if self._kind not in TRIED_AGAIN:
            return False
        actuator = self._system.sequence.actuator(self._part)
        return actuator is not None and not actuator.reachable

    @property
    def _still_wrong(self) -> bool:
        """Return whether the alarm remains although everything is retried."""
        condition = Condition(self._kind, self._part)
        return (
            self._kind in TRIED_AGAIN and condition in self._system.shop.alarms.standing
        )

    @property
    def issue_placeholders(self) -> dict[str, str]:
        """Return the placeholders of the issue's texts."""
        announcer = self._system.announcer
        return {
            "part": announcer.name(self._part),
            "system": self._system.entry.title,
            "detail": announcer.details.get(self._part, ""),
        }


class FileFlow(ConfirmRepairFlow):
    """Explains what was lost with a file, and ends a start block that came with it."""

    def __init__(self, system: SystemContext, kind: FileKind) -> None:
        super().__init__()
        self._system = system
        self._kind = kind

    @override
    async def async_step_confirm(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Allow starts again if they were blocked for this."""
        if user_input is not None and self._kind is FileKind.MEMORY:
            self._system.handle(ModeSet(Mode.START_BLOCK, on=False))
        return await super().async_step_confirm(user_input)


async def async_create_fix_flow(
    hass: HomeAssistant, issue_id: str, data: dict[str, str | int | float | None] | None
) -> RepairsFlow:
    """Return the flow of an issue."""
    if data is not None and data.get("what") == OLD_NAMES:
        return OldNamesFlow()
    entry = None
    if data is not None:
        entry = hass.config_entries.async_get_entry(str(data["entry_id"]))
    if data is None or entry is None or entry.domain != DOMAIN:
        return ConfirmRepairFlow()
    if data.get("what") == DRIFT:
        return DriftFlow(entry, data)
    if data.get("what") == start_when.ISSUE:
        return start_when.StartWhenFlow(entry)
    if entry.state is not ConfigEntryState.LOADED:
        return ConfirmRepairFlow()
    system = system_of(entry)
    if data.get("what") == ISSUE:
        return WatchedWeekFlow(system, str(data.get("asked")))
    if data.get("what") == FILE_LOST:
        return FileFlow(system, FileKind(str(data["kind"])))
    if data.get("what") == travel.ISSUE:
        return travel.TravelFlow(system, str(data["gate"]))
    if data.get("what") == idle.ISSUE:
        return idle.IdleFlow(system, str(data["machine"]))
    if data.get("what") == ids.ISSUE:
        return ids.IdsFlow(system)
    return AlarmFlow(
        system,
        AlarmKind(str(data["kind"])),
        str(data["part"]),
        str(data.get("occurrence")),
    )
