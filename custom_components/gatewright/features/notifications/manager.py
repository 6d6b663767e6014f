"""Notifies one system's phones of alarms, the bin and the day's summary."""

import asyncio
from datetime import datetime, time
from functools import partial
import logging
from typing import Final

from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.core import CALLBACK_TYPE, Event, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.event import async_track_time_change
from homeassistant.util import slugify

from ...const import DOMAIN
from ...core.control.alarms import AlarmKind, Condition
from ...core.statistics.summary import Period
from ...core.stored.phones import PhoneTopic, StoredPhones
from ...runtime.devices import hub_device_id
from ...runtime.events import AlarmNews
from ...runtime.system_context import SystemContext
from ...runtime.timer import Timer
from ...texts.alarm_texts import AlarmText
from ...texts.texts import Texts
from ..actions.occurrence import CONF_OCCURRENCE
from ..statistics.manager import StatisticsManager
from .issues import clear_unreachable, tell_unreachable
from .message import SERIOUS, Button, Message
from .phones import send
from .taps import DONE_BY, EVENT_TAPPED, Tap, action_of, tapped

_LOGGER = logging.getLogger(__name__)

_BIN: Final = (AlarmKind.BIN_FULL, AlarmKind.BIN_NEARLY_FULL)
_REMIND_AFTER: Final = 3600.0
_LOOK_AGAIN_AFTER: Final = 10.0
"""Seconds until an alarm is sent again: after "remind me later", and if it remains
although somebody reported the work as done."""


class NotificationManager:
    """What is sent to a system's phones."""

    def __init__(self, system: SystemContext) -> None:
        self._system = system
        self._unsubs: list[CALLBACK_TYPE] = []
        self._clock: CALLBACK_TYPE | None = None
        self._clock_at = ""
        self._shown: set[str] = set()
        """The tags of messages that phones may show."""
        self._reminders: dict[Condition, Timer] = {}
        self._turns: dict[str, asyncio.Lock] = {}
        self._unreached: set[str] = set()

    @property
    def settings(self) -> StoredPhones:
        """Whom to notify of what."""
        return self._system.described.system.phones

    # Life -----------------------------------------------------------------------

    @callback
    def start(self) -> None:
        """Subscribe to alarms, taps and the clock."""
        system = self._system
        name = system.announcer.name
        # Messages from before a restart can still be withdrawn.
        self._shown = {
            self._tag(condition.kind, name(condition.part))
            for condition in system.shop.alarms.standing
        }
        self._unsubs = [
            system.announcer.listen(self._alarm),
            system.hass.bus.async_listen(EVENT_TAPPED, self._tap),
            system.on_replan(self._replanned),
        ]
        self._replanned()

    @callback
    def stop(self) -> None:
        """Unsubscribe from everything."""
        for timer in self._reminders.values():
            timer.disarm()
        self._set_clock("")
        while self._unsubs:
            self._unsubs.pop()()

    @callback
    def _replanned(self) -> None:
        """Apply changed settings."""
        settings = self.settings
        tells = bool(settings.targets) and PhoneTopic.SUMMARY in settings.topics
        self._set_clock(settings.summary_at if tells else "")
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
                self._tell_day,
                hour=when.hour,
                minute=when.minute,
                second=when.second,
            )

    # Alarms ---------------------------------------------------------------------

    @callback
    def _alarm(self, news: AlarmNews) -> None:
        tag = self._tag(news.kind, news.part)
        if news.raised:
            self._show(news.kind, tag, news.text, news.occurrence)
        elif tag in self._shown:
            self._shown.discard(tag)
            self._send(Message(tag=tag))

    def _show(
        self, kind: AlarmKind, tag: str, text: AlarmText, occurrence: str
    ) -> None:
        settings = self.settings
        topic = PhoneTopic.BIN if kind in _BIN else PhoneTopic.ALARMS
        if topic not in settings.topics:
            return
        self._shown.add(tag)
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

    def _tag(self, kind: AlarmKind, part: str) -> str:
        return f"gatewright_{self._system.entry.entry_id}_{kind}_{slugify(part)}"

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
            "gatewright notes what was done",
        )

    async def _note(self, condition: Condition, occurrence: str, event: Event) -> None:
        system = self._system
        data = {
            ATTR_DEVICE_ID: hub_device_id(system.hass, system.entry),
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
        timer = self._reminders.get(condition)
        if timer is None:
            timer = self._reminders[condition] = Timer(
                self._system.hass,
                "gatewright reminds a phone",
                partial(self._tell_again, condition),
            )
        timer.arm(seconds)

    @callback
    def _tell_again(self, condition: Condition) -> None:
        """Send an alarm again that is still active."""
        announcer = self._system.announcer
        if condition not in self._system.shop.alarms.standing:
            return
        tag = self._tag(condition.kind, announcer.name(condition.part))
        occurrence = announcer.occurrences.of(condition)
        self._show(condition.kind, tag, announcer.text(condition), occurrence)

    # The day --------------------------------------------------------------------

    @callback
    def _tell_day(self, _now: datetime) -> None:
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
                "gatewright tells a phone",
            )

    async def _send_to(self, stored: str, message: Message) -> None:
        """Send a message after earlier ones; report a phone that can't be reached."""
        system = self._system
        async with self._turns.setdefault(stored, asyncio.Lock()):
            try:
                await send(system.hass, stored, message, system.entry.title)
            except Exception as err:  # noqa: BLE001 - whatever an integration raises
                if stored not in self._unreached:
                    _LOGGER.warning(
                        "%s can't tell a phone: %r", system.entry.title, err
                    )
                self._unreached.add(stored)
                tell_unreachable(system.hass, system.entry, stored)
            else:
                self._reached(stored)

    def _reached(self, stored: str) -> None:
        self._unreached.discard(stored)
        clear_unreachable(self._system.hass, self._system.entry, stored)
