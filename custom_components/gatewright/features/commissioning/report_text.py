"""The report of a system check, in Home Assistant's language.

The results have their texts under `issues`, since some are raised there; the lines
around them are under `selector`.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from homeassistant.core import HomeAssistant, callback

from ...core.commissioning.findings import (
    MENDS,
    CheckFinding,
    CheckOutcome,
    FindingKind,
    PartReport,
)
from ...core.commissioning.task import SignalRole
from ...texts.figures import NOT_KNOWN, date_and_time
from ...texts.placeholders import fill
from ...texts.texts import cached_text

if TYPE_CHECKING:
    from .store import KeptCheck

type Namer = Callable[[str], str]


def translation_key(kind: FindingKind) -> str:
    """Return the key of a result's texts under `issues`."""
    return f"walk_{kind.value}"


@callback
def line(hass: HomeAssistant, key: str, **values: str) -> str:
    """Return a line of a report."""
    return _text(hass, "selector", f"walk_line.options.{key}", values)


@callback
def finding_title(hass: HomeAssistant, found: CheckFinding, name: Namer) -> str:
    """Return a result in one line."""
    key = f"{translation_key(found.kind)}.title"
    return _text(hass, "issues", key, placeholders(hass, found, name))


@callback
def finding_text(hass: HomeAssistant, found: CheckFinding, name: Namer) -> str:
    """Return cause, result and advice in Markdown."""
    key = f"{translation_key(found.kind)}.description"
    return _text(hass, "issues", key, placeholders(hass, found, name))


def placeholders(
    hass: HomeAssistant, found: CheckFinding, name: Namer
) -> dict[str, str]:
    """Return the placeholders of a result's texts."""
    about = found.about
    if about in {role.value for role in SignalRole}:
        about = line(hass, about)
    elif about:
        about = name(about)
    seconds = NOT_KNOWN if found.seconds is None else f"{found.seconds:.1f}"
    return {"part": name(found.part), "about": about or NOT_KNOWN, "seconds": seconds}


@callback
def report_text(hass: HomeAssistant, check: KeptCheck, name: Namer) -> str:
    """Return the complete report in Markdown."""
    report = check.report
    at = date_and_time(check.at)
    machine = name(report.machine) if report.machine else ""
    ended = line(hass, f"ended_{report.ended.value}", at=at, machine=machine)
    lines = [ended, ""]
    for part in report.parts:
        lines.append(f"- {_part_text(hass, part, name)}")
        lines += [f"  - {finding_title(hass, f, name)}" for f in part.findings]
        lines += [
            "  - "
            + line(
                hass,
                ("made_" if setting in check.made else "can_") + setting.kind.value,
                seconds="" if setting.seconds is None else f"{setting.seconds:g}",
            )
            for setting in part.settings
        ]
    if report.left:
        names = ", ".join(name(part) for part in report.left)
        lines += ["", line(hass, "left", parts=names)]
    if check.open:
        lines += ["", line(hass, "advice_title")]
        lines += [
            text for f in check.open for text in ("", finding_text(hass, f, name))
        ]
    return "\n".join(lines)


@callback
def report_data(hass: HomeAssistant, check: KeptCheck, name: Namer) -> dict[str, Any]:
    """Return the gates' report for an action's response."""
    return {
        "ended": check.report.ended.value,
        "at": check.at.isoformat(),
        "gates": [
            {
                "gate_id": part.part,
                "name": name(part.part),
                "outcome": part.outcome.value,
                "seconds": None if part.seconds is None else round(part.seconds, 2),
                "findings": [
                    {
                        "finding": found.kind.value,
                        "about": found.about,
                        "text": finding_title(hass, found, name),
                        "mended": found not in check.open,
                    }
                    for found in part.findings
                ],
                "settings": [
                    {
                        "setting": setting.kind.value,
                        "seconds": setting.seconds,
                        "stored": setting in check.made,
                        "mends": MENDS[setting.kind].value,
                    }
                    for setting in part.settings
                ],
            }
            for part in check.report.parts
        ],
        "left": [name(part) for part in check.report.left],
        "open": len(check.open),
        "text": report_text(hass, check, name),
    }


def _part_text(hass: HomeAssistant, part: PartReport, name: Namer) -> str:
    called = name(part.part)
    if part.outcome is not CheckOutcome.CHECKED:
        return line(hass, part.outcome.value, part=called)
    wrong = any(found.mend for found in part.findings)
    key = "found" if wrong else "in_order"
    if part.seconds is not None:
        return line(hass, f"{key}_timed", part=called, seconds=f"{part.seconds:.1f}")
    return line(hass, key, part=called)


def _text(hass: HomeAssistant, category: str, key: str, values: dict[str, str]) -> str:
    return fill(cached_text(hass, category, key, key), values)
