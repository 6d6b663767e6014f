"""The collector's safety inputs: detectors, bin, compressed air, filter.

Their entities report a condition, or a pressure that is compared with a limit. A
detector's alarm stops everything until a person resets it; an unusable state changes
nothing.
"""

from collections.abc import Callable, Mapping

from homeassistant.core import (
    CALLBACK_TYPE,
    Event,
    EventStateChangedData,
    State,
    callback,
)
from homeassistant.helpers.event import async_track_state_change_event

from ..const import (
    CONF_AIR_SUPPLY,
    CONF_BIN_FULL,
    CONF_FILTER_PRESSURE,
    CONF_FIRE_DETECTORS,
    UNIT_PASCAL,
)
from ..core.config import COLLECTOR
from ..core.control.alarms import AlarmKind, Condition
from ..core.inputs import ConditionReported, DetectorReported
from .config_loader import EntitySource
from .decoding import NumberReader, read_flag
from .system_context import SystemContext

_RETURN = 0.05
"""The share of a limit by which a pressure has to recover before the alarm clears:
common practice, no source. Without it a pressure at its limit would raise and clear it
again and again."""


class SafetyInputs:
    """Listens to the safety inputs of one system's collector."""

    def __init__(
        self, system: SystemContext, bin_reported: Callable[[bool], None]
    ) -> None:
        """Start unsubscribed; `maintenance` evaluates whether the bin is full."""
        self._system = system
        self._bin_reported = bin_reported
        self._unsubs: list[CALLBACK_TYPE] = []
        self._detectors: set[str] = set()

    @callback
    def listen(self, watched: Mapping[str, tuple[EntitySource, ...]]) -> None:
        """Subscribe to these entities, by field, and read their present states."""
        self.close()
        for detector in self._detectors:
            self._system.handle(DetectorReported(detector, alarm=False))
        self._detectors = {s.stored for s in watched.get(CONF_FIRE_DETECTORS, ())}
        watching = self._system.described.system.watching
        for source in watched.get(CONF_FIRE_DETECTORS, ()):
            self._follow(source, self._detector(source.stored))
        self._limit(
            watched,
            CONF_BIN_FULL,
            lambda state, _: read_flag(state),
            self._bin_reported,
        )
        self._limit(
            watched,
            CONF_AIR_SUPPLY,
            _judge(watching.air_supply_low, low=True),
            self._condition(AlarmKind.AIR_SUPPLY_LOW),
        )
        self._limit(
            watched,
            CONF_FILTER_PRESSURE,
            _judge(watching.filter_limit, low=False),
            self._condition(AlarmKind.FILTER_PRESSURE_HIGH),
        )

    @callback
    def close(self) -> None:
        """Unsubscribe."""
        while self._unsubs:
            self._unsubs.pop()()

    def _limit(
        self,
        watched: Mapping[str, tuple[EntitySource, ...]],
        field: str,
        judge: Callable[[State | None, bool], bool | None],
        tell: Callable[[bool], None],
    ) -> None:
        """Subscribe to a field's entity; a missing one counts as off."""
        said = False

        def heard(state: State | None) -> None:
            nonlocal said
            if (now := judge(state, said)) is not None:
                said = now
                tell(said)

        source = next(iter(watched.get(field, ())), None)
        if source is None:
            tell(False)
        else:
            self._follow(source, heard)

    def _detector(self, detector: str) -> Callable[[State | None], None]:
        condition = Condition(AlarmKind.FIRE_SHUTDOWN, COLLECTOR)

        def heard(state: State | None) -> None:
            alarm = read_flag(state)
            if alarm and not self._system.sequence.fire_shutdown:
                # The last entity's alarm may still be active.
                self._system.announcer.begin_anew(condition)
            self._system.handle(DetectorReported(detector, alarm))

        return heard

    def _condition(self, kind: AlarmKind) -> Callable[[bool], None]:
        condition = Condition(kind, COLLECTOR)

        def tell(present: bool) -> None:
            self._system.handle(ConditionReported(condition, present))

        return tell

    def _follow(
        self, source: EntitySource, heard: Callable[[State | None], None]
    ) -> None:
        if source.entity_id is None:
            return

        @callback
        def changed(event: Event[EventStateChangedData]) -> None:
            heard(event.data["new_state"])

        heard(self._system.hass.states.get(source.entity_id))
        self._unsubs.append(
            async_track_state_change_event(self._system.hass, source.entity_id, changed)
        )


def _judge(
    limit: float | None, *, low: bool
) -> Callable[[State | None, bool], bool | None]:
    """Return an entity's condition: by a limit in Pa, or on as reported."""
    if limit is None:
        return lambda state, _: read_flag(state)
    read = NumberReader(UNIT_PASCAL)

    def judge(state: State | None, said: bool) -> bool | None:
        pressure = read(state)
        if pressure is None:
            return None
        if low:
            return pressure < limit * (1 + _RETURN if said else 1)
        # A gauge across the filter may be connected either way round.
        return abs(pressure) > limit * (1 - _RETURN if said else 1)

    return judge
