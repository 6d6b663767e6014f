"""A pause of the automatic mode that ends on time, even across a restart.

The core knows only whether the automatic mode is on. When it has to be on again is kept
here, in a file of its own: it is read while the system already runs.
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
    """When each system's automatic mode resumes, by config entry."""

    def __init__(self, hass: HomeAssistant) -> None:
        self._file = KeptFile(hass, FileKind.PAUSES)
        self._until: dict[str, datetime] = {}
        self.of: dict[str, AutomaticPause] = {}

    async def load(self) -> None:
        """Load the stored pauses."""
        try:
            for entry_id, until in (await self._file.read() or {}).items():
                parsed = dt_util.parse_datetime(until, raise_on_error=True)
                self._until.setdefault(entry_id, dt_util.as_utc(parsed))
        except (OverflowError, TypeError, ValueError) as err:
            await self._file.put_aside(err)

    def until(self, entry_id: str) -> datetime | None:
        """Return when a system's pause ends."""
        return self._until.get(entry_id)

    async def keep(self, entry_id: str, until: datetime) -> bool:
        """Store the end of a pause; return whether it's on disk now."""
        self._until[entry_id] = until
        await self._file.write(self._data())
        return await self._file.holds(self._data())

    @callback
    def forget(self, entry_id: str) -> None:
        """Delete a system's pause."""
        if self._until.pop(entry_id, None) is not None:
            self._file.write_soon(self._data, _DELAY)

    def _data(self) -> dict[str, str]:
        return {entry: until.isoformat() for entry, until in self._until.items()}


_PAUSES: HassKey[AutomaticPauses] = HassKey(f"{DOMAIN}_pauses")


class AutomaticPause:
    """The pause of one loaded system."""

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
        """When the automatic mode resumes."""
        return self._pauses.until(self._system.entry.entry_id)

    async def begin(self, duration: timedelta | None) -> None:
        """Turn the automatic mode off, and on again after `duration` if there is one.

        Raises `ServiceValidationError` if the pause has begun but its end would not
        survive a restart.
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
        """Turn the automatic mode on."""
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
        """End the pause if somebody turned the automatic mode on early."""
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
        # Counted from now on, so a change of the wall clock has no effect.
        self._timer.arm(left)


async def async_setup_pause(system: SystemContext) -> CALLBACK_TYPE:
    """Manage the pause of a loaded system; return a function that stops this."""
    hass = system.hass
    if (pauses := hass.data.get(_PAUSES)) is None:
        pauses = hass.data[_PAUSES] = AutomaticPauses(hass)
        await pauses.load()
    return AutomaticPause(system, pauses).stop


@callback
def forget_pause(hass: HomeAssistant, entry_id: str) -> None:
    """Delete the pause of a removed system."""
    if (pauses := hass.data.get(_PAUSES)) is not None:
        pauses.forget(entry_id)


@callback
def pause_of(system: SystemContext) -> AutomaticPause:
    """Return the pause of a loaded system."""
    return system.hass.data[_PAUSES].of[system.entry.entry_id]
