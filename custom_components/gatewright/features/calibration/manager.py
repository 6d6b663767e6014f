"""Checks each machine's readings about once a week, and reports changes.

At most one machine is checked per hour, the one that has waited longest. So many
machines never cause a load peak, not even at a start.
"""

import asyncio
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir
from homeassistant.helpers.event import async_track_time_interval
from homeassistant.util import dt as dt_util

from ...const import CONF_SENSOR, DOMAIN
from ...core.calibration.drift import Drift, Shift, check_drift
from ...core.pattern import check_numbers
from ...core.stored.parts import StoredMachine
from ...runtime.entity_references import to_entity_id
from ...runtime.entry_data import read_parts
from ...runtime.issues import delete_issue, delete_issues, raise_issue
from ...runtime.store import FileKind, KeptFile
from .evaluation import certain_of, figures_of, levels_of, stored_figures
from .history import NoHistory, read_history
from .learning_texts import LearningTexts

ISSUE = "levels_drifted"
"""The id prefix of the issue, and the key of its texts."""

START_WAITS = "start_waits"
"""The text key if only the start confirmation time doesn't fit."""

EVERY = timedelta(days=7)
LOOK = timedelta(hours=1)
QUIET = timedelta(days=60)
"""How long a machine stays quiet after its issue was ignored."""

_SAVE_DELAY = 60.0


class DriftMonitor:
    """Checks the machines of one system in turn."""

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
        self._hass = hass
        self._entry = entry
        self._file = drift_file(hass, entry)
        self._looked: dict[str, float] = {}
        self._ignored: dict[str, float] = {}
        self._unsub: Callable[[], None] | None = None
        self._turn: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Load when each machine was last checked, and start the hourly check."""
        kept = await self._file.read() or {}
        try:
            check_numbers(kept)
            self._looked, self._ignored = (
                {str(machine): float(at) for machine, at in kept.get(what, {}).items()}
                for what in ("looked", "ignored")
            )
        except (AttributeError, TypeError, ValueError) as err:
            await self._file.put_aside(err)
        self._unsub = async_track_time_interval(
            self._hass, self._tick, LOOK, cancel_on_shutdown=True
        )
        self.tidy()

    @callback
    def stop(self) -> None:
        """Stop checking, and cancel a check in progress: nobody needs its result."""
        if self._unsub is not None:
            self._unsub()
            self._unsub = None
        if self._turn is not None:
            self._turn.cancel()

    @callback
    def tidy(self) -> None:
        """Forget machines that are gone or have another kind of sensor."""
        machines = self._machines()
        known = {issue_of(self._entry, machine_id) for machine_id in machines}
        delete_issues(self._hass, _prefix(self._entry), but=known)
        self._looked = {m: at for m, at in self._looked.items() if m in machines}
        self._ignored = {m: at for m, at in self._ignored.items() if m in machines}

    async def _tick(self, now: datetime) -> None:
        """Check the machine that has waited longest, if it's a week."""
        if self._turn is not None:
            return
        self._turn = asyncio.current_task()
        try:
            self.tidy()
            machines = self._machines()
            moment = now.timestamp()
            for machine_id in machines:
                # A new machine has just been set up: its first check is in a week.
                self._looked.setdefault(machine_id, moment)
            machine_id = min(machines, key=self._looked.__getitem__, default="")
            if (
                machine_id
                and moment - self._looked[machine_id] >= EVERY.total_seconds()
            ):
                self._looked[machine_id] = moment
                await self.look(machines[machine_id])
            self._file.write_soon(self._kept, _SAVE_DELAY)
        finally:
            self._turn = None

    async def look(self, machine: StoredMachine) -> None:
        """Check one machine's recent history, and raise or delete its issue."""
        unit, sensor = machine.unit, to_entity_id(self._hass, machine.sensor or "")
        if sensor is None or unit is None:
            return
        readings = await read_history(self._hass, sensor, unit)
        if isinstance(readings, NoHistory):
            return
        issue_id = issue_of(self._entry, machine.part_id)
        issue = ir.async_get(self._hass).async_get_issue(DOMAIN, issue_id)
        until = dt_util.utcnow().timestamp()
        drift = await self._hass.async_add_executor_job(
            lambda: check_drift(
                levels_of(machine),
                readings,
                unit,
                until,
                standing=issue is not None,
            )
        )
        if machine.part_id not in self._machines():
            return
        if not drift.due:
            delete_issue(self._hass, issue_id)
        elif drift.shifts and not self._quiet(machine.part_id, issue, until):
            await self._raise_issue(machine, unit, drift)

    def _quiet(self, machine_id: str, issue: ir.IssueEntry | None, now: float) -> bool:
        """Return whether the owner has ignored the issue recently."""
        if issue is not None and issue.dismissed_version is not None:
            since = self._ignored.setdefault(machine_id, now)
            if now - since < QUIET.total_seconds():
                return True
            # Home Assistant ignores an ignored issue for good, unless it's created
            # anew.
            delete_issue(self._hass, issue.issue_id)
        since = self._ignored.get(machine_id, 0.0)
        if now - since < QUIET.total_seconds():
            return True
        self._ignored.pop(machine_id, None)
        return False

    async def _raise_issue(
        self, machine: StoredMachine, unit: str, drift: Drift
    ) -> None:
        proposal, levels = drift.learned.proposal, drift.levels
        if proposal is None or levels is None:
            return
        words = await LearningTexts.load(self._hass)
        raise_issue(
            self._hass,
            issue_of(self._entry, machine.part_id),
            START_WAITS if drift.shifts == (Shift.WAITS_IN_VAIN,) else ISSUE,
            {
                "machine": machine.name,
                "system": self._entry.title,
                "shifts": " ".join(words.of(shift) for shift in drift.shifts),
                "old": words.levels(levels_of(machine), unit),
                "new": words.levels(levels, unit),
                "confidence": words.of(proposal.confidence),
            },
            data={
                "what": ISSUE,
                "entry_id": self._entry.entry_id,
                "machine": machine.part_id,
                CONF_SENSOR: machine.sensor,
                **figures_of(levels, unit),
                # It belongs to the learned levels, not to others.
                **(
                    certain_of(drift.learned, unit) if levels == proposal.levels else {}
                ),
                # The compared figures: the ones set meanwhile are newer.
                **{f"was_{key}": was for key, was in stored_figures(machine).items()},
            },
            # It stays until the next check, across restarts.
            persistent=True,
        )

    def _machines(self) -> dict[str, StoredMachine]:
        """Return the machines with a power or current reading."""
        return {
            machine_id: machine
            for machine_id, machine in read_parts(self._entry, StoredMachine).items()
            if machine.unit is not None
        }

    def _kept(self) -> dict[str, Any]:
        return {"looked": self._looked, "ignored": self._ignored}


def drift_file(hass: HomeAssistant, entry: ConfigEntry[Any]) -> KeptFile:
    """Return the file with the time of each machine's last check."""
    return KeptFile(hass, FileKind.DRIFT, entry)


async def forget_drift(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Delete everything about a removed system."""
    delete_issues(hass, _prefix(entry))
    await drift_file(hass, entry).remove()


def issue_of(entry: ConfigEntry[Any], machine_id: str) -> str:
    """Return the id of a machine's issue."""
    return f"{_prefix(entry)}{machine_id}"


def _prefix(entry: ConfigEntry[Any]) -> str:
    return f"drift_{entry.entry_id}_"
