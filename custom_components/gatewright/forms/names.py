"""Names of machines and gates, and guesses from them."""

from collections.abc import Collection, Iterable, Mapping
import re
import unicodedata

from homeassistant.core import HomeAssistant

from ..const import DOMAIN
from ..core.kinds import ActuatorSort, MachineKind
from .form_errors import FormErrors
from .name_words import (
    ACTUATOR_WORDS,
    GATE_ENDING,
    GATE_WORDS,
    KIND_WORDS,
    LINKS,
    METER_WORDS,
    SORT_WORDS,
    folded,
)
from .sensor_description import name_of

_PROPOSED = 90
"""The longest proposed name, with room for a number."""

NAME_LENGTH = 100
"""The longest name that fits on a screen and in a sentence."""

NAME_ERRORS = {"name_missing", "name_too_long", "name_marks", "name_used"}
"""The error codes of a name."""

_UNSEEN = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Unicode's categories of control characters, surrogates and line breaks."""

_DIRECTION = frozenset(
    "\u061c\u200b\u200e\u200f\u202a\u202b\u202c\u202d\u202e"
    "\u2060\u2066\u2067\u2068\u2069\ufeff"
)
"""Direction marks and zero-width characters. With them two names look alike, and the
text after a name reads backwards. Joiners of letters and emoji are allowed."""

_ALIKE = 4
"""The least length of a gate's word within a machine's."""


def machine_name(hass: HomeAssistant, entity_id: str) -> str:
    """Return a machine's name from its plug's: "Planer plug power" gives "Planer"."""
    return _without(name_of(hass, entity_id), METER_WORDS)


def gate_name(hass: HomeAssistant, entity_id: str) -> str:
    """Return a gate's name from its actuator's or contact's."""
    return _without(name_of(hass, entity_id), ACTUATOR_WORDS)


def _without(name: str, words: re.Pattern[str]) -> str:
    """Remove words from both ends of a name, unless nothing would be left."""
    seen = "".join(mark for mark in name if not _unseen(mark))
    parts = seen.replace("_", " ").split()
    kept = _taken_off(_taken_off(parts, words)[::-1], words)[::-1]
    text = " ".join(kept or parts)[:_PROPOSED].rstrip()
    return text[:1].upper() + text[1:]


def _taken_off(parts: list[str], words: re.Pattern[str]) -> list[str]:
    """Remove words from the end, and what links them with the rest."""
    kept = list(parts)
    while kept and (
        words.fullmatch(folded(kept[-1]))
        or (len(kept) < len(parts) and LINKS.fullmatch(folded(kept[-1])))
    ):
        kept.pop()
    return kept


def is_usable(name: str, mistakes: FormErrors, field: str) -> bool:
    """Return whether a name can be shown and spoken; note its error."""
    if len(name) > NAME_LENGTH:
        mistakes.add(field, "name_too_long")
    elif any(map(_unseen, name)):
        mistakes.add(field, "name_marks")
    else:
        return True
    return False


def _unseen(mark: str) -> bool:
    return unicodedata.category(mark) in _UNSEEN or mark in _DIRECTION


def guess_kind(name: str) -> MachineKind:
    """Return the kind of machine that a name suggests, or other."""
    plain = folded(name)
    for kind, words in KIND_WORDS:
        if re.search(words, plain):
            return kind
    return MachineKind.OTHER


def guess_sort(name: str) -> ActuatorSort:
    """Return the kind of actuator that its name suggests, or other."""
    for sort, words in SORT_WORDS:
        if re.search(words, folded(name)):
            return sort
    return ActuatorSort.OTHER


def guess_gates(
    name: str, gates: Mapping[str, str], others: Iterable[str] = ()
) -> list[str]:
    """Return the gates whose names suggest that they are a machine's.

    `gates` are names by id, `others` those of the shop's other machines. A gate that
    names several machines belongs to each; the only gate of a shop belongs to all,
    unless it has the name of another one.
    """
    if found := _named_like(name, gates):
        return found
    if len(gates) == 1 and not any(_named_like(other, gates) for other in others):
        return list(gates)
    return []


def _named_like(name: str, gates: Mapping[str, str]) -> list[str]:
    machine = _words(name)
    sure: list[str] = []
    likely: list[str] = []
    alike: list[str] = []
    for gate_id, gate in gates.items():
        gate_words = _words(gate)
        if machine <= gate_words:
            sure.append(gate_id)
        elif gate_words <= machine and not all(word.isdigit() for word in gate_words):
            likely.append(gate_id)
        elif any(_is_alike(word, machine) for word in gate_words):
            alike.append(gate_id)
    return sure or likely or alike


def _is_alike(word: str, machine: set[str]) -> bool:
    """Return whether a word is within one of a machine's: "hobel" in "dickenhobel"."""
    return len(word) >= _ALIKE and any(word in name for name in machine)


def _words(name: str) -> set[str]:
    found = (GATE_ENDING.sub("", word) for word in re.findall(r"\w+", folded(name)))
    return {word for word in found if not GATE_WORDS.fullmatch(word)}


def free_name(name: str, taken: Collection[str]) -> str:
    """Return a name, with a number if it's taken; `taken` is in lower case."""
    free, number = name, 1
    while free.casefold() in taken:
        number += 1
        free = f"{name} {number}"
    return free


def taken_names(
    hass: HomeAssistant, system: str = "", part: str | None = None
) -> dict[str, str]:
    """Return the names of systems, gates and machines, by their lower case.

    The edited part is left out: the one with this id in this system, or the system
    itself if `part` is None.
    """
    names: list[str] = []
    for entry in hass.config_entries.async_entries(DOMAIN):
        if entry.entry_id != system or part is not None:
            names.append(entry.title)
        others = entry.subentries.values()
        names += [other.title for other in others if other.subentry_id != part]
    return {name.casefold(): name for name in names}


def take_name(
    typed: str | None, taken: Mapping[str, str], mistakes: FormErrors, field: str
) -> str:
    """Return a typed name, tidied; note if it's missing, taken or unusable."""
    name = " ".join((typed or "").split())
    if not name:
        mistakes.add(field, "name_missing")
    elif not is_usable(name, mistakes, field):
        pass
    elif name.casefold() in taken:
        mistakes.add(field, "name_used", name)
    return name
