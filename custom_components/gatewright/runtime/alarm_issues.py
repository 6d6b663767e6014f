"""Raises repair issues for alarms that need work on the set-up or the hardware."""

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir

from ..core.control.alarms import AlarmKind, Condition
from ..texts.alarm_texts import translation_key
from .issues import delete_issue, delete_issues, raise_issue

DUE = frozenset(
    {
        AlarmKind.BIN_NEARLY_FULL,
        AlarmKind.FILTER_CLEAN_DUE,
        AlarmKind.FILTER_REPLACE_DUE,
        AlarmKind.SERVICE_DUE,
    }
)
"""Alarms that need a person soon, and end when that person reports the work as done."""

TRIED_AGAIN = frozenset(
    {
        AlarmKind.COLLECTOR_NOT_STARTING,
        AlarmKind.GATE_NOT_MOVING,
        AlarmKind.GATE_OFFLINE,
        AlarmKind.MAINTENANCE_NOT_SWITCHING,
    }
)
"""Alarms that a person can have retried once the device is online."""

FIXABLE = DUE | TRIED_AGAIN | {AlarmKind.FIRE_SHUTDOWN}
"""Alarms that a person can end in Home Assistant: retry, reset, or report as done."""

_RAISED = FIXABLE | {
    AlarmKind.AIR_SUPPLY_LOW,
    AlarmKind.CONNECTED_LOST,
    AlarmKind.COLLECTOR_NOT_STOPPING,
    AlarmKind.COMMAND_FAILED,
    AlarmKind.LINKED_DEVICE_NOT_SWITCHING,
    AlarmKind.FILTER_PRESSURE_HIGH,
    AlarmKind.READING_STUCK,
    AlarmKind.RELAY_NOT_CUTTING,
}


@callback
def tell_issue(
    hass: HomeAssistant,
    entry: ConfigEntry,
    condition: Condition,
    placeholders: dict[str, str],
    occurrence: str,
) -> None:
    """Raise the issue of an alarm, if it belongs among the repairs."""
    if condition.kind not in _RAISED:
        return
    fixable = condition.kind in FIXABLE
    raise_issue(
        hass,
        _issue_id(entry, condition),
        translation_key(condition.kind),
        placeholders,
        data={
            "entry_id": entry.entry_id,
            "kind": condition.kind,
            "part": condition.part,
            "occurrence": occurrence,
        },
        fixable=fixable,
        severity=ir.IssueSeverity.WARNING
        if condition.kind in DUE
        else ir.IssueSeverity.ERROR,
    )


@callback
def clear_issue(hass: HomeAssistant, entry: ConfigEntry, condition: Condition) -> None:
    """Delete the issue of an alarm."""
    delete_issue(hass, _issue_id(entry, condition))


@callback
def clear_all_issues(hass: HomeAssistant, entry: ConfigEntry) -> None:
    """Delete all alarm issues of an entry."""
    delete_issues(hass, _prefix(entry))


def _prefix(entry: ConfigEntry) -> str:
    return f"alarm_{entry.entry_id}_"


def _issue_id(entry: ConfigEntry, condition: Condition) -> str:
    return f"{_prefix(entry)}{condition.part}_{condition.kind.value}"
