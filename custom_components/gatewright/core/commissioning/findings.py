"""What a system check can find, and what it can set."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class FindingKind(StrEnum):
    """One thing that was found at a part."""

    # At a gate.
    GATE_AWAY = "gate_away"
    COMMAND_FAILS = "command_fails"
    NO_ANSWER = "no_answer"
    NOT_MOVING = "not_moving"
    FEEDBACK_DEAD = "feedback_dead"
    CONTRARY = "contrary"
    SENSORS_CONTRARY = "sensors_contrary"
    WRONG_WAY = "wrong_way"
    SENSOR_CONTRARY = "sensor_contrary"
    SENSOR_DEAD = "sensor_dead"
    SENSOR_SILENT = "sensor_silent"
    UNSTEADY = "unsteady"
    CROSSED = "crossed"
    ANSWERS_TOO = "answers_too"
    ANOTHER_MOVES = "another_moves"
    TRAVEL_TOO_SHORT = "travel_too_short"
    AT_ONCE = "at_once"
    # At a machine.
    READING_MISSING = "reading_missing"
    READING_DEAD = "reading_dead"
    WRONG_READING = "wrong_reading"
    PLUGS_SWAPPED = "plugs_swapped"
    READING_SHARED = "reading_shared"
    # At the collector.
    NO_WAY = "no_way"
    NOT_SWITCHING = "not_switching"
    NO_POWER = "no_power"
    POWER_LATE = "power_late"
    POWER_STAYS = "power_stays"
    NOT_TURNING = "not_turning"
    WENT_OFF = "went_off"
    MACHINE_ANSWERS = "machine_answers"
    NOT_STOPPING = "not_stopping"


NOTES = frozenset({FindingKind.AT_ONCE})
"""What is worth knowing and needs no mending."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckFinding:
    """Something found at a part; `about` is the other part or the sensor concerned.

    `seconds` is the time that was measured, where the finding is about one.
    """

    kind: FindingKind
    part: str
    about: str = ""
    seconds: float | None = None

    @property
    def key(self) -> tuple[FindingKind, str, str]:
        """What makes it the same finding in another check."""
        return self.kind, self.part, str(self.about)

    @property
    def mend(self) -> bool:
        """Whether somebody has to do something about it."""
        return self.kind not in NOTES


class SettingKind(StrEnum):
    """What a check can set at a gate."""

    TRAVEL = "travel"
    INVERT = "invert"
    SWAP_SENSORS = "swap_sensors"


MENDS = {
    SettingKind.TRAVEL: FindingKind.TRAVEL_TOO_SHORT,
    SettingKind.INVERT: FindingKind.WRONG_WAY,
    SettingKind.SWAP_SENSORS: FindingKind.SENSORS_CONTRARY,
}
"""The finding that a setting takes care of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Something to be set at a gate; `seconds` is a travel time."""

    kind: SettingKind
    part: str
    seconds: float | None = None


class CheckOutcome(StrEnum):
    """How the check of a part went.

    `UNSEEN` is a gate that says nothing of itself, in a check without a person.
    """

    CHECKED = "checked"
    SKIPPED = "skipped"
    UNSEEN = "unseen"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartReport:
    """What came out at one part.

    `seconds` is the longest stroke that was measured at a gate, or what the
    collector's motor took from its switch to its power.
    """

    part: str
    outcome: CheckOutcome = CheckOutcome.CHECKED
    findings: tuple[CheckFinding, ...] = ()
    settings: tuple[Setting, ...] = ()
    seconds: float | None = None


class End(StrEnum):
    """Why a check is over."""

    DONE = "done"
    STOPPED = "stopped"
    TIMED_OUT = "timed_out"
    MACHINE = "machine"
    REQUEST = "request"
    COLLECTOR = "collector"
    GATE_MOVED = "gate_moved"
    START_BLOCK = "start_block"
    FIRE_SHUTDOWN = "fire_shutdown"
    CHANGED = "changed"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReport:
    """What a check found, part by part; `left` are those that it did not come to.

    `machine` is the one that ended the check by running.
    """

    ended: End
    parts: tuple[PartReport, ...] = ()
    left: tuple[str, ...] = ()
    machine: str = ""

    @property
    def findings(self) -> tuple[CheckFinding, ...]:
        """Everything found, in the order of the check."""
        return tuple(found for part in self.parts for found in part.findings)

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Everything that can be set, in the order of the check."""
        return tuple(setting for part in self.parts for setting in part.settings)

    def open(self, made: Iterable[Setting] = ()) -> tuple[CheckFinding, ...]:
        """Return what needs mending once these settings were made."""
        mended = {(MENDS[setting.kind], setting.part) for setting in made}
        return tuple(
            found
            for found in self.findings
            if found.mend and (found.kind, found.part) not in mended
        )


def findings_data(findings: Iterable[CheckFinding]) -> list[dict[str, Any]]:
    """Return findings as plain data."""
    return [
        {
            "kind": found.kind.value,
            "part": found.part,
            "about": str(found.about),
            "seconds": found.seconds,
        }
        for found in findings
    ]


def findings_from(data: Iterable[Mapping[str, Any]]) -> tuple[CheckFinding, ...]:
    """Return the findings that `findings_data` wrote."""
    return tuple(
        CheckFinding(**{**found, "kind": FindingKind(found["kind"])}) for found in data
    )


def settings_data(settings: Iterable[Setting]) -> list[dict[str, Any]]:
    """Return settings as plain data."""
    return [
        {
            "kind": setting.kind.value,
            "part": setting.part,
            "seconds": setting.seconds,
        }
        for setting in settings
    ]


def settings_from(data: Iterable[Mapping[str, Any]]) -> tuple[Setting, ...]:
    """Return the settings that `settings_data` wrote."""
    return tuple(
        Setting(**{**setting, "kind": SettingKind(setting["kind"])}) for setting in data
    )


def as_data(report: CheckReport) -> dict[str, Any]:
    """Return a report as plain data."""
    return {
        "ended": report.ended.value,
        "machine": report.machine,
        "left": list(report.left),
        "parts": [
            {
                "part": part.part,
                "outcome": part.outcome.value,
                "seconds": part.seconds,
                "findings": findings_data(part.findings),
                "settings": settings_data(part.settings),
            }
            for part in report.parts
        ],
    }


def from_data(data: Mapping[str, Any]) -> CheckReport:
    """Return the report that `as_data` wrote; raises `KeyError` or `ValueError`."""
    return CheckReport(
        ended=End(data["ended"]),
        machine=data["machine"],
        left=tuple(data["left"]),
        parts=tuple(
            PartReport(
                part=part["part"],
                outcome=CheckOutcome(part["outcome"]),
                seconds=part["seconds"],
                findings=findings_from(part["findings"]),
                settings=settings_from(part["settings"]),
            )
            for part in data["parts"]
        ),
    )
