"""All names in Home Assistant, looked up once for many new entities.

Setting up a thousand machines would otherwise read all names a thousand times.
"""

from collections import Counter
from collections.abc import Iterable
from typing import Final

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.util.hass_dict import HassKey

from ..const import DOMAIN
from .timer import Timer

_KEPT: Final = 5.0
"""Seconds until names are looked up anew: others add entities as well."""


class NamesInUse:
    """The names and aliases in use, regardless of case."""

    def __init__(self, hass: HomeAssistant) -> None:
        self._hass = hass
        self._names = Counter(
            state.name.casefold() for state in hass.states.async_all()
        )
        self._new: list[str] = []
        self._by_alias: dict[str, set[str]] = {}
        for entry in er.async_get(hass).entities.values():
            self._add(entry.entity_id, entry.aliases)

    def __contains__(self, name: str) -> bool:
        """Return whether a name is in use."""
        waiting = []
        for entity_id in self._new:
            # Its state is written after its introduction.
            if (state := self._hass.states.get(entity_id)) is None:
                waiting.append(entity_id)
            else:
                self._names[state.name.casefold()] += 1
        self._new = waiting
        folded = name.casefold()
        return folded in self._names or bool(self._by_alias.get(folded))

    def note_new(self, entity_id: str) -> None:
        """Add an entity's name once it has one."""
        self._new.append(entity_id)

    def note_aliases(
        self,
        entity_id: str,
        before: Iterable[str | er.ComputedNameType],
        after: Iterable[str | er.ComputedNameType],
    ) -> None:
        """Replace an entity's aliases."""
        for alias in before:
            if isinstance(alias, str):
                self._by_alias.get(alias.casefold(), set()).discard(entity_id)
        self._add(entity_id, after)

    def called(self, names: Iterable[str]) -> set[str]:
        """Return the entities with one of these as an alias."""
        return set().union(*(self._by_alias.get(name.casefold(), ()) for name in names))

    def _add(
        self, entity_id: str, aliases: Iterable[str | er.ComputedNameType]
    ) -> None:
        for alias in aliases:
            if isinstance(alias, str):
                self._by_alias.setdefault(alias.casefold(), set()).add(entity_id)


_KEY: HassKey[NamesInUse] = HassKey(f"{DOMAIN}_names_in_use")


@callback
def names_in_use(hass: HomeAssistant) -> NamesInUse:
    """Return the names, at most a few seconds old."""
    if (found := hass.data.get(_KEY)) is None:
        found = hass.data[_KEY] = NamesInUse(hass)

        def forget() -> None:
            hass.data.pop(_KEY, None)

        Timer(hass, "gatewright names in use", forget).arm(_KEPT)
    return found
