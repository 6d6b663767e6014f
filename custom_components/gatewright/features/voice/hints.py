"""Answers with a hint when somebody asks to turn on a machine.

A machine starts only at its own switch; only its dust collection can be turned on.
Machine names are listened to only while nothing else has the same name: a lamp named
like a machine is turned on as usual.
"""

from collections.abc import Iterator
from functools import partial
import re
from typing import TYPE_CHECKING, Any, Final

from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.start import async_at_started
from homeassistant.util.language import matches

from ...const import DOMAIN
from ...runtime.internals.changed import Internal, Reliance
from ...runtime.internals.sentence_triggers import listen
from ...runtime.names_in_use import NamesInUse
from ...runtime.system_context import SystemContext
from ...runtime.timer import Timer
from ...texts.spoken_texts import LANGUAGES, spoken_texts
from .sentences import read_sentences

if TYPE_CHECKING:
    from hassil.recognize import RecognizeResult
    from homeassistant.components.conversation import ConversationInput

_CONVERSATION: Final = "conversation"
_USE: Final = "hints"
_SLOT: Final = "{gatewright_machine}"
_MARKS: Final = re.compile(r"[\[\](){}<>|:\\]")
"""Characters with a meaning in a trigger's sentence."""
_GATHERED: Final = 5.0
"""Seconds to collect changes of names."""


class MachineHints:
    """Listens to "turn on the table saw" for one system's machines."""

    def __init__(self, system: SystemContext) -> None:
        self._system = system
        self._said: dict[str, list[str]] = {}
        self._heard: list[tuple[str, str]] = []
        self._stops: list[CALLBACK_TYPE] = []
        self._unsubs: list[CALLBACK_TYPE] = []
        self._later = Timer(
            system.hass, "gatewright looks for names of machines", self._look
        )

    async def start(self) -> None:
        """Listen, and follow changes of names."""
        hass = self._system.hass
        spoken = await hass.async_add_executor_job(read_sentences)
        self._said = {language: said["hints"] for language, said in spoken.items()}
        self._unsubs = [
            self._system.on_replan(self._look),
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
        self._look()

    @callback
    def _renamed(self, _event: Event[Any]) -> None:
        if not self._later.armed:
            self._later.arm(_GATHERED)

    @callback
    def _look(self) -> None:
        """Listen to the machines' present names."""
        hass = self._system.hass
        if _CONVERSATION not in hass.config.components:
            return
        heard = [*self._names()]
        if heard == self._heard:
            return
        self._let_go()
        self._heard = heard
        with Reliance(hass, Internal.SENTENCES, _USE):
            for language, hints in self._said.items():
                for machine_id, name in heard:
                    said = _MARKS.sub(" ", name)
                    sentences = [hint.replace(_SLOT, said) for hint in hints]
                    answer = partial(self._answer, machine_id, language)
                    self._stops.append(listen(hass, sentences, answer))

    def _let_go(self) -> None:
        self._heard = []
        while self._stops:
            self._stops.pop()()

    def _names(self) -> Iterator[tuple[str, str]]:
        """Yield the machines whose name is unique, with their names."""
        # Looked up now, so that a recent new name counts.
        taken = NamesInUse(self._system.hass)
        for machine_id, machine in self._system.described.machines.items():
            name = " ".join(machine.name.split())
            if machine.sensor is not None and name not in taken:
                yield machine_id, name

    async def _answer(
        self,
        machine_id: str,
        own: str,
        said: ConversationInput,
        _caught: RecognizeResult,
    ) -> str | None:
        system = self._system
        language = said.language if matches(said.language, LANGUAGES) else own
        texts = await spoken_texts(system.hass, language)
        name = system.announcer.name(machine_id)
        registry = er.async_get(system.hass)
        request = registry.async_get_entity_id(
            "switch", DOMAIN, f"{machine_id}_request"
        )
        aliases = () if request is None else registry.entities[request].aliases
        known = [alias for alias in aliases if isinstance(alias, str)]
        if not known:
            return texts("machine_only", name=name)
        return texts("machine_hint", name=name, say=known[0])
