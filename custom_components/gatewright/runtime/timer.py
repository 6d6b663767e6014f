"""A one-time callback that can be postponed or canceled."""

from collections.abc import Callable
from datetime import datetime

from homeassistant.core import CALLBACK_TYPE, HassJob, HomeAssistant, callback
from homeassistant.helpers.event import async_call_later


class Timer:
    """Calls a function when the time of the last `arm` is over."""

    def __init__(
        self, hass: HomeAssistant, name: str, action: Callable[[], None]
    ) -> None:
        """Wait for `arm`; `name` is its name in Home Assistant."""
        self._hass = hass
        self._job = HassJob(self._over, name, cancel_on_shutdown=True)
        self._action = action
        self._cancel: CALLBACK_TYPE | None = None

    @property
    def armed(self) -> bool:
        """Whether a call is pending."""
        return self._cancel is not None

    @callback
    def arm(self, seconds: float) -> None:
        """Call in this many seconds, in place of a pending call."""
        self.disarm()
        self._cancel = async_call_later(self._hass, seconds, self._job)

    @callback
    def disarm(self) -> None:
        """Cancel a pending call."""
        if self._cancel is not None:
            self._cancel()
            self._cancel = None

    @callback
    def _over(self, _now: datetime) -> None:
        self._cancel = None
        self._action()
