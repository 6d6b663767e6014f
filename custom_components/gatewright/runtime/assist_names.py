"""Introduces new entities to the assistant: exposed, and by the names in use.

Only once, when an entity is created: what the owner makes of it stays.
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
"""Letters of a word that is likely to be found within others by chance."""

_EXPOSED = frozenset(
    {
        AIR,
        COLLECTOR_PHASE,
        RUNNING,
        ("binary_sensor", "problem"),
        ("sensor", "bin_fill"),
    }
)
"""Exposed beside the switches and covers that Home Assistant exposes."""

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
"""Further names: keys of texts that are filled with the name of the device.

A language with genders has one for each: which a machine has, nobody told us.
"""

_ELIDED = re.compile(r"\b(de la|du) (?=[aeiouyàâéèêîôû])", re.IGNORECASE)
"""Where French drops the article's vowel."""


@callback
def introduce(hass: HomeAssistant, entity_id: str, device_name: str) -> None:
    """Expose an entity that is new, and have it listen to further names.

    Nothing is done to settings and diagnostic entities, nor to what the owner had set
    up before it was removed and came back.
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
            # Two that listen to one name are both not understood.
            registry.async_update_entity(gate.entity_id, aliases=gate.aliases[1:])
    if kind not in _CALLED or list(entry.aliases) != [er.COMPUTED_NAME]:
        # Most have no further name; what is taken by others is long to look up.
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
    """Whether a machine of the same system has this name."""
    system = hass.config_entries.async_get_entry(entry.config_entry_id or "")
    return system is not None and any(
        subentry.subentry_type == SUBENTRY_MACHINE
        and subentry.title.casefold() == name.casefold()
        for subentry in system.subentries.values()
    )


def _gates_called(
    hass: HomeAssistant, entry: er.RegistryEntry, names: list[str]
) -> list[er.RegistryEntry]:
    """Return the gates of the same system that listen to their own and these names."""
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
    """Return the names that say something new and that nothing else listens to."""
    own = device_name.casefold()
    # "Saw gate gate" is what nobody says.
    return [
        name
        for name in names
        if name
        and name.casefold() != own
        and name not in in_use
        and not _stutters(name.casefold(), own)
    ]


def _stutters(spoken: str, device_name: str) -> bool:
    """Whether the name of the device says already what is added to it.

    As a word of its own or as part of one: "Absaugung am Bodenabsaugung".
    """
    added = spoken.replace(device_name, "", 1) if device_name in spoken else ""
    return any(
        word in device_name.split() or (len(word) > _SHORT and word in device_name)
        for word in added.split()
    )


@callback
def conceal(hass: HomeAssistant, entity_id: str) -> bool:
    """Take an entity that we wrap from the assistants that it is exposed to.

    Hidden, it would still be switched by voice, past the sequence. What it was exposed
    to is kept with it. Returns whether no assistant sees it now.
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
    """Expose an entity that is no longer ours as it was before."""
    registry = er.async_get(hass)
    entry = registry.async_get(entity_id)
    if entry is None:
        return
    ours: Mapping[str, Any] = entry.options.get(DOMAIN, {})
    revealed = [
        let_see(hass, assistant, entity_id)
        for assistant in ours.get(_CONCEALED_FROM, ())
    ]
    # What cannot be given back yet is remembered.
    if ours and all(revealed):
        registry.async_update_entity_options(entity_id, DOMAIN, None)
