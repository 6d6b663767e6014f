"""Finds old names in what an owner wrote: automations, scripts, dashboards, texts."""

from collections.abc import Iterable, Iterator, Mapping
import re
from typing import Any, Final

from ...const import DOMAIN
from .table import (
    ACTIONS,
    ALARMS,
    ANSWER_KEYS,
    CAUSES,
    COLLECTOR_PHASES,
    CONDITIONS,
    ENDINGS,
    FIELDS,
    GATE_SETS,
    INTENTS,
    MACHINE_PHASES,
    PHASES,
    REASONS,
    TRIGGERS,
    Renamed,
)

type Entities = Mapping[str, str]
"""Our entities' translation keys, by entity id."""

_NAMES: Final[Renamed] = {
    **{
        f"{DOMAIN}.{old}": f"{DOMAIN}.{new}"
        for table in (ACTIONS, TRIGGERS, CONDITIONS)
        for old, new in table.items()
    },
    **INTENTS,
}
"""Names that can only be ours."""

_SUMMARY: Final[Renamed] = {
    **ANSWER_KEYS,
    **REASONS,
    # A time of its own, and one of the reasons.
    **{
        old: f"{ANSWER_KEYS[old]}` / `{REASONS[old]}"
        for old in ANSWER_KEYS.keys() & REASONS.keys()
    },
}

_OF_ENTITIES: Final[Mapping[str, Renamed]] = {
    **PHASES,
    "alarm": ALARMS,
    "problem": ALARMS,
    "not_collecting_time": REASONS,
    "summary": ANSWER_KEYS,
    "time_to_air": ANSWER_KEYS,
}
"""The former states of our entities, by translation key."""

_OF_MENTIONS: Final[Mapping[str, Renamed]] = {
    # Triggers, by subject.
    f"{DOMAIN}.collector_phase_changed": COLLECTOR_PHASES,
    f"{DOMAIN}.machine_phase_changed": MACHINE_PHASES,
    f"{DOMAIN}.machine_finished": MACHINE_PHASES,
    f"{DOMAIN}.alarm_raised": ALARMS,
    f"{DOMAIN}.alarm_cleared": ALARMS,
    f"{DOMAIN}.bin_due": ALARMS,
    f"{DOMAIN}.filter_due": ALARMS,
    f"{DOMAIN}.summary_ready": ANSWER_KEYS,
    # Events.
    f"{DOMAIN}_alarm": ALARMS,
    f"{DOMAIN}_switching": CAUSES,
    f"{DOMAIN}_summary": _SUMMARY,
    # Actions, by fields and responses.
    f"{DOMAIN}.assess": GATE_SETS,
    f"{DOMAIN}.check_gates": ENDINGS,
    f"{DOMAIN}.reset_alarms": ALARMS,
    f"{DOMAIN}.request_air": {**ANSWER_KEYS, **MACHINE_PHASES},
    f"{DOMAIN}.withdraw_air": {**ANSWER_KEYS, **MACHINE_PHASES},
    f"{DOMAIN}.summary": _SUMMARY,
    f"{DOMAIN}.rehearse": {**ANSWER_KEYS, **FIELDS, **ALARMS},
}
"""Text around one of our names, wherever it's written."""

_ENTITY_ID: Final = re.compile(r"[a-z_]+\.[a-z0-9_]+")
_TEMPLATE: Final = re.compile(r"\{[{%].*?[%}]\}", re.DOTALL)
_WORD: Final = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


def old_names_in(config: Any, entities: Entities) -> dict[str, str]:
    """Return the old names in something written, each with the new one."""
    texts = tuple(texts_in(config))
    words = {word for text in texts for word in _words(text)}
    mentioned = {found for text in texts for found in _ENTITY_ID.findall(text)}
    return _found(words, mentioned | words, entities)


def old_names_in_text(text: str, entities: Entities) -> dict[str, str]:
    """Return the old names in a file, such as templates in YAML."""
    words = {*_WORD.findall(text), *_ENTITY_ID.findall(text)}
    return _found(words, words, entities)


def _found(
    words: Iterable[str], mentioned: Iterable[str], entities: Entities
) -> dict[str, str]:
    found: dict[str, str] = {}
    tables: list[Renamed] = []
    for name in mentioned:
        if (new := _NAMES.get(name)) is not None:
            found[name] = new
        if (key := entities.get(name, "")) in _OF_ENTITIES:
            tables.append(_OF_ENTITIES[key])
        if name in _OF_MENTIONS:
            tables.append(_OF_MENTIONS[name])
    for table in tables:
        found |= {word: table[word] for word in words if word in table}
    return dict(sorted(found.items()))


def entity_ids_in(config: Any) -> set[str]:
    """Return everything in something written that looks like an entity id."""
    return {found for text in texts_in(config) for found in _ENTITY_ID.findall(text)}


def texts_in(config: Any) -> Iterator[str]:
    """Yield every text in something written, including keys."""
    if isinstance(config, Mapping):
        for key, value in config.items():
            yield str(key)
            yield from texts_in(value)
    elif isinstance(config, list | tuple | set):
        for value in config:
            yield from texts_in(value)
    elif config is not None:
        yield str(config)


def _words(text: str) -> Iterator[str]:
    """Yield a one-word text, and the words of the templates in a longer one.

    Prose doesn't count: "the coasting took long" names no state.
    """
    yield text
    for template in _TEMPLATE.findall(text):
        yield from _WORD.findall(template)
