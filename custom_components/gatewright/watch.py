"""What watches over the collector: detectors, the bin, compressed air, the filter.

Their entities say that something is the case, or give a pressure that is held against
a limit. A detector that gives the alarm stops everything until a person resets it;
an entity that says nothing leaves things as they were.
"""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from homeassistant.core import (
    CALLBACK_TYPE,
    Event,
    EventStateChangedData,
    HomeAssistant,
    State,
    callback,
)
from homeassistant.helpers.event import async_track_state_change_event

from .const import (
    CONF_AIR_SUPPLY,
    CONF_BIN_FULL,
    CONF_EMERGENCY,
    CONF_FILTER_PRESSURE,
    UNIT_PASCAL,
)
from .planning import Source
from .shop.alarms import AlarmKind, Condition
from .shop.plan import COLLECTOR
from .sources import NumberReader, read_flag

if TYPE_CHECKING:
    from .engine import Engine

_RETURN = 0.05
"""Share of a limit by which a pressure has to come back before the alarm goes: common
practice, no source. Without it a pressure at its limit would come and go."""


class Watch:
    """Hears what watches over one system's collector."""

    def __init__(self, hass: HomeAssistant, engine: Engine) -> None:
        """Hear nothing yet."""
        self._hass = hass
        self._engine = engine
        self._unsubs: list[CALLBACK_TYPE] = []
        self._alarming: set[str] = set()

    @callback
    def listen(self, watched: Mapping[str, tuple[Source, ...]]) -> None:
        """Hear these entities, by the field they were entered in, and how they stand."""
        self.close()
        self._alarming.clear()
        watching = self._engine.described.system.watching
        for source in watched.get(CONF_EMERGENCY, ()):
            self._follow(source, self._detector(source.stored))
        self._limit(
            watched, CONF_BIN_FULL, lambda state, _: read_flag(state), self._bin
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

    @property
    def emergency(self) -> bool:
        """Whether a detector gives the alarm now."""
        return bool(self._alarming)

    def _limit(
        self,
        watched: Mapping[str, tuple[Source, ...]],
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
        def heard(state: State | None) -> None:
            alarm = read_flag(state)
            if alarm is False:
                self._alarming.discard(detector)
            elif alarm:
                self._alarming.add(detector)
                sequence = self._engine.sequence
                anew = not sequence.emergency
                sequence.set_emergency(True)
                if anew:
                    # The alarm of the last one may not have been taken back yet.
                    self._engine.announcer.begin_anew(
                        Condition(AlarmKind.EMERGENCY, COLLECTOR)
                    )

        return heard

    def _bin(self, full: bool) -> None:
        self._engine.upkeep.read_bin_sensor(full)

    def _condition(self, kind: AlarmKind) -> Callable[[bool], None]:
        condition = Condition(kind, COLLECTOR)

        def tell(present: bool) -> None:
            self._engine.shop.note_outside(condition, present=present)

        return tell

    def _follow(self, source: Source, heard: Callable[[State | None], None]) -> None:
        if source.entity_id is None:
            return

        @callback
        def changed(event: Event[EventStateChangedData]) -> None:
            heard(event.data["new_state"])
            self._engine.advance()

        heard(self._hass.states.get(source.entity_id))
        self._unsubs.append(
            async_track_state_change_event(self._hass, source.entity_id, changed)
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
