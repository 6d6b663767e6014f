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
    Report,
    Setting,
    SettingKind,
    as_data,
    from_data,
)

_VERSION = 1

_LOGGER = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Walked:
    """A walk that is over: when, what was found, and what was set after it.

    `told` says that its open findings are among the repairs.
    """

    at: datetime
    report: Report
    made: tuple[Setting, ...] = ()
    told: bool = False

    @property
    def open(self) -> tuple[Finding, ...]:
        """What still needs mending."""
        return self.report.open(self.made)


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
                made=tuple(
                    Setting(**{**made, "kind": SettingKind(made["kind"])})
                    for made in data["made"]
                ),
                told=data["told"],
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
                "made": [
                    {
                        "kind": made.kind.value,
                        "part": made.part,
                        "seconds": made.seconds,
                    }
                    for made in walked.made
                ],
                "told": walked.told,
            }
        )

    async def remove(self) -> None:
        """Delete the file."""
        await self._store.async_remove()
