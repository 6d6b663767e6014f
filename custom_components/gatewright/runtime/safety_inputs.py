"""What watches over the collector: detectors, the bin, compressed air, the filter.

Their entities say that something is the case, or give a pressure that is held against
a limit. A detector that gives the alarm stops everything until a person resets it;
an entity that says nothing leaves things as they were.
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
"""Share of a limit by which a pressure has to come back before the alarm goes: common
practice, no source. Without it a pressure at its limit would come and go."""


class SafetyInputs:
    """Hears what watches over one system's collector."""

    def __init__(
        self, system: SystemContext, bin_reported: Callable[[bool], None]
    ) -> None:
        """Hear nothing yet; the maintenance knows best whether the bin is full."""
        self._system = system
        self._bin_reported = bin_reported
        self._unsubs: list[CALLBACK_TYPE] = []
        self._detectors: set[str] = set()

    @callback
    def listen(self, watched: Mapping[str, tuple[EntitySource, ...]]) -> None:
        """Hear these entities, by the field they were entered in, and how they stand."""
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
        """Stop hearing."""
        while self._unsubs:
            self._unsubs.pop()()

    def _limit(
        self,
        watched: Mapping[str, tuple[EntitySource, ...]],
        field: str,
        judge: Callable[[State | None, bool], bool | None],
        tell: Callable[[bool], None],
    ) -> None:
        """Follow the entity of a field; one that is not there any more says no."""
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
                # The alarm of the last one may not have been taken back yet.
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
    """Return how a state is judged: by a limit in Pa, or on as it says itself."""
    if limit is None:
        return lambda state, _: read_flag(state)
    read = NumberReader(UNIT_PASCAL)

    def judge(state: State | None, said: bool) -> bool | None:
        pressure = read(state)
        if pressure is None:
            return None
        if low:
            return pressure < limit * (1 + _RETURN if said else 1)
        # A gauge across the filter reads either way round.
        return abs(pressure) > limit * (1 - _RETURN if said else 1)

    return judge
