"""Registers sentences with names in them, while the names are free.

A name that something else has is left to it: our sentences come before Home Assistant's
own.
"""

from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, Final

from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.start import async_at_started

from ...runtime.internals.changed import Internal, Reliance
from ...runtime.internals.sentence_triggers import listen
from ...runtime.timer import Timer
from .sentences import read_sentences

if TYPE_CHECKING:
    from ...runtime.internals.sentence_triggers import Handler

CONVERSATION: Final = "conversation"
_GATHERED: Final = 5.0
"""Seconds to collect changes of names."""


class NamesHeard(ABC):
    """Listens to sentences about names that are added, changed and removed."""

    use: str
    """What the sentences are for, in the repair after a changed release of Home Assistant."""

    def __init__(self, hass: HomeAssistant) -> None:
        self._hass = hass
        self._spoken: Mapping[str, Mapping[str, Any]] = {}
        self._heard: list[tuple[str, str]] = []
        self._stops: list[CALLBACK_TYPE] = []
        self._unsubs: list[CALLBACK_TYPE] = []
        self._later = Timer(hass, "gatewright looks for names", self.look)

    @abstractmethod
    def names(self) -> Iterator[tuple[str, str]]:
        """Yield the names to listen to now, each after a key of its kind."""

    @abstractmethod
    def sentences(
        self, language: str, spoken: Mapping[str, Any], key: str, name: str
    ) -> Iterable[tuple[list[str], Handler]]:
        """Return the sentences for a name in a language, and their handlers."""

    async def start(self) -> None:
        """Listen, and follow changes of names."""
        hass = self._hass
        self._spoken = await hass.async_add_executor_job(read_sentences)
        self._unsubs = [
            hass.bus.async_listen(er.EVENT_ENTITY_REGISTRY_UPDATED, self._renamed),
            # Everything has its name only then.
            async_at_started(hass, self._started),
        ]

    @callback
    def stop(self) -> None:
        """Stop listening."""
        self._later.disarm()
        while self._unsubs:
            self._unsubs.pop()()
        self._let_go()

    @callback
    def _started(self, _hass: HomeAssistant) -> None:
        self.look()

    @callback
    def _renamed(self, _event: Event[Any]) -> None:
        if not self._later.armed:
            self._later.arm(_GATHERED)

    @callback
    def look(self) -> None:
        """Listen to the present names."""
        hass = self._hass
        if CONVERSATION not in hass.config.components:
            return
        heard = [*self.names()]
        if heard == self._heard:
            return
        self._let_go()
        self._heard = heard
        with Reliance(hass, Internal.SENTENCES, self.use):
            for language, spoken in self._spoken.items():
                for key, name in heard:
                    for said, answer in self.sentences(language, spoken, key, name):
                        self._stops.append(listen(hass, said, answer))

    def _let_go(self) -> None:
        self._heard = []
        while self._stops:
            self._stops.pop()()
