"""Says what to say instead, where somebody asks for a machine to be turned on.

A machine starts by its own switch only; what can be turned on is dust collection there.
The names of machines are listened to as long as nothing else goes by them: a lamp that is
called like a machine is turned on as ever.
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
"""What means something in a sentence for the hub to listen to."""


class MachineHints(NamesHeard):
    """Listens to "turn on the table saw" for one system's machines."""

    use = "hints"

    def __init__(self, system: SystemContext) -> None:
        """Listen to nothing yet."""
        super().__init__(system.hass)
        self._system = system

    @override
    async def start(self) -> None:
        await super().start()
        self._unsubs.append(self._system.on_replan(self.look))

    @override
    def names(self) -> Iterator[tuple[str, str]]:
        """Yield the machines that nothing else is called like, with their names."""
        # Looked up now: what was named a moment ago counts.
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
