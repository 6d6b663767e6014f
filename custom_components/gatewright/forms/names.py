"""What a machine or a gate is called, and what its name gives away."""

from collections.abc import Collection, Mapping
import re
import unicodedata

from homeassistant.core import HomeAssistant

from ..const import DOMAIN
from ..core.kinds import ActuatorSort, MachineKind
from .form_errors import FormErrors
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

# Words that tell about the device at a machine or a gate, not about the machine or
# the gate. Taken off both ends of a name, never out of its middle.
_METER_WORDS = re.compile(
    r"active|amperage|amps|clamp|consumption|current|demand|electric|electrical|"
    r"energy|load|measured|meter|monitor|outlet|plug|power|reading|relay|running|"
    r"sensor|smart|socket|state|status|switch|total|wattage|watts"
)
_ACTUATOR_WORDS = re.compile(
    r"actuator|closed|contact|control|cover|drive|end|limit|motor|open|opener|"
    r"position|reed|relay|sensor|servo|shut|smart|solenoid|state|status|switch"
)

# In this order: a drum sander is a sander too, but more than that.
_KIND_WORDS = (
    (MachineKind.TABLE_SAW, r"(table|cabinet|panel) ?saw"),
    (MachineKind.BAND_SAW, r"band ?saw"),
    (MachineKind.MITER_SAW, r"(mit(er|re)|chop) ?saw"),
    (MachineKind.JOINTER, r"jointer"),
    (MachineKind.PLANER, r"planer|thicknesser"),
    (MachineKind.DRUM_SANDER, r"(drum|wide ?belt) ?sander"),
    (MachineKind.ROUTER_TABLE, r"router|shaper"),
    (MachineKind.LATHE, r"lathe"),
    (MachineKind.DRILL_PRESS, r"drill"),
    (MachineKind.FLOOR_SWEEP, r"sweep"),
    (MachineKind.BENCH_HOOD, r"hood|downdraft"),
    (MachineKind.TOOL_HOSE, r"hose"),
    (MachineKind.SANDER, r"sander"),
)

# Common practice, no source: what people call what moves their gates, in the languages
# of the forms.
_SORT_WORDS = (
    (ActuatorSort.SERVO, r"servo"),
    (
        ActuatorSort.COMPRESSED_AIR,
        r"solenoid|pneumat|compressed air|air (valve|cylinder)|druckluft|magnetventil|"
        r"électrovanne|air comprimé",
    ),
    (
        ActuatorSort.MOTOR,
        r"linear|motor (drive|actuator)|stellmotor|linearantrieb|vérin électrique",
    ),
)

# Words of a gate's name that do not tell which machine it belongs to.
_GATE_WORDS = re.compile(
    r"a|and|at|back|behind|blast|branch|bottom|cabinet|damper|drop|duct|for|front|"
    r"gate|guard|inlet|left|lower|main|of|port|rear|right|side|the|to|top|under|"
    r"upper|valve"
)


def machine_name(hass: HomeAssistant, entity_id: str) -> str:
    """Return what to call the machine behind a plug: "Planer plug power" is "Planer"."""
    return _without(name_of(hass, entity_id), _METER_WORDS)


def gate_name(hass: HomeAssistant, entity_id: str) -> str:
    """Return what to call the gate behind an actuator or a contact."""
    return _without(name_of(hass, entity_id), _ACTUATOR_WORDS)


def _without(name: str, words: re.Pattern[str]) -> str:
    """Take words off both ends of a name; leave a name that would be used up."""
    seen = "".join(mark for mark in name if not _unseen(mark))
    parts = seen.replace("_", " ").split()
    kept = list(parts)
    while kept and words.fullmatch(kept[-1].casefold()):
        kept.pop()
    while kept and words.fullmatch(kept[0].casefold()):
        kept.pop(0)
    text = " ".join(kept or parts)[:_PROPOSED].rstrip()
    return text[:1].upper() + text[1:]


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
    for kind, words in _KIND_WORDS:
        if re.search(words, name.casefold()):
            return kind
    return MachineKind.OTHER


def guess_sort(name: str) -> ActuatorSort:
    """Return what moves a gate, by what its actuator is called; other if nothing tells."""
    for sort, words in _SORT_WORDS:
        if re.search(words, name.casefold()):
            return sort
    return ActuatorSort.OTHER


def guess_gates(name: str, gates: Mapping[str, str]) -> list[str]:
    """Return the gates whose names tell that they are a machine's.

    `gates` are names by id. A gate that names several machines belongs to each; the
    only gate of a shop belongs to all.
    """
    if len(gates) == 1:
        return list(gates)
    machine = _words(name)
    sure: list[str] = []
    likely: list[str] = []
    for gate_id, gate in gates.items():
        told = _words(gate)
        if machine <= told:
            sure.append(gate_id)
        elif told <= machine and not all(word.isdigit() for word in told):
            likely.append(gate_id)
    return sure or likely


def _words(name: str) -> set[str]:
    found = re.findall(r"\w+", name.casefold())
    return {word for word in found if not _GATE_WORDS.fullmatch(word)}


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
