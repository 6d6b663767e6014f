"""Words of names in English, German and French, without accents, and their meanings.

A table of patterns by meaning, each with the words of all languages: an owner names
things in one language and may have set Home Assistant to another.
"""

import re
import unicodedata

from ..core.kinds import ActuatorSort, MachineKind

# Words for the device at a machine or a gate, not for the machine or the gate. Removed
# from both ends of a name, never from its middle.
METER_WORDS = re.compile(
    r"active|amperage|amps|clamp|consumption|current|demand|electric|electrical|"
    r"energy|load|measured|meter|monitor|outlet|plug|power|reading|relay|running|"
    r"sensor|smart|socket|state|status|switch|total|wattage|watts|"
    # German
    r"aktuelle[rs]?|gesamt|laeuft|lauft|leistung|messwert|momentanleistung|relais|"
    r"schalter|steckdose|strom|stromverbrauch|verbrauch|wirkleistung|zustand|"
    r"zwischenstecker|"
    # French
    r"active|actuelle|capteur|compteur|connectee|consommation|courant|electrique|"
    r"etat|instantanee|intensite|interrupteur|mesure|prise|puissance|totale"
)
ACTUATOR_WORDS = re.compile(
    r"actuator|closed|contact|control|cover|drive|end|limit|motor|open|opener|"
    r"position|reed|relay|sensor|servo|shut|smart|solenoid|state|status|switch|"
    # German
    r"aktor|antrieb|auf|endlage|endschalter|geoeffnet|geoffnet|geschlossen|kontakt|"
    r"magnetventil|offen|reedkontakt|relais|schalter|stellmotor|stellung|zu|zustand|"
    # French
    r"actionneur|capteur|commande|course|electrovanne|etat|fermee?|fin|interrupteur|"
    r"moteur|ouverte?|ouverture|relais"
)
LINKS = re.compile(r"am|an|der|das|die|fur|fuer|vom|von|d|de|des|du|l|la|le|les")
"""What links a removed word with the rest: "Prise de la raboteuse"."""

# In this order: a drum sander is a sander too, but more specific.
KIND_WORDS = (
    (
        MachineKind.MITER_SAW,
        r"(mit(er|re)|chop) ?saw|(kapp|gehrungs?|zug)\w* ?sae?ge"
        r"|scie (a onglets?|radiale|pendulaire)",
    ),
    (MachineKind.BAND_SAW, r"band ?saw|bandsae?ge|scie a ruban"),
    (
        MachineKind.TABLE_SAW,
        r"(table|cabinet|panel) ?saw|(?<!hand)(kreis|format)\w*sae?ge"
        r"|scie (circulaire|sur table|de table|a format)",
    ),
    (MachineKind.JOINTER, r"jointer|abricht|degau"),
    (MachineKind.PLANER, r"planer|thicknesser|hobel|dickte|rabot"),
    (
        MachineKind.DRUM_SANDER,
        r"(drum|wide ?belt) ?sander|(walzen|zylinder|breitband)\w*schleif"
        r"|ponceuse (a (cylindre|rouleau|tambour|large bande)|calibreuse)|calibreuse",
    ),
    (MachineKind.ROUTER_TABLE, r"router|shaper|fra(e)?s|defonceuse|toupie"),
    (MachineKind.LATHE, r"lathe|drechsel|\btour\b"),
    (MachineKind.DRILL_PRESS, r"drill|bohr|perceuse"),
    (
        MachineKind.FLOOR_SWEEP,
        r"sweep|kehr|boden(absaugung|duse|duese)|balay|ramasse|(bouche|aspiration) au sol",
    ),
    (
        MachineKind.BENCH_HOOD,
        r"hood|downdraft|haube|schleiftisch|hotte|table aspirante",
    ),
    (MachineKind.TOOL_HOSE, r"hose|schlauch|flexible|tuyau"),
    (MachineKind.SANDER, r"sander|schleif|ponceuse"),
)

# Words of a gate's name that don't identify its machine.
GATE_WORDS = re.compile(
    r"a|and|at|back|behind|blast|branch|bottom|cabinet|damper|drop|duct|for|front|"
    r"gate|guard|inlet|left|lower|main|of|port|rear|right|side|the|to|top|under|"
    r"upper|valve|"
    # German
    r"absperrschieber|abzweig|am|an|das|der|die|fur|fuer|haupt|hauptrohr|hinten|"
    r"klappe|links|oben|rechts|rohr|schieber|seite|stutzen|und|unten|von|vom|vorne?|"
    # French
    r"arriere|au|aux|avant|bas|branche|clapet|conduit|cote|d|de|derivation|des|"
    r"droite|du|et|gauche|guillotine|haut|l|la|le|les|pour|principal|registre|sur|vanne"
)
GATE_ENDING = re.compile(r"(?<=\w{3})(n|en|s)?(absperrschieber|schieber|klappe)$")
"""The ending of a German gate's name, in one word with the machine's."""


def folded(name: str) -> str:
    """Return a name in lower case and without accents, as in the patterns."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    return "".join(mark for mark in plain if not unicodedata.combining(mark))


SORT_WORDS = (
    (ActuatorSort.SERVO, r"servo"),
    (
        ActuatorSort.COMPRESSED_AIR,
        r"solenoid|pneumat|compressed air|air (valve|cylinder)|druckluft|magnetventil|"
        r"electrovanne|air comprime",
    ),
    (
        ActuatorSort.MOTOR,
        r"linear|motor (drive|actuator)|stellmotor|verin electrique",
    ),
)
"""Usual names for what moves a gate: common practice, no source."""
