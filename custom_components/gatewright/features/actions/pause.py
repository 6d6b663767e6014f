"""A pause of the automatic that ends by itself, also over a restart.

The core knows only whether the automatic is on. Here is kept when it has to be on
again: in a file of its own, because it is read when the system is already going.
"""

from datetime import UTC, datetime, timedelta

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.util import dt as dt_util
from homeassistant.util.hass_dict import HassKey

from ...const import DOMAIN
from ...core.config import COLLECTOR
from ...core.inputs import Mode, ModeSet
from ...runtime.errors import validation_error
from ...runtime.store import FileKind, KeptFile
from ...runtime.system_context import SystemContext
from ...runtime.timer import Timer

_DELAY = 1.0


class AutomaticPauses:
    """When the automatic of each system has to be on again, by config entry."""

    def __init__(self, hass: HomeAssistant) -> None:
        """Begin with none; `load` reads them."""
        self._file = KeptFile(hass, FileKind.PAUSES)
        self._until: dict[str, datetime] = {}
        self.of: dict[str, AutomaticPause] = {}

    async def load(self) -> None:
        """Read what was written last."""
        try:
            for entry_id, until in (await self._file.read() or {}).items():
                parsed = dt_util.parse_datetime(until, raise_on_error=True)
                self._until.setdefault(entry_id, dt_util.as_utc(parsed))
        except (OverflowError, TypeError, ValueError) as err:
            await self._file.put_aside(err)

    def until(self, entry_id: str) -> datetime | None:
        """Return when the pause of a system ends."""
        return self._until.get(entry_id)

    async def keep(self, entry_id: str, until: datetime) -> bool:
        """Keep the end of a pause; returns whether it is on disk now."""
        self._until[entry_id] = until
        await self._file.write(self._data())
        return await self._file.holds(self._data())

    @callback
    def forget(self, entry_id: str) -> None:
        """Forget the pause of a system."""
        if self._until.pop(entry_id, None) is not None:
            self._file.write_soon(self._data, _DELAY)

    def _data(self) -> dict[str, str]:
        return {entry: until.isoformat() for entry, until in self._until.items()}


_PAUSES: HassKey[AutomaticPauses] = HassKey(f"{DOMAIN}_pauses")


class AutomaticPause:
    """The pause of one system, while that is going."""

    def __init__(self, system: SystemContext, pauses: AutomaticPauses) -> None:
        self._system = system
        self._pauses = pauses
        self._timer = Timer(system.hass, "gatewright pause ends", self.end)
        self._unlisten = system.listen(COLLECTOR, self._changed)
        pauses.of[system.entry.entry_id] = self
        self._changed()
        self._arm()

    @property
    def until(self) -> datetime | None:
        """When the automatic will be on again by itself."""
        return self._pauses.until(self._system.entry.entry_id)

    async def begin(self, duration: timedelta | None) -> None:
        """Switch the automatic off, and on again after `duration` if there is one.

        Raises `ServiceValidationError` where the pause has begun, but its end would
        not outlast a restart.
        """
        entry_id = self._system.entry.entry_id
        self._timer.disarm()
        self._pauses.forget(entry_id)
        self._system.handle(ModeSet(Mode.AUTOMATIC, on=False))
        kept = duration is None or await self._pauses.keep(
            entry_id, datetime.now(UTC) + duration
        )
        self._system.tell((COLLECTOR,))
        self._arm()
        if not kept:
            raise validation_error("pause_not_kept", name=self._system.entry.title)

    @callback
    def end(self) -> None:
        """Switch the automatic on."""
        self._timer.disarm()
        self._pauses.forget(self._system.entry.entry_id)
        self._system.handle(ModeSet(Mode.AUTOMATIC, on=True))

    @callback
    def stop(self) -> None:
        """Keep the pause for the next load."""
        self._unlisten()
        self._timer.disarm()
        self._pauses.of.pop(self._system.entry.entry_id, None)

    @callback
    def _changed(self) -> None:
        """End with the automatic that somebody switched on before its time."""
        if self.until is not None and self._system.sequence.automatic:
            self._timer.disarm()
            self._pauses.forget(self._system.entry.entry_id)

    def _arm(self) -> None:
        if (until := self.until) is None:
            return
        left = (until - datetime.now(UTC)).total_seconds()
        if left <= 0:
            self.end()
            return
        # Counted from here on: a clock set back or forward changes nothing.
        self._timer.arm(left)


async def async_setup_pause(system: SystemContext) -> CALLBACK_TYPE:
    """Follow the pause of a system that is going; returns how to stop that."""
    hass = system.hass
    if (pauses := hass.data.get(_PAUSES)) is None:
        pauses = hass.data[_PAUSES] = AutomaticPauses(hass)
        await pauses.load()
    return AutomaticPause(system, pauses).stop


@callback
def forget_pause(hass: HomeAssistant, entry_id: str) -> None:
    """Forget the pause of a system that is removed."""
    if (pauses := hass.data.get(_PAUSES)) is not None:
        pauses.forget(entry_id)


@callback
def pause_of(system: SystemContext) -> AutomaticPause:
    """Return the pause of a system that is going."""
    return system.hass.data[_PAUSES].of[system.entry.entry_id]
