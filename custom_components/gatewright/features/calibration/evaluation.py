"""What the history of a sensor tells about its machine, all together."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
import math
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from ...const import (
    CONF_CERTAIN,
    CONF_START,
    CONF_START_CONFIRM,
    CONF_STOP,
    CONF_STOP_CONFIRM,
    UNIT_AMPERE,
    UNIT_WATT,
)
from ...core.calibration.history import Interval, Reading, runs_by
from ...core.calibration.hold_time import Costs, NoProposal, WaitProposal, propose_wait
from ...core.calibration.learner import Learned, learn
from ...core.calibration.levels import LevelRole
from ...core.calibration.reporting import Advice, advise
from ...core.config import CollectorConfig, Thresholds
from ...core.stored.parts import StoredMachine
from .history import NoHistory, read_history

LEAST_SHUTOFF_DELAY = CollectorConfig(name="").shutoff_delay
"""The usual shut-off delay in s, below which none is proposed."""

FIGURES = (CONF_START, CONF_STOP, CONF_START_CONFIRM, CONF_STOP_CONFIRM)
"""The levels and confirmation times as a machine's data has them."""

_DIGITS = {UNIT_WATT: 1, UNIT_AMPERE: 3}
"""Digits of a level behind the point: what tells two levels of that unit apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What was found out about a sensor that reads in `unit`.

    `learned` is None where there was nothing to learn from, for the reason `nothing`.
    `advice` is what the plug's pace calls for. `readings` are what was looked at, up to
    `until`, in s since 1970; none for a guided minute, which is `guided`.
    """

    unit: str
    learned: Learned | None = None
    nothing: NoHistory | None = None
    advice: tuple[Advice, ...] = ()
    readings: Sequence[Reading] = ()
    until: float = 0.0
    guided: bool = False

    @property
    def figures(self) -> dict[str, float] | None:
        """The proposed levels and confirmation times as a machine's data; None for none."""
        if self.learned is None or self.learned.proposal is None:
            return None
        return figures_of(self.learned.proposal.levels, self.unit)

    @property
    def certain(self) -> dict[str, float | None]:
        """The level from which on a reading is certain, as a machine's data has it."""
        if self.learned is None:
            return {}
        return certain_of(self.learned, self.unit)


def certain_of(learned: Learned, unit: str) -> dict[str, float | None]:
    """Return the certain level of a proposal as it is stored; None for none proven."""
    if learned.proposal is None:
        return {}
    level = learned.proposal.certain_level
    return {CONF_CERTAIN: None if level is None else round(level, _DIGITS[unit])}


def figures_of(levels: Thresholds, unit: str) -> dict[str, float]:
    """Return levels and confirmation times as they are stored."""
    digits = _DIGITS[unit]
    return {
        CONF_START: round(levels.start, digits),
        CONF_STOP: round(levels.stop, digits),
        CONF_START_CONFIRM: levels.start_confirm,
        CONF_STOP_CONFIRM: levels.stop_confirm,
    }


def without_stale_certain(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return a machine's data, without a certain level that its start level passes.

    It was entered for other levels, and says nothing once new ones are taken. A start
    level that is left empty may become any.
    """
    certain, start = data.get(CONF_CERTAIN), data.get(CONF_START)
    stale = certain is not None and (start is None or certain < start)
    return {key: data[key] for key in data if not (stale and key == CONF_CERTAIN)}


def levels_of(machine: StoredMachine) -> Thresholds:
    """Return the levels that are stored for a machine with a reading."""
    return Thresholds(
        start=machine.start,
        stop=machine.stop,
        start_confirm=machine.start_confirm,
        stop_confirm=machine.stop_confirm,
        certain=machine.certain,
    )


def stored_figures(machine: StoredMachine) -> dict[str, float]:
    """Return a machine's levels and confirmation times as they are stored."""
    levels = levels_of(machine)
    figures = levels.start, levels.stop, levels.start_confirm, levels.stop_confirm
    return dict(zip(FIGURES, figures, strict=True))


async def look(hass: HomeAssistant, entity_id: str, unit: str) -> Found:
    """Return what the recorded history of a sensor tells about its machine."""
    readings = await read_history(hass, entity_id, unit)
    if isinstance(readings, NoHistory):
        return Found(unit=unit, nothing=readings)
    until = dt_util.utcnow().timestamp()
    learned = await hass.async_add_executor_job(learn, readings, unit, until)
    return Found(
        unit=unit,
        learned=learned,
        advice=advice_of(learned),
        readings=readings,
        until=until,
    )


def advice_of(learned: Learned) -> tuple[Advice, ...]:
    """Return what the pace of a sensor calls for with the proposed levels."""
    if learned.proposal is None:
        return ()
    return advise(learned.pace, learned.proposal.levels)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """How a machine is waited for now, and what that costs.

    `hold` and `shutoff_delay` are in s, `meter` the collector's power sensor where it has one,
    `starts_per_hour` what its motor is allowed.
    """

    hold: float
    shutoff_delay: float
    meter: str | None = None
    starts_per_hour: float | None = None


async def look_at_pauses(
    hass: HomeAssistant, found: Found, levels: Thresholds, waiting: Waiting
) -> WaitProposal | NoProposal:
    """Return the hold that would have served the recorded cuts of a machine best."""
    costs = await _costs(hass, waiting)
    return await hass.async_add_executor_job(_propose, found, levels, waiting, costs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensed:
    """A machine of the shop: its sensor, and what its readings mean; `hold` in s."""

    sensor: str
    unit: str
    levels: Thresholds
    hold: float


async def look_at_demand(
    hass: HomeAssistant, machines: Iterable[Sensed], waiting: Waiting
) -> WaitProposal | NoProposal:
    """Return the shut-off delay that would have served the whole shop best.

    `waiting` has the shut-off delay in force; each machine's hold is part of the demand.
    """
    demand: list[Interval] = []
    begins, until = math.inf, dt_util.utcnow().timestamp()
    for machine in machines:
        readings = await read_history(hass, machine.sensor, machine.unit)
        if isinstance(readings, NoHistory) or not readings:
            continue
        begins = min(begins, readings[0][0])
        cuts = await hass.async_add_executor_job(_cuts, machine.levels, readings, until)
        demand += [(first, last + machine.hold) for first, last in cuts]
    if until <= begins:
        return NoProposal.TOO_FEW_PAUSES
    costs = await _costs(hass, waiting)
    return await hass.async_add_executor_job(
        lambda: propose_wait(
            demand,
            until - begins,
            costs,
            present=waiting.shutoff_delay,
            # How long the ducts need to empty is the owner's to know: never less than
            # what is usual, nor than what was chosen.
            least=max(waiting.shutoff_delay, LEAST_SHUTOFF_DELAY),
        )
    )


def _cuts(
    levels: Thresholds, readings: Sequence[Reading], until: float
) -> list[Interval]:
    # What a lost reading means is no matter of pauses: what is not known is no cut.
    return runs_by(replace(levels, dropout=0.0), readings, until)


async def _costs(hass: HomeAssistant, waiting: Waiting) -> Costs:
    power = None
    if waiting.meter is not None:
        meter = await look(hass, waiting.meter, UNIT_WATT)
        power = _working_power(meter.learned)
    return Costs(power=power, starts_per_hour=waiting.starts_per_hour)


def _propose(
    found: Found, levels: Thresholds, waiting: Waiting, costs: Costs
) -> WaitProposal | NoProposal:
    cuts = _cuts(levels, found.readings, found.until)
    observed = 0.0 if found.learned is None else found.learned.observed
    if not observed:
        return NoProposal.TOO_FEW_PAUSES
    return propose_wait(
        cuts, observed, costs, present=waiting.hold, before=waiting.shutoff_delay
    )


def _working_power(learned: Learned | None) -> float | None:
    """Return what a collector takes in while it runs, in W, as far as that shows."""
    if learned is None:
        return None
    for level in learned.found:
        if level.role is LevelRole.RUNNING:
            return level.typical
    return None
