"""The guided minute: reads a sensor with its machine off, then running."""

import asyncio
from collections.abc import Callable

from homeassistant.core import (
    Event,
    EventStateChangedData,
    HomeAssistant,
    State,
    callback,
)
from homeassistant.helpers.event import (
    EventStateReportedData,
    async_track_state_change_event,
    async_track_state_report_event,
)
from homeassistant.util import dt as dt_util

from ...core.calibration.distribution import SCALES
from ...core.calibration.guided_minute import learn_guided
from ...core.calibration.history import Reading
from ...runtime.decoding import NumberReader
from .evaluation import Found, advice_of

OFF_TIME = 15.0
"""Seconds to watch the machine while it's off."""

WORK_TIME = 20.0
LONGEST_WAIT = 90.0
"""Seconds to watch it running, and the longest wait for that."""

_LOOK_EVERY = 0.5
_ROSE = 1.3
"""A reading this many times the highest one at rest means that the machine runs."""


class Listener:
    """Collects a sensor's reports, starting with its present reading."""

    def __init__(self, hass: HomeAssistant, entity_id: str, unit: str) -> None:
        self._hass = hass
        self._read = NumberReader(unit)
        self.began = dt_util.utcnow().timestamp()
        self.readings: list[Reading] = [
            (self.began, self._read(hass.states.get(entity_id)))
        ]
        self._unsubs = (
            async_track_state_change_event(hass, entity_id, self._changed),
            async_track_state_report_event(hass, entity_id, self._reported),
        )

    @callback
    def _changed(self, event: Event[EventStateChangedData]) -> None:
        self._note(event.data["new_state"])

    @callback
    def _reported(self, event: Event[EventStateReportedData]) -> None:
        self._note(event.data["new_state"])

    def _note(self, state: State | None) -> None:
        self.readings.append((dt_util.utcnow().timestamp(), self._read(state)))

    @callback
    def close(self) -> None:
        """Unsubscribe."""
        for unsub in self._unsubs:
            unsub()


class GuidedMinute:
    """One guided minute with one sensor."""

    def __init__(self, hass: HomeAssistant, entity_id: str, unit: str) -> None:
        self._hass = hass
        self._entity_id = entity_id
        self._unit = unit
        self._off: list[Reading] = []
        self._off_until = 0.0

    async def watch_off(self, progress: Callable[[float], None]) -> None:
        """Watch the machine while it's off; report `progress` from 0 to 1."""
        listener = Listener(self._hass, self._entity_id, self._unit)
        try:
            while (passed := dt_util.utcnow().timestamp() - listener.began) < OFF_TIME:
                progress(passed / OFF_TIME)
                await asyncio.sleep(_LOOK_EVERY)
        finally:
            listener.close()
        self._off = listener.readings
        self._off_until = dt_util.utcnow().timestamp()

    async def watch_on(self, progress: Callable[[float], None]) -> Found:
        """Watch the machine until it has run long enough; return the result.

        It may be turned on at any moment. If it isn't, the result says so.
        """
        rest = max(
            (abs(value) for _, value in self._off if value is not None), default=0.0
        )
        least = _ROSE * max(rest, SCALES[self._unit].floor)
        listener = Listener(self._hass, self._entity_id, self._unit)
        try:
            while True:
                now = dt_util.utcnow().timestamp()
                worked = _worked(listener.readings, least, now)
                if worked >= WORK_TIME or now - listener.began >= LONGEST_WAIT:
                    break
                progress(worked / WORK_TIME)
                await asyncio.sleep(_LOOK_EVERY)
        finally:
            listener.close()
        until = dt_util.utcnow().timestamp()
        learned = await self._hass.async_add_executor_job(
            lambda: learn_guided(
                self._off,
                listener.readings,
                self._unit,
                off_until=self._off_until,
                on_until=until,
            )
        )
        return Found(
            unit=self._unit,
            learned=learned,
            advice=advice_of(learned),
            until=until,
            guided=True,
        )


def _worked(readings: list[Reading], least: float, now: float) -> float:
    """Return for how many seconds in all the readings have been high."""
    ends = [at for at, _ in readings[1:]] + [now]
    return sum(
        end - at
        for (at, value), end in zip(readings, ends, strict=True)
        if value is not None and abs(value) > least
    )
