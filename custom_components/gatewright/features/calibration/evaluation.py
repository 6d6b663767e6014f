"""Evaluates the history of a machine's sensor."""

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
"""The usual shut-off delay in s; none below it is proposed."""

FIGURES = (CONF_START, CONF_STOP, CONF_START_CONFIRM, CONF_STOP_CONFIRM)
"""The levels and confirmation times in a machine's data."""

_DIGITS = {UNIT_WATT: 1, UNIT_AMPERE: 3}
"""Decimals of a level: enough to tell two levels of that unit apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The result for a sensor that reads in `unit`.

    `learned` is None if there was nothing to learn from, for the reason `nothing`.
    `advice` follows from the plug's reporting. `readings` are the evaluated ones, up to
    `until`, in s since 1970; None for a guided minute, which sets `guided`.
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
        """Return the proposed levels and times as a machine's data, if any."""
        if self.learned is None or self.learned.proposal is None:
            return None
        return figures_of(self.learned.proposal.levels, self.unit)

    @property
    def certain(self) -> dict[str, float | None]:
        """Return the level that needs no confirmation, as a machine's data has it."""
        if self.learned is None:
            return {}
        return certain_of(self.learned, self.unit)


def certain_of(learned: Learned, unit: str) -> dict[str, float | None]:
    """Return a proposal's certain level as stored; None if none is proven."""
    if learned.proposal is None:
        return {}
    level = learned.proposal.certain_level
    return {CONF_CERTAIN: None if level is None else round(level, _DIGITS[unit])}


def figures_of(levels: Thresholds, unit: str) -> dict[str, float]:
    """Return levels and confirmation times as stored."""
    digits = _DIGITS[unit]
    return {
        CONF_START: round(levels.start, digits),
        CONF_STOP: round(levels.stop, digits),
        CONF_START_CONFIRM: levels.start_confirm,
        CONF_STOP_CONFIRM: levels.stop_confirm,
    }


def without_stale_certain(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return a machine's data without a certain level below its start level.

    It was entered for other levels and means nothing with new ones. A start level left
    empty may get any value.
    """
    certain, start = data.get(CONF_CERTAIN), data.get(CONF_START)
    stale = certain is not None and (start is None or certain < start)
    return {key: data[key] for key in data if not (stale and key == CONF_CERTAIN)}


def levels_of(machine: StoredMachine) -> Thresholds:
    """Return the stored levels of a machine with a reading."""
    return Thresholds(
        start=machine.start,
        stop=machine.stop,
        start_confirm=machine.start_confirm,
        stop_confirm=machine.stop_confirm,
        certain=machine.certain,
    )


def stored_figures(machine: StoredMachine) -> dict[str, float]:
    """Return a machine's levels and confirmation times as stored."""
    levels = levels_of(machine)
    figures = levels.start, levels.stop, levels.start_confirm, levels.stop_confirm
    return dict(zip(FIGURES, figures, strict=True))


async def look(hass: HomeAssistant, entity_id: str, unit: str) -> Found:
    """Evaluate the recorded history of a machine's sensor."""
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
    """Return advice on the sensor's reporting interval with the proposed levels."""
    if learned.proposal is None:
        return ()
    return advise(learned.pace, learned.proposal.levels)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """The present wait after a cut, and what it costs.

    `hold` and `shutoff_delay` are in s, `meter` the collector's power sensor if it has
    one, `starts_per_hour` the motor's limit.
    """

    hold: float
    shutoff_delay: float
    meter: str | None = None
    starts_per_hour: float | None = None


async def look_at_pauses(
    hass: HomeAssistant, found: Found, levels: Thresholds, waiting: Waiting
) -> WaitProposal | NoProposal:
    """Return the best hold for a machine's recorded cuts."""
    costs = await _costs(hass, waiting)
    return await hass.async_add_executor_job(_propose, found, levels, waiting, costs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensed:
    """A machine's sensor and what its readings mean; `hold` in s."""

    sensor: str
    unit: str
    levels: Thresholds
    hold: float


async def look_at_demand(
    hass: HomeAssistant, machines: Iterable[Sensed], waiting: Waiting
) -> WaitProposal | NoProposal:
    """Return the best shut-off delay for the whole shop.

    `waiting` has the present shut-off delay; each machine's hold is part of the demand.
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
            # Only the owner knows how long the ducts need to empty: never less than the
            # usual time, nor than the chosen one.
            least=max(waiting.shutoff_delay, LEAST_SHUTOFF_DELAY),
        )
    )


def _cuts(
    levels: Thresholds, readings: Sequence[Reading], until: float
) -> list[Interval]:
    # A lost reading doesn't count here: what isn't known is no cut.
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
    """Return the collector's running power in W, as far as it's measured."""
    if learned is None:
        return None
    for level in learned.found:
        if level.role is LevelRole.RUNNING:
            return level.typical
    return None
