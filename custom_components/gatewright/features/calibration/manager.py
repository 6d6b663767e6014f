"""Looks at each machine's readings again about once a week, and tells when they changed.

One machine is looked at in an hour at most, the one that has waited for longest, so a
hub with many machines has nothing to do at once, and nothing at its start.
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
"""What the issue is about, and the key of its texts."""

START_WAITS = "start_waits"
"""The key of its texts where only the start confirmation time does not fit."""

EVERY = timedelta(days=7)
LOOK = timedelta(hours=1)
QUIET = timedelta(days=60)
"""How long nothing is said of a machine whose issue was ignored."""

_SAVE_DELAY = 60.0


class DriftMonitor:
    """Looks at the machines of one system, in turn."""

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
        """Prepare to look; `start` begins."""
        self._hass = hass
        self._entry = entry
        self._file = drift_file(hass, entry)
        self._looked: dict[str, float] = {}
        self._ignored: dict[str, float] = {}
        self._unsub: Callable[[], None] | None = None
        self._turn: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Remember when each machine was looked at; from now on look now and then."""
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
        """Look no more, and end a look that goes on: it would tell what nobody asks."""
        if self._unsub is not None:
            self._unsub()
            self._unsub = None
        if self._turn is not None:
            self._turn.cancel()

    @callback
    def tidy(self) -> None:
        """Forget machines that are gone or have got another sort of sensor."""
        machines = self._machines()
        known = {issue_of(self._entry, machine_id) for machine_id in machines}
        delete_issues(self._hass, _prefix(self._entry), but=known)
        self._looked = {m: at for m, at in self._looked.items() if m in machines}
        self._ignored = {m: at for m, at in self._ignored.items() if m in machines}

    async def _tick(self, now: datetime) -> None:
        """Look at the machine that has waited for longest, if that is a week."""
        if self._turn is not None:
            return
        self._turn = asyncio.current_task()
        try:
            self.tidy()
            machines = self._machines()
            moment = now.timestamp()
            for machine_id in machines:
                # A new machine has just been set up: it is looked at in a week.
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
        """Look at one machine's recent history, and tell or take back what it shows."""
        unit, sensor = machine.unit, to_entity_id(self._hass, machine.sensor or "")
        if sensor is None or unit is None:
            return
        readings = await read_history(self._hass, sensor, unit)
        if isinstance(readings, NoHistory):
            return
        issue_id = issue_of(self._entry, machine.part_id)
        standing = ir.async_get(self._hass).async_get_issue(DOMAIN, issue_id)
        until = dt_util.utcnow().timestamp()
        drift = await self._hass.async_add_executor_job(
            lambda: check_drift(
                levels_of(machine),
                readings,
                unit,
                until,
                standing=standing is not None,
            )
        )
        if machine.part_id not in self._machines():
            return
        if not drift.due:
            delete_issue(self._hass, issue_id)
        elif drift.shifts and not self._quiet(machine.part_id, standing, until):
            await self._tell(machine, unit, drift)

    def _quiet(
        self, machine_id: str, standing: ir.IssueEntry | None, now: float
    ) -> bool:
        """Return whether the owner does not want to hear of it for now."""
        if standing is not None and standing.dismissed_version is not None:
            since = self._ignored.setdefault(machine_id, now)
            if now - since < QUIET.total_seconds():
                return True
            # An issue that was ignored once is ignored for ever, unless made anew.
            delete_issue(self._hass, standing.issue_id)
        since = self._ignored.get(machine_id, 0.0)
        if now - since < QUIET.total_seconds():
            return True
        self._ignored.pop(machine_id, None)
        return False

    async def _tell(self, machine: StoredMachine, unit: str, drift: Drift) -> None:
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
                # It belongs to the levels that were learned, not to others.
                **(
                    certain_of(drift.learned, unit) if levels == proposal.levels else {}
                ),
                # What they are compared with: figures set meanwhile are newer.
                **{f"was_{key}": was for key, was in stored_figures(machine).items()},
            },
            # It stands until the next look, a restart or not.
            persistent=True,
        )

    def _machines(self) -> dict[str, StoredMachine]:
        """Return the machines that a power or current tells about."""
        return {
            machine_id: machine
            for machine_id, machine in read_parts(self._entry, StoredMachine).items()
            if machine.unit is not None
        }

    def _kept(self) -> dict[str, Any]:
        return {"looked": self._looked, "ignored": self._ignored}


def drift_file(hass: HomeAssistant, entry: ConfigEntry[Any]) -> KeptFile:
    """Return where it is kept when each machine was looked at."""
    return KeptFile(hass, FileKind.DRIFT, entry)


async def forget_drift(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Leave no trace of a system that is removed."""
    delete_issues(hass, _prefix(entry))
    await drift_file(hass, entry).remove()


def issue_of(entry: ConfigEntry[Any], machine_id: str) -> str:
    """Return the id of a machine's issue."""
    return f"{_prefix(entry)}{machine_id}"


def _prefix(entry: ConfigEntry[Any]) -> str:
    return f"drift_{entry.entry_id}_"
