"""Reads single entities from the recorder, in its own executor.

The event loop only waits. Instants are seconds since 1970 in UTC.
"""

from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any

from homeassistant.const import (
    ATTR_UNIT_OF_MEASUREMENT,
    COMPRESSED_STATE_ATTRIBUTES,
    COMPRESSED_STATE_LAST_UPDATED,
    COMPRESSED_STATE_STATE,
)
from homeassistant.core import HomeAssistant, State
from homeassistant.helpers.recorder import get_instance

from ...core.calibration.history import Interval, Reading
from ...core.simulation.simulation import Signal
from ...runtime.decoding import NumberReader

_NOTHING = {"unavailable", "unknown"}


def has_recorder(hass: HomeAssistant) -> bool:
    """Return whether Home Assistant records at all."""
    return "recorder" in hass.config.components


class Archive:
    """The recorded states between two instants."""

    def __init__(self, hass: HomeAssistant, begins: datetime, ends: datetime) -> None:
        self._hass = hass
        # States at the very beginning would fall between the state before and those
        # after.
        self._begins = begins - timedelta(milliseconds=1)
        self._ends = ends

    async def readings(self, entity_id: str, unit: str) -> list[Reading]:
        """Return a sensor's power or current readings, in W or A.

        Each in the unit that it had then, which may have changed since.
        """
        rows = await self._rows(entity_id, attributes=True)
        return await get_instance(self._hass).async_add_executor_job(
            _converted, rows, entity_id, unit
        )

    async def signal(self, entity_id: str, on: frozenset[str]) -> list[Signal]:
        """Return when an entity's state was one of `on`; None where it's unknown."""
        return [
            (
                row[COMPRESSED_STATE_LAST_UPDATED],
                None
                if row[COMPRESSED_STATE_STATE] in _NOTHING
                else row[COMPRESSED_STATE_STATE] in on,
            )
            for row in await self._rows(entity_id)
        ]

    async def states(self, entity_id: str) -> list[State]:
        """Return the recorded states with their attributes."""
        return await self._ask(entity_id, compressed=False, attributes=True)

    async def _rows(
        self, entity_id: str, *, attributes: bool = False
    ) -> list[dict[str, Any]]:
        return await self._ask(entity_id, compressed=True, attributes=attributes)

    async def _ask(
        self, entity_id: str, *, compressed: bool, attributes: bool
    ) -> list[Any]:
        # Not loaded before Home Assistant has a recorder.
        from homeassistant.components.recorder import history  # noqa: PLC0415

        def ask() -> list[Any]:
            found = history.get_significant_states(
                self._hass,
                self._begins,
                self._ends,
                [entity_id],
                significant_changes_only=False,
                minimal_response=not attributes,
                no_attributes=not attributes,
                compressed_state_format=compressed,
            )
            return found.get(entity_id, [])

        return await get_instance(self._hass).async_add_executor_job(ask)


def merged[A, B, R](
    one: Sequence[tuple[float, A]],
    other: Sequence[tuple[float, B]],
    put_together: Callable[[A | None, B | None], R],
) -> list[tuple[float, R]]:
    """Return two signals merged into one; None means "not reported yet"."""
    changes = sorted(
        [
            *((at, 0, value) for at, value in one),
            *((at, 1, value) for at, value in other),
        ],
        key=lambda entry: entry[:2],
    )
    last: list[Any] = [None, None]
    found: list[tuple[float, R]] = []
    for at, which, value in changes:
        last[which] = value
        found.append((at, put_together(last[0], last[1])))
    return found


def intervals(signal: Sequence[Signal], ends: float) -> tuple[Interval, ...]:
    """Return when a signal was on; unknown counts as off."""
    found: list[Interval] = []
    since: float | None = None
    for at, value in signal:
        if value and since is None:
            since = at
        elif not value and since is not None:
            if at > since:
                found.append((since, at))
            since = None
    if since is not None and ends > since:
        found.append((since, ends))
    return tuple(found)


def energy_within(
    readings: Sequence[Reading], on: Sequence[Interval], ends: float
) -> float | None:
    """Return the energy in J measured in W within intervals; None without any."""
    found = 0.0
    known = False
    place = 0
    for number, (begins, watts) in enumerate(readings):
        stops = readings[number + 1][0] if number + 1 < len(readings) else ends
        if watts is None:
            continue
        while place < len(on) and on[place][1] <= begins:
            place += 1
        look = place
        while look < len(on) and on[look][0] < stops:
            overlap = min(stops, on[look][1]) - max(begins, on[look][0])
            if overlap > 0:
                found += abs(watts) * overlap
                known = True
            look += 1
    return found if known else None


def _converted(
    rows: Sequence[dict[str, Any]], entity_id: str, unit: str
) -> list[Reading]:
    """Return rows as readings; a state without a number or a fitting unit is None."""
    found: list[Reading] = []
    factors: dict[str | None, float | None] = {}
    seen: Any = None
    factor: float | None = None
    for row in rows:
        # Rows with the same attributes share one dictionary.
        attributes = row[COMPRESSED_STATE_ATTRIBUTES]
        if attributes is not seen:
            seen = attributes
            recorded = attributes.get(ATTR_UNIT_OF_MEASUREMENT)
            if recorded not in factors:
                one = State(entity_id, "1", {ATTR_UNIT_OF_MEASUREMENT: recorded})
                factors[recorded] = NumberReader(unit)(one)
            factor = factors[recorded]
        value: float | None = None
        if factor is not None:
            with suppress(ValueError):
                value = float(row[COMPRESSED_STATE_STATE]) * factor
        found.append((row[COMPRESSED_STATE_LAST_UPDATED], value))
    return found
