"""Simulates a system: reads what was recorded and plays it through the core.

Reading happens in the recorder's executor and the core runs in Home Assistant's, so
that the event loop stays free. One simulation runs at a time.
"""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
import logging
from threading import Event
from time import sleep
from typing import Literal

from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
from homeassistant.util.hass_dict import HassKey

from ...const import DOMAIN
from ...core.config import SystemConfig
from ...core.simulation.actual import figures_of
from ...core.simulation.simulation import (
    Figures,
    Recording,
    SimulationResult,
    complete,
    simulate,
)
from ...core.simulation.simulator import Actuators
from ...core.stored.config import StoredConfig
from ...runtime.config_loader import LoadedConfig, load_config
from ...runtime.system_context import GatewrightConfigEntry, system_of
from .proposed_config import can_simulate
from .recorded_inputs import Recorded, read_records
from .recorder import has_recorder

LONGEST = timedelta(days=31)
"""The longest time to simulate at once; recorders seldom keep more."""

USUAL = timedelta(days=7)

_READING = 0.3
"""The reading's share of the work, for the progress."""

_BREATH = 0.001
"""The core's pause in s between two progress reports, for the event loop's sake."""

_LOGGER = logging.getLogger(__name__)

_LOCK: HassKey[asyncio.Lock] = HassKey(f"{DOMAIN}_simulating")


type WhyNot = Literal[
    "simulate_bad_settings",
    "simulate_empty",
    "simulate_machine_not_recorded",
    "simulate_no_recorder",
    "simulate_nothing_recorded",
    "simulate_too_long",
    "simulate_unreadable",
    "simulate_without_sensor",
]
"""The text keys of why nothing can be simulated."""


class CannotSimulateError(Exception):
    """Raised when nothing can be simulated; `why` is the key of its text."""

    def __init__(self, why: WhyNot) -> None:
        super().__init__(why)
        self.why = why


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedWeek:
    """What would have been from `begins` to `ends`, beside what was.

    `was` is None if the collector wasn't recorded; it lacks machines whose gates
    weren't recorded.
    """

    begins: datetime
    ends: datetime
    layout: LoadedConfig
    records: Recorded
    would: SimulationResult
    was: Figures | None


def period(
    begins: datetime | None, ends: datetime | None, days: float | None
) -> tuple[datetime, datetime]:
    """Return the requested period, as far as it's over.

    The times are aware. Raises `CannotSimulateError` for a period that is empty or too
    long.
    """
    now = dt_util.utcnow()
    last = min(now, ends or now)
    length = USUAL if days is None else timedelta(days=days)
    first = begins or last - length
    if begins is not None and ends is None and days is not None:
        last = min(last, first + length)
    if first >= last:
        raise CannotSimulateError("simulate_empty")
    if last - first > LONGEST:
        raise CannotSimulateError("simulate_too_long")
    return dt_util.as_utc(first), dt_util.as_utc(last)


async def simulate_system(
    hass: HomeAssistant,
    config: StoredConfig,
    begins: datetime,
    ends: datetime,
    progress: Callable[[float], None] | None = None,
) -> SimulatedWeek:
    """Simulate a system with present or proposed settings; report `progress`, 0 to 1.

    Raises `CannotSimulateError` if nothing was recorded or it can't be read, and
    `ConfigError` for settings that can't work.
    """
    if not has_recorder(hass):
        raise CannotSimulateError("simulate_no_recorder")
    # Not installed before Home Assistant has a recorder.
    from sqlalchemy.exc import SQLAlchemyError  # noqa: PLC0415

    tell = progress or _silent
    layout = load_config(hass, config)
    system, actuators = _as_measured(
        hass, config.system.part_id, can_simulate(layout.system)
    )
    async with hass.data.setdefault(_LOCK, asyncio.Lock()):
        try:
            records = await read_records(
                hass,
                config.system.part_id,
                layout,
                begins,
                ends,
                lambda share: tell(_READING * share),
            )
        except SQLAlchemyError as err:
            # A database server may be offline while Home Assistant keeps running.
            _LOGGER.warning("What was recorded cannot be read: %s", err)
            raise CannotSimulateError("simulate_unreadable") from err
        if not records.recording.readings:
            raise CannotSimulateError("simulate_nothing_recorded")
        would = await _play(
            hass,
            system,
            actuators,
            records.recording,
            records.power,
            lambda share: tell(_READING + (1.0 - _READING) * share),
        )
    was = None
    if records.happened is not None:
        was = figures_of(would, records.happened, system, power=records.power)
    return SimulatedWeek(
        begins=dt_util.utc_from_timestamp(records.recording.begins),
        ends=ends,
        layout=layout,
        records=records,
        would=would,
        was=was,
    )


def _as_measured(
    hass: HomeAssistant, entry_id: str, system: SystemConfig
) -> tuple[SystemConfig, Actuators]:
    """Return a plan and actuators with the measured times of the real ones."""
    entry: GatewrightConfigEntry | None = hass.config_entries.async_get_entry(entry_id)
    if entry is None or entry.state is not ConfigEntryState.LOADED:
        return system, Actuators()
    sequence = system_of(entry).sequence
    if system.collector.spin_up is None:
        spin_up = sequence.motor.spin_up_meter.measured
        system = replace(system, collector=replace(system.collector, spin_up=spin_up))
    strokes = {
        gate.gate_id: stroke
        for gate in system.gates
        if (travel := sequence.gates.travel(gate.gate_id)) is not None
        and (stroke := travel.stroke()) is not None
    }
    return system, Actuators(travel=strokes)


async def _play(
    hass: HomeAssistant,
    system: SystemConfig,
    actuators: Actuators,
    recording: Recording,
    power: float | None,
    tell: Callable[[float], None],
) -> SimulationResult:
    given_up = Event()

    def report(share: float) -> None:
        if given_up.is_set():
            raise _GivenUp
        hass.loop.call_soon_threadsafe(tell, share)
        sleep(_BREATH)

    try:
        return await hass.async_add_executor_job(
            partial(
                complete, simulate(system, recording, actuators, power=power), report
            )
        )
    finally:
        given_up.set()


class _GivenUp(Exception):  # noqa: N818 - ends a thread that nobody waits for
    """Raised in the thread when nobody waits for the result."""


def _silent(_share: float) -> None:
    """Report no progress."""
