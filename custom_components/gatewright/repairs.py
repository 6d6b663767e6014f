"""What a person can end from the hub's repairs: try again, reset, say it is done."""

from homeassistant.components.repairs import (
    ConfirmRepairFlow,
    RepairsFlow,
    RepairsFlowResult,
)
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant

from .const import DOMAIN
from .engine import Engine
from .finding.drift import ISSUE as DRIFT
from .finding.repair import DriftFlow
from .onlooking.question import WatchedWeekFlow
from .onlooking.watcher import ISSUE
from .shop.alarms import AlarmKind
from .shop.words import Refused
from .suggestions import idle, start_when, travel


class AlarmFlow(RepairsFlow):
    """Says what is wrong, and acts on it once a person confirms."""

    def __init__(self, engine: Engine, kind: AlarmKind, part: str) -> None:
        """Be about an alarm of a part."""
        self._engine = engine
        self._kind = kind
        self._part = part

    async def async_step_init(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Say what is wrong."""
        return await self.async_step_confirm()

    async def async_step_confirm(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Try again, reset, or note what was done."""
        if user_input is None:
            issue = self.issue_placeholders
            return self.async_show_form(
                step_id="confirm", description_placeholders=issue
            )
        try:
            if not self._engine.upkeep.due.answer(self._kind, self._part):
                self._engine.answer(self._kind, self._part)
        except Refused as err:
            return self.async_abort(reason=f"refused_{err.why.value}")
        return self.async_create_entry(data={})

    @property
    def issue_placeholders(self) -> dict[str, str]:
        """What the texts of the issue are filled with."""
        announcer = self._engine.announcer
        return {
            "part": announcer.name(self._part),
            "system": self._engine.entry.title,
            "detail": announcer.details.get(self._part, ""),
        }


async def async_create_fix_flow(
    hass: HomeAssistant, issue_id: str, data: dict[str, str | int | float | None] | None
) -> RepairsFlow:
    """Return the flow of an issue."""
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
    engine: Engine = entry.runtime_data
    if data.get("what") == ISSUE:
        return WatchedWeekFlow(engine)
    if data.get("what") == travel.ISSUE:
        return travel.TravelFlow(engine, str(data["gate"]))
    if data.get("what") == idle.ISSUE:
        return idle.IdleFlow(engine, str(data["machine"]))
    return AlarmFlow(engine, AlarmKind(str(data["kind"])), str(data["part"]))
