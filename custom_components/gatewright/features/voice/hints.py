"""Answers with a hint when somebody asks to turn on a machine.

A machine starts only at its own switch; only its dust collection can be turned on.
Machine names are listened to only while nothing else has the same name: a lamp named
like a machine is turned on as usual.
"""

from collections.abc import Iterable, Iterator, Mapping
from functools import partial
import re
from typing import TYPE_CHECKING, Any, Final, override

from homeassistant.helpers import entity_registry as er
from homeassistant.util.language import matches

from ...const import DOMAIN
from ...runtime.names_in_use import NamesInUse
from ...runtime.system_context import SystemContext
from ...texts.spoken_texts import LANGUAGES, spoken_texts
from .names_heard import NamesHeard

if TYPE_CHECKING:
    from hassil.recognize import RecognizeResult
    from homeassistant.components.conversation import ConversationInput

    from ...runtime.internals.sentence_triggers import Handler

_SLOT: Final = "{gatewright_machine}"
_MARKS: Final = re.compile(r"[\[\](){}<>|:\\]")
"""Characters with a meaning in a trigger's sentence."""


class MachineHints(NamesHeard):
    """Listens to "turn on the table saw" for one system's machines."""

    use = "hints"

    def __init__(self, system: SystemContext) -> None:
        super().__init__(system.hass)
        self._system = system

    @override
    async def start(self) -> None:
        """Listen, and follow changes of names."""
        await super().start()
        self._unsubs.append(self._system.on_replan(self.look))

    @override
    def names(self) -> Iterator[tuple[str, str]]:
        """Yield the machines whose name is unique, with their names."""
        # Looked up now, so that a recent new name counts.
        taken = NamesInUse(self._system.hass)
        for machine_id, machine in self._system.described.machines.items():
            name = " ".join(machine.name.split())
            if machine.sensor is not None and name not in taken:
                yield machine_id, name

    @override
    def sentences(
        self, language: str, spoken: Mapping[str, Any], key: str, name: str
    ) -> Iterable[tuple[list[str], Handler]]:
        said = _MARKS.sub(" ", name)
        hints = [hint.replace(_SLOT, said) for hint in spoken["hints"]]
        return [(hints, partial(self._answer, key, language))]

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
