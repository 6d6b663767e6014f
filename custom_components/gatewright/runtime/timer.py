"""Something that is due once, in a while, and can be put off or given up."""

from collections.abc import Callable
from datetime import datetime

from homeassistant.core import CALLBACK_TYPE, HassJob, HomeAssistant, callback
from homeassistant.helpers.event import async_call_later


class Timer:
    """Calls a function once the time is over for which it was armed last."""

    def __init__(
        self, hass: HomeAssistant, name: str, action: Callable[[], None]
    ) -> None:
        """Stand still; `name` is what Home Assistant calls it while it waits."""
        self._hass = hass
        self._job = HassJob(self._over, name, cancel_on_shutdown=True)
        self._action = action
        self._cancel: CALLBACK_TYPE | None = None

    @property
    def armed(self) -> bool:
        """Whether something is due."""
        return self._cancel is not None

    @callback
    def arm(self, seconds: float) -> None:
        """Call in so many seconds, in place of what was due."""
        self.disarm()
        self._cancel = async_call_later(self._hass, seconds, self._job)

    @callback
    def disarm(self) -> None:
        """Give up what is due."""
        if self._cancel is not None:
            self._cancel()
            self._cancel = None

    @callback
    def _over(self, _now: datetime) -> None:
        self._cancel = None
        self._action()
