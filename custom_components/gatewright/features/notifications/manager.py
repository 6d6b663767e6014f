"""Notifies one system's phones of alarms, the bin and the day's summary."""

import asyncio
from collections.abc import Callable
from datetime import datetime, time, timedelta
from functools import partial
import logging
from typing import Any, Final

from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.event import async_track_time_change
from homeassistant.helpers.start import async_at_started
from homeassistant.util import dt as dt_util, slugify

from ...const import DOMAIN
from ...core.control.alarms import AlarmKind, Condition
from ...core.statistics.summary import Period
from ...core.stored.phones import PhoneTopic, StoredPhones
from ...runtime.devices import collector_device_id
from ...runtime.events import AlarmNews
from ...runtime.system_context import SystemContext
from ...runtime.timer import Timer
from ...texts.alarm_texts import AlarmText
from ...texts.texts import Texts
from ..actions.occurrence import CONF_OCCURRENCE
from ..statistics.manager import StatisticsManager
from .issues import clear_unreachable, raise_unreachable
from .message import SERIOUS, Button, Message
from .on_show import OnShow
from .phones import is_ready, send
from .taps import DONE_BY, EVENT_TAPPED, Tap, action_of, tapped

_LOGGER = logging.getLogger(__name__)

_BIN: Final = (AlarmKind.BIN_FULL, AlarmKind.BIN_NEARLY_FULL)
_REMIND_AFTER: Final = 3600.0
_LOOK_AGAIN_AFTER: Final = 10.0
"""Seconds until an alarm is sent again: after "remind me later", and if it remains
although somebody reported the work as done."""


class NotificationManager:
    """What is sent to a system's phones."""

    def __init__(
        self, system: SystemContext, kept: Any, changed: Callable[[], None]
    ) -> None:
        """Send nothing yet; `kept` is what was on show, `changed` has it written."""
        self._system = system
        self._changed = changed
        self._on_show = OnShow.read(kept)
        self._unsubs: list[CALLBACK_TYPE] = []
        self._clock: CALLBACK_TYPE | None = None
        self._clock_at = ""
        self._reminders: dict[Condition, Timer] = {}
        self._turns: dict[str, asyncio.Lock] = {}
        self._unreached: set[str] = set()
        self._started = asyncio.Event()
        """Whether Home Assistant has started."""

    @property
    def settings(self) -> StoredPhones:
        """Whom to notify of what."""
        return self._system.described.system.phones

    # Life -----------------------------------------------------------------------

    @callback
    def start(self) -> None:
        """Follow alarms, taps and the clock, and go on with what was on show."""
        system = self._system
        self._unsubs = [
            system.announcer.listen(self._alarm),
            system.hass.bus.async_listen(EVENT_TAPPED, self._tap),
            system.on_replan(self._replanned),
            async_at_started(system.hass, self._hub_started),
        ]
        self._replanned()
        self._go_on()

    @callback
    def _go_on(self) -> None:
        """Take back what is over, and arm the reminders that stand."""
        on_show, standing = self._on_show, self._system.shop.alarms.standing
        for condition in [c for c in on_show.tags if c not in standing]:
            self._take_back(condition)
        now = dt_util.utcnow()
        for condition, due in on_show.reminders.items():
            # A clock that was set back in between puts nothing off.
            left = min(_REMIND_AFTER, (due - now).total_seconds())
            self._arm(condition, max(0.0, left))

    @callback
    def _hub_started(self, _hass: HomeAssistant) -> None:
        self._started.set()

    @callback
    def stop(self) -> None:
        """Unsubscribe from everything; what is on show is kept."""
        for timer in self._reminders.values():
            timer.disarm()
        self._reminders.clear()
        self._set_clock("")
        while self._unsubs:
            self._unsubs.pop()()

    def memory(self) -> dict[str, Any]:
        """Return what has to survive a restart."""
        return self._on_show.save()

    @callback
    def _replanned(self) -> None:
        """Apply changed settings."""
        settings = self.settings
        sends_summary = bool(settings.targets) and PhoneTopic.SUMMARY in settings.topics
        self._set_clock(settings.summary_at if sends_summary else "")
        for stored in self._unreached - {*settings.targets}:
            self._reached(stored)

    def _set_clock(self, at: str) -> None:
        if at == self._clock_at:
            return
        self._clock_at = at
        if self._clock is not None:
            self._clock()
            self._clock = None
        if at:
            when = time.fromisoformat(at)
            self._clock = async_track_time_change(
                self._system.hass,
                self._send_summary,
                hour=when.hour,
                minute=when.minute,
                second=when.second,
            )

    # Alarms ---------------------------------------------------------------------

    @callback
    def _alarm(self, news: AlarmNews) -> None:
        if news.raised:
            self._show(news.condition, news.text, news.occurrence)
        else:
            self._take_back(news.condition)

    def _take_back(self, condition: Condition) -> None:
        """Have what is shown of an alarm vanish, and remind of it no more."""
        if (timer := self._reminders.pop(condition, None)) is not None:
            timer.disarm()
        tag = self._on_show.end(condition)
        if tag is not None:
            self._send(Message(tag=tag))
        self._changed()

    def _show(self, condition: Condition, text: AlarmText, occurrence: str) -> None:
        settings, kind = self.settings, condition.kind
        topic = PhoneTopic.BIN if kind in _BIN else PhoneTopic.ALARMS
        if topic not in settings.topics or not settings.targets:
            return
        # One that is on show already is replaced, though its part was renamed since.
        tag = self._on_show.tags.setdefault(condition, self._tag(condition))
        self._changed()
        self._send(
            Message(
                tag=tag,
                title=text.title,
                # A phone shows plain text.
                text=text.description.replace("**", "") or text.title,
                buttons=self._buttons(kind, occurrence) if settings.buttons else (),
                urgent=kind in SERIOUS,
                critical=settings.critical and kind in SERIOUS,
            )
        )

    def _buttons(self, kind: AlarmKind, occurrence: str) -> tuple[Button, ...]:
        if kind not in DONE_BY:
            return ()
        texts = Texts.cached(self._system.hass)
        words = {
            Tap.DONE: "emptied" if kind in _BIN else "done",
            Tap.LATER: "later",
        }
        entry_id = self._system.entry.entry_id
        return tuple(
            Button(
                action=action_of(tap, entry_id, occurrence),
                title=texts("phone", word),
            )
            for tap, word in words.items()
        )

    def _tag(self, condition: Condition) -> str:
        system = self._system
        part = slugify(system.announcer.name(condition.part))
        return f"gatewright_{system.entry.entry_id}_{condition.kind}_{part}"

    # Taps -----------------------------------------------------------------------

    @callback
    def _tap(self, event: Event) -> None:
        """Record the work with the rights of whoever tapped, or remind later."""
        system = self._system
        found = tapped(event.data.get("action"), system.entry.entry_id)
        if found is None:
            return
        condition = system.announcer.occurrences.condition(found.occurrence)
        if condition is None or condition.kind not in DONE_BY:
            # It's over, or somebody else was faster.
            return
        if found.tap is Tap.LATER:
            self._remind(condition, _REMIND_AFTER)
            return
        system.entry.async_create_background_task(
            system.hass,
            self._note(condition, found.occurrence, event),
            "gatewright records work as done",
        )

    async def _note(self, condition: Condition, occurrence: str, event: Event) -> None:
        system = self._system
        data = {
            ATTR_DEVICE_ID: collector_device_id(system.hass, system.entry),
            CONF_OCCURRENCE: occurrence,
        }
        try:
            await system.hass.services.async_call(
                DOMAIN,
                DONE_BY[condition.kind],
                data,
                blocking=True,
                context=event.context,
            )
        except HomeAssistantError as err:
            _LOGGER.warning("A tap on a phone was not taken: %r", err)
            return
        self._remind(condition, _LOOK_AGAIN_AFTER)

    def _remind(self, condition: Condition, seconds: float) -> None:
        due = dt_util.utcnow() + timedelta(seconds=seconds)
        self._on_show.reminders[condition] = due
        self._changed()
        self._arm(condition, seconds)

    def _arm(self, condition: Condition, seconds: float) -> None:
        timer = self._reminders.get(condition)
        if timer is None:
            timer = self._reminders[condition] = Timer(
                self._system.hass,
                "gatewright reminds a phone",
                partial(self._send_again, condition),
            )
        timer.arm(seconds)

    @callback
    def _send_again(self, condition: Condition) -> None:
        """Send an alarm again that is still active."""
        announcer = self._system.announcer
        self._on_show.reminders.pop(condition, None)
        self._changed()
        if condition in self._system.shop.alarms.standing:
            occurrence = announcer.occurrences.of(condition)
            self._show(condition, announcer.text(condition), occurrence)

    # The day --------------------------------------------------------------------

    @callback
    def _send_summary(self, _now: datetime) -> None:
        """Send the day's summary, unless nothing ran."""
        system = self._system
        found = system.of(StatisticsManager).summary(Period.DAY)
        if found["shop"]["run_time"] <= 0:
            return
        title = Texts.cached(system.hass)("phone", "day", name=system.entry.title)
        tag = f"gatewright_{system.entry.entry_id}_day"
        self._send(Message(tag=tag, title=title, text=found["text"]))

    # Sending --------------------------------------------------------------------

    def _send(self, message: Message) -> None:
        for stored in self.settings.targets:
            self._system.entry.async_create_background_task(
                self._system.hass,
                self._send_to(stored, message),
                "gatewright notifies a phone",
            )

    async def _send_to(self, stored: str, message: Message) -> None:
        """Send a message after earlier ones; report a phone that can't be reached."""
        system = self._system
        async with self._turns.setdefault(stored, asyncio.Lock()):
            if not is_ready(system.hass, stored):
                # While Home Assistant starts, the phone may come after us.
                await self._started.wait()
            try:
                await send(system.hass, stored, message, system.entry.title)
            except Exception as err:  # noqa: BLE001 - whatever an integration raises
                if stored not in self._unreached:
                    _LOGGER.warning(
                        "%s can't notify a phone: %r", system.entry.title, err
                    )
                self._unreached.add(stored)
                raise_unreachable(system.hass, system.entry, stored)
            else:
                self._reached(stored)

    def _reached(self, stored: str) -> None:
        self._unreached.discard(stored)
        clear_unreachable(self._system.hass, self._system.entry, stored)
