"""Stores the last system check's report."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from ...core.commissioning.findings import (
    CheckFinding,
    CheckOutcome,
    CheckReport,
    Setting,
    as_data,
    findings_data,
    findings_from,
    from_data,
    settings_data,
    settings_from,
)
from ...core.pattern import check_numbers, check_shape
from ...runtime.store import FileKind, KeptFile


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptCheck:
    """A finished check: its time, its results, and what was set after it.

    `told` says that its open results are among the repairs. `standing` are the open
    results of earlier checks when it began.
    """

    at: datetime
    report: CheckReport
    made: tuple[Setting, ...] = ()
    told: bool = False
    standing: tuple[CheckFinding, ...] = ()

    @property
    def open(self) -> tuple[CheckFinding, ...]:
        """The results that are still open."""
        return self.report.open(self.made)

    @property
    def issues(self) -> tuple[CheckFinding, ...]:
        """The results for the repairs: an earlier one stays until it's resolved."""
        checked = {
            part.part
            for part in self.report.parts
            if part.outcome is CheckOutcome.CHECKED
        }
        still = {found.key for found in self.open}
        kept = [
            found
            for found in self.standing
            if found.part not in checked or found.key in still
        ]
        if self.told:
            known = {found.key for found in kept}
            kept += [found for found in self.open if found.key not in known]
        return tuple(kept)

    @property
    def count(self) -> int:
        """How many results are open, as far as is known."""
        return len({found.key for found in (*self.open, *self.issues)})


_READ = {"told": True, "of": 0}


class CheckStore:
    """One system's last check on disk."""

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
        self._file = KeptFile(hass, FileKind.WALK, entry)

    async def load(self) -> KeptCheck | None:
        """Load the last check; None without a readable one."""
        data = await self._file.read()
        if data is None:
            return None
        try:
            check_numbers(data)
            at = dt_util.parse_datetime(data["at"], raise_on_error=True)
            check = KeptCheck(
                at=at,
                report=from_data(data["report"]),
                made=settings_from(data["made"]),
                told=data["told"],
                standing=findings_from(data["standing"]),
            )
            check_shape({"told": check.told, "of": check.count}, _READ)
            # If it can't be written, it wasn't read correctly.
            dt_util.as_utc(at)
            check_shape(_plain(check), data)
        except Exception as err:  # noqa: BLE001 - whatever is wrong with it
            await self._file.put_aside(err)
            return None
        return check

    async def write(self, check: KeptCheck) -> None:
        """Store a check."""
        await self._file.write(_plain(check))

    async def remove(self) -> None:
        """Delete the file."""
        await self._file.remove()


def _plain(check: KeptCheck) -> dict[str, Any]:
    return {
        "at": check.at.isoformat(),
        "report": as_data(check.report),
        "made": settings_data(check.made),
        "told": check.told,
        "standing": findings_data(check.standing),
    }
