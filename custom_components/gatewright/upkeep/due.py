"""What is due, told as alarms, and what a person has done about it."""

from time import monotonic
from typing import TYPE_CHECKING, Final

from homeassistant.core import callback

from ..const import CONF_CLEANING
from ..shop.alarms import AlarmKind, Condition
from ..shop.plan import COLLECTOR
from ..shop.upkeep.forecast import Known, SeenBy
from ..shop.upkeep.keeper import NeedKind
from .settings import SERVICE_PREFIX

if TYPE_CHECKING:
    from .hub import UpkeepHub

_ALARMS: Final = {
    NeedKind.BIN_NEARLY_FULL: AlarmKind.BIN_NEARLY_FULL,
    # What a sensor says is told by the sequence; this is what was reckoned.
    NeedKind.BIN_FULL: AlarmKind.BIN_NEARLY_FULL,
    NeedKind.FILTER_CLEAN: AlarmKind.FILTER_CLEAN_DUE,
    NeedKind.FILTER_REPLACE: AlarmKind.FILTER_REPLACE_DUE,
    NeedKind.SERVICE_DUE: AlarmKind.SERVICE_DUE,
}

_BIN: Final = (NeedKind.BIN_NEARLY_FULL, NeedKind.BIN_FULL)


class Due:
    """The alarms of one system's upkeep."""

    def __init__(self, hub: UpkeepHub) -> None:
        """Tell nothing yet."""
        self._hub = hub
        self._told: set[Condition] = set()

    @callback
    def tell(self) -> None:
        """Raise what is due now, and take back what no longer is."""
        engine = self._hub.engine
        standing = self._standing()
        if standing == self._told:
            return
        for condition in self._told - standing:
            engine.shop.note_outside(condition, present=False)
        for condition in standing - self._told:
            engine.shop.note_outside(condition, present=True)
        self._told = standing
        engine.advance()

    @callback
    def answer(self, kind: AlarmKind, part: str) -> bool:
        """Note what a person has done about an alarm; False where it is not of ours."""
        hub = self._hub
        match kind:
            case AlarmKind.BIN_NEARLY_FULL:
                hub.bin_emptied()
            case AlarmKind.FILTER_CLEAN_DUE:
                hub.filter_cleaned()
            case AlarmKind.FILTER_REPLACE_DUE:
                hub.filter_replaced()
            case AlarmKind.SERVICE_DUE:
                hub.service_done(part.removeprefix(SERVICE_PREFIX))
            case _:
                return False
        return True

    def _standing(self) -> set[Condition]:
        hub = self._hub
        standing: set[Condition] = set()
        for need in hub.seen.needs:
            if need.kind in _BIN and self._bin_is_told_better():
                continue
            part = f"{SERVICE_PREFIX}{need.part}" if need.part else COLLECTOR
            standing.add(Condition(_ALARMS[need.kind], part))
        now = monotonic()
        for part, switch in hub.board.switches.items():
            if switch.faulty(now) or self._cleans_in_vain(part):
                standing.add(Condition(AlarmKind.UPKEEP_NOT_SWITCHING, part))
        return standing

    def _bin_is_told_better(self) -> bool:
        """Whether a sensor says that the bin is full, or will, and all else is a guess."""
        forecast = self._hub.seen.forecast
        guess = (
            forecast is not None
            and forecast.known is Known.GUESS
            and forecast.seen_by is not SeenBy.LEVEL_SENSOR
            and self._hub.engine.described.system.watching.bin_full is not None
        )
        return guess or self._hub.engine.sequence.bin.full

    def _cleans_in_vain(self, part: str) -> bool:
        cleaning = self._hub.keeper.cleaning
        if self._hub.engine.watcher is not None:
            return False
        its = self._hub.parts.get(CONF_CLEANING) == part
        return its and cleaning is not None and cleaning.failed
