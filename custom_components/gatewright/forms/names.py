"""What a machine or a gate is called, and what its name gives away."""

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
"""As many of a proposed name, so that there is room for a number."""

NAME_LENGTH = 100
"""How many characters a name may have: what fits on a screen and in a sentence."""

NAME_ERRORS = {"name_missing", "name_too_long", "name_marks", "name_used"}
"""The codes of what can be wrong with a name."""

_UNSEEN = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Unicode's categories of control marks, halves of characters and breaks."""

_DIRECTION = frozenset(
    "\u061c\u200b\u200e\u200f\u202a\u202b\u202c\u202d\u202e"
    "\u2060\u2066\u2067\u2068\u2069\ufeff"
)
"""Marks of direction, and those without width. With them two names look alike, and
what follows a name reads backwards. Those that join letters or pictures may stay."""

_ALIKE = 4
"""As many letters of a gate's word have to be within a machine's."""


def machine_name(hass: HomeAssistant, entity_id: str) -> str:
    """Return what to call the machine behind a plug: "Planer plug power" is "Planer"."""
    return _without(name_of(hass, entity_id), METER_WORDS)


def gate_name(hass: HomeAssistant, entity_id: str) -> str:
    """Return what to call the gate behind an actuator or a contact."""
    return _without(name_of(hass, entity_id), ACTUATOR_WORDS)


def _without(name: str, words: re.Pattern[str]) -> str:
    """Take words off both ends of a name; leave a name that would be used up."""
    seen = "".join(mark for mark in name if not _unseen(mark))
    parts = seen.replace("_", " ").split()
    kept = _taken_off(_taken_off(parts, words)[::-1], words)[::-1]
    text = " ".join(kept or parts)[:_PROPOSED].rstrip()
    return text[:1].upper() + text[1:]


def _taken_off(parts: list[str], words: re.Pattern[str]) -> list[str]:
    """Take words off the end, and what links them with the rest."""
    kept = list(parts)
    while kept and (
        words.fullmatch(folded(kept[-1]))
        or (len(kept) < len(parts) and LINKS.fullmatch(folded(kept[-1])))
    ):
        kept.pop()
    return kept


def is_usable(name: str, mistakes: FormErrors, field: str) -> bool:
    """Whether a name is one that can be shown and said; note what is wrong with it."""
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
    """Return the kind of machine that a name tells, or other."""
    plain = folded(name)
    for kind, words in KIND_WORDS:
        if re.search(words, plain):
            return kind
    return MachineKind.OTHER


def guess_sort(name: str) -> ActuatorSort:
    """Return what moves a gate, by what its actuator is called; other if nothing tells."""
    for sort, words in SORT_WORDS:
        if re.search(words, folded(name)):
            return sort
    return ActuatorSort.OTHER


def guess_gates(
    name: str, gates: Mapping[str, str], others: Iterable[str] = ()
) -> list[str]:
    """Return the gates whose names tell that they are a machine's.

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
        told = _words(gate)
        if machine <= told:
            sure.append(gate_id)
        elif told <= machine and not all(word.isdigit() for word in told):
            likely.append(gate_id)
        elif any(_is_alike(word, machine) for word in told):
            alike.append(gate_id)
    return sure or likely or alike


def _is_alike(word: str, machine: set[str]) -> bool:
    """Whether a word is a part of one of a machine's: "hobel" of "dickenhobel"."""
    return len(word) >= _ALIKE and any(word in name for name in machine)


def _words(name: str) -> set[str]:
    found = (GATE_ENDING.sub("", word) for word in re.findall(r"\w+", folded(name)))
    return {word for word in found if not GATE_WORDS.fullmatch(word)}


def free_name(name: str, taken: Collection[str]) -> str:
    """Return a name, with a number where it is taken; `taken` is in lower case."""
    free, number = name, 1
    while free.casefold() in taken:
        number += 1
        free = f"{name} {number}"
    return free


def taken_names(
    hass: HomeAssistant, system: str = "", part: str | None = None
) -> dict[str, str]:
    """Return the names that systems, gates and machines have, by their lower case.

    The part in hand is left out: the one with this id in this system, or the system
    itself where `part` is None.
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
    """Return a typed name, tidied; note when it is missing, taken or unusable."""
    name = " ".join((typed or "").split())
    if not name:
        mistakes.add(field, "name_missing")
    elif not is_usable(name, mistakes, field):
        pass
    elif name.casefold() in taken:
        mistakes.add(field, "name_used", name)
    return name
