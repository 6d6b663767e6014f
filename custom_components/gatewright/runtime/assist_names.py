"""Introduces new entities to the assistant: exposes them, and adds common names.

Only once, when an entity is created: later changes belong to the owner.
"""

from collections.abc import Iterable, Mapping
import re
from typing import Any

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from ..const import DOMAIN, SUBENTRY_MACHINE
from ..texts.spoken_texts import SpokenTexts
from .entity_lookup import AIR, COLLECTOR_PHASE, GATE, REQUEST, RUNNING
from .internals.exposure import let_see, seen_by, sees_new
from .names_in_use import NamesInUse, names_in_use

ASSISTANT = "conversation"

_CONCEALED_FROM = "concealed_from"

_SHORT = 3
"""Letters of a word that others may contain by chance."""

_EXPOSED = frozenset(
    {
        AIR,
        COLLECTOR_PHASE,
        RUNNING,
        ("binary_sensor", "problem"),
        ("sensor", "bin_fill"),
    }
)
"""Exposed besides the switches and covers that Home Assistant exposes."""

_CALLED = {
    GATE: ("called_gate", "called_gate_2", "called_gate_3"),
    ("switch", "collector"): (
        "called_collector",
        "called_collector_short",
        "called_collector_2",
    ),
    REQUEST: ("called_air", "called_air_2", "called_air_3", "called_air_4"),
    ("sensor", "bin_fill"): ("called_bin",),
}
"""Aliases: keys of texts that are filled with the device's name.

A language with genders has one for each, because a machine's gender is unknown.
"""

_ELIDED = re.compile(r"\b(de la|du) (?=[aeiouyàâéèêîôû])", re.IGNORECASE)
"""Where French elides the article."""


@callback
def introduce(hass: HomeAssistant, entity_id: str, device_name: str) -> None:
    """Expose a new entity, and add its aliases.

    Configuration and diagnostic entities are left alone, and so is what the owner had
    set up before the entity was removed and came back.
    """
    registry = er.async_get(hass)
    entry = registry.async_get(entity_id)
    if entry is None or entry.entity_category is not None or entry.hidden:
        return
    kind = (entry.domain, entry.translation_key or "")
    if (
        kind in _EXPOSED
        and ASSISTANT not in entry.options
        and sees_new(hass, ASSISTANT)
    ):
        let_see(hass, ASSISTANT, entity_id)
    texts = SpokenTexts(hass, hass.config.language)
    in_use = names_in_use(hass)
    in_use.note_new(entity_id)
    if kind == REQUEST:
        for gate in _gates_called(hass, entry, _called(texts, GATE, device_name)):
            # With two entities of one name, neither is understood.
            registry.async_update_entity(gate.entity_id, aliases=gate.aliases[1:])
    if kind not in _CALLED or list(entry.aliases) != [er.COMPUTED_NAME]:
        # Most entities have no alias; what others have taken is slow to look up.
        return
    called = _called(texts, kind, device_name)
    if fresh := _free(in_use, called, device_name):
        listens: list[str | er.ComputedNameType] = [er.COMPUTED_NAME, *fresh]
        if kind == GATE and _machine_is_called(hass, entry, device_name):
            listens = list(fresh)
        registry.async_update_entity(entity_id, aliases=listens)
        in_use.note_aliases(entity_id, entry.aliases, listens)


def _called(texts: SpokenTexts, kind: tuple[str, str], device_name: str) -> list[str]:
    called = [texts(key, name=device_name) for key in _CALLED[kind]]
    return [*dict.fromkeys(_ELIDED.sub("de l'", name) for name in called)]


def _machine_is_called(hass: HomeAssistant, entry: er.RegistryEntry, name: str) -> bool:
    """Return whether a machine of the same system has this name."""
    system = hass.config_entries.async_get_entry(entry.config_entry_id or "")
    return system is not None and any(
        subentry.subentry_type == SUBENTRY_MACHINE
        and subentry.title.casefold() == name.casefold()
        for subentry in system.subentries.values()
    )


def _gates_called(
    hass: HomeAssistant, entry: er.RegistryEntry, names: list[str]
) -> list[er.RegistryEntry]:
    """Return the gates of the same system that have their own and these names."""
    registry = er.async_get(hass)
    candidates = (registry.async_get(each) for each in names_in_use(hass).called(names))
    return [
        other
        for other in candidates
        if other is not None
        and other.config_entry_id == entry.config_entry_id
        and (other.domain, other.translation_key) == GATE
        and er.COMPUTED_NAME in other.aliases[:1]
        and {*other.aliases[1:]} <= {*names}
    ]


def _free(in_use: NamesInUse, names: Iterable[str], device_name: str) -> list[str]:
    """Return the names that add something and that nothing else has."""
    own = device_name.casefold()
    # Nobody says "saw gate gate".
    return [
        name
        for name in names
        if name
        and name.casefold() != own
        and name not in in_use
        and not _stutters(name.casefold(), own)
    ]


def _stutters(spoken: str, device_name: str) -> bool:
    """Return whether a device's name already contains what an alias adds.

    As a word or as part of one: "Absaugung am Bodenabsaugung".
    """
    added = spoken.replace(device_name, "", 1) if device_name in spoken else ""
    return any(
        word in device_name.split() or (len(word) > _SHORT and word in device_name)
        for word in added.split()
    )


@callback
def conceal(hass: HomeAssistant, entity_id: str) -> bool:
    """Hide an entity that we wrap from the assistants that it's exposed to.

    Even if hidden, it could be turned on by voice, past the sequence. Its earlier
    exposure is stored with it. Returns whether no assistant sees it now.
    """
    seen = seen_by(hass, entity_id)
    if seen is None:
        return False
    concealed = [
        assistant
        for assistant in seen
        if let_see(hass, assistant, entity_id, may=False)
    ]
    if concealed:
        er.async_get(hass).async_update_entity_options(
            entity_id, DOMAIN, {_CONCEALED_FROM: concealed}
        )
    return concealed == seen


@callback
def reveal(hass: HomeAssistant, entity_id: str) -> None:
    """Restore the exposure of an entity that is no longer ours."""
    registry = er.async_get(hass)
    entry = registry.async_get(entity_id)
    if entry is None:
        return
    ours: Mapping[str, Any] = entry.options.get(DOMAIN, {})
    revealed = [
        let_see(hass, assistant, entity_id)
        for assistant in ours.get(_CONCEALED_FROM, ())
    ]
    # Keep what can't be restored yet.
    if ours and all(revealed):
        registry.async_update_entity_options(entity_id, DOMAIN, None)
