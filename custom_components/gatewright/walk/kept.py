"""The last walk's report, kept on disk."""

from dataclasses import dataclass
from datetime import datetime
import logging
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers.storage import Store
from homeassistant.util import dt as dt_util

from ..const import DOMAIN
from ..shop.commissioning.findings import (
    Finding,
    Outcome,
    Report,
    Setting,
    as_data,
    findings_data,
    findings_from,
    from_data,
    settings_data,
    settings_from,
)

_VERSION = 1

_LOGGER = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Walked:
    """A walk that is over: when, what was found, and what was set after it.

    `told` says that its open findings are among the repairs. `standing` are those of
    earlier walks that were there when it began.
    """

    at: datetime
    report: Report
    made: tuple[Setting, ...] = ()
    told: bool = False
    standing: tuple[Finding, ...] = ()

    @property
    def open(self) -> tuple[Finding, ...]:
        """What it found that still needs mending."""
        return self.report.open(self.made)

    @property
    def issues(self) -> tuple[Finding, ...]:
        """What belongs among the repairs: an earlier finding until it is in order."""
        checked = {
            part.part for part in self.report.parts if part.outcome is Outcome.CHECKED
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
        """How much needs mending, as far as is known."""
        return len({found.key for found in (*self.open, *self.issues)})


class WalkStore:
    """One system's last walk on disk."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Keep it in a file of its own."""
        self._store: Store[dict[str, Any]] = Store(
            hass, _VERSION, f"{DOMAIN}.{entry_id}.walk"
        )

    async def load(self) -> Walked | None:
        """Return the last walk; None without one that can be read."""
        data = await self._store.async_load()
        if data is None:
            return None
        try:
            at = dt_util.parse_datetime(data["at"], raise_on_error=True)
            return Walked(
                at=at,
                report=from_data(data["report"]),
                made=settings_from(data["made"]),
                told=data["told"],
                standing=findings_from(data["standing"]),
            )
        except (KeyError, TypeError, ValueError) as err:
            _LOGGER.warning("The report of the last walk cannot be read: %r", err)
            return None

    async def write(self, walked: Walked) -> None:
        """Keep a walk."""
        await self._store.async_save(
            {
                "at": walked.at.isoformat(),
                "report": as_data(walked.report),
                "made": settings_data(walked.made),
                "told": walked.told,
                "standing": findings_data(walked.standing),
            }
        )

    async def remove(self) -> None:
        """Delete the file."""
        await self._store.async_remove()
