"""Words and phrases that no text for people may have, by language, and their replacements.

Each pattern has a sentence that it must find: a pattern without a match would check
nothing.
"""

import re

EXPANDED = (
    r"\b(?:do|does|did|is|are|was|were|has|have|could|would|should) not\b|\bcannot\b"
)
"""Contractions that people say: "doesn't", "can't"."""

ENGLISH = {
    # The sentence's shape.
    r"\b(?-i:Empty): ": "Empty: 5 s.",
    r": give ": "Start delay: give a time.",
    EXPANDED: "It does not move.",
    # Words that sound translated.
    r"\b(?:tells?|told|telling)\b": "It is told to move.",
    r"\bshut(?:s|ting)?\b(?!-off)": "The gate is shut.",
    r"\bgo(?:es)? on\b": "Gatewright goes on.",
    r"(?<!current )\bswitch(?:es|ed|ing)? (?:it |them )?(?:on|off)\b": "Switch it off.",
    r"\bby (?:itself|themselves)\b": "It starts by itself.",
    r"\b(?:seen|see|sees|seeing) to\b": "The belt was seen to.",
    r"\bwants?\b": "The filter wants cleaning.",
    r"\bstands?\b(?! out)": "The gate stands open.",
    r"\bexchang(?:e|es|ed|ing)\b(?! (?:its|the) (?:two )?hoses)": "Plugs are exchanged.",
    r"\bfor ever\b": "It would run for ever.",
    r"\breckon": "It is reckoned from the machines.",
    r"\blook(?:s|ed)? (?:at|after)\b": "Look at the plug.",
    # Terms that have another word now.
    r"\bhubs?\b": "The hub records nothing.",
    r"\bmains\b": "Leave mains wiring alone.",
    r"\bforms? of\b|\b(?:its|'s|the) form\b": "Change it in the form of the gate.",
    r"\b(?:has|have|had|gets?|got|getting|asks? for|asked for|needs?|keeps?|lacks?|lost"
    r"|loses?|gives?|given|with|without|little|its|their|no|for) air\b(?! cleaner| quality)": "It has air.",
    r"\block(?:ed)? ?out\b": "The collector is locked out.",
    r"(?<!replace an )\bemergenc(?:y|ies)\b": "Emergency stop",
    r"\brun-on\b": "Run-on",
    r"\bcoast(?:s|ed|ing)?\b": "It coasts.",
    r"\bclearing\b": "Clearing",
    r"\bcompanions?\b": "Companion",
    r"\battached\b": "Not attached",
    r"\bcoverage\b": "Coverage",
    r"\bout of reach\b": "The switch is out of reach.",
    r"\bwalk(?:s|ed|ing)?\b(?! away)": "Walk round the shop",
    r"\brehears": "Rehearse a time",
    r"\bsettling\b": "Start settling time",
    r"\bgrace\b": "Grace time",
    r"\bsilence limit\b": "Silence limit",
    # Claims beyond knowledge.
    r"\breally\b": "what each pickup really gets",
    r"\bthe duct is empty\b": "The duct is empty.",
}

GERMAN = {
    r"\b(?-i:Leer): ": "Leer: 5 s.",
    r": Gib \{": "Startverzögerung: Gib {x} an.",
    r"\b(?:[Dd]er|[Dd]ieser|[Dd]es|[Dd]en|im|vom|aus dem|auf dem) Hubs?\b": "der Hub",
    r"\bBeruhigungszeit": "Beruhigungszeit beim Start",
    r"\bKarenz": "Karenzzeit",
    r"\bMeldepause": "Längste Meldepause",
    r"\bErfassung\b": "Erfassung heute",
    r"\bBegleiter": "Begleiter schaltet nicht",
    r"\bSieh nach\b": "Sieh nach dem Filter.",
    r"\bHaltezeit": "Haltezeit",
    r"\bRundg[aä]ng": "Rundgang",
    r"\bdurch(?:zu)?(?:ge)?spiel": "Eine Zeit durchspielen",
    r"\bNotfall|(?<!ersetzt weder )\bNot-Aus": "Not-Aus",
    r"\bSperre\b": "Sperre aufheben",
    r"\bvon selbst\b": "Er startet von selbst.",
    r"\bnicht erreichbar\b": "Schieber nicht erreichbar",
    r"\bFormular": "im Formular des Schiebers",
    r"\bMensch(?:en)?\b": "braucht einen Menschen",
    r"\bgewesen wäre": "wie es gewesen wäre",
    r"\bAbsaugung an(?:ge|zu)?forder": "Absaugung anfordern",
    r"\b(?:be|ge)kommt? (?:gerade )?Luft\b": "Sie bekommt Luft.",
}

FRENCH = {
    r"\b(?-i:Vide)\s: ": "Vide : 5 s.",
    r"\s: indiquez \{": "Retard : indiquez {x}.",
    r"\baspirateurs?\b": "L'aspirateur tourne.",
    r"\brondes?\b": "Ronde de l'atelier",
    r"\bhors de portée\b": "vanne hors de portée",
    r"(?<!remplace ni un arrêt d')\burgences?\b": "Arrêt d'urgence",
    r"\bverrouill": "verrouillé",
    r"\bprolongation": "Prolongation",
    r"\bmaintien\b": "Maintien",
    r"\barrêt libre\b": "Arrêt libre",
    r"\bcouverture\b": "Couverture",
    r"\btoute?s? seule?s?\b|\bde (?:lui|elle)-même\b": "Il démarre tout seul.",
    r"\bformulaire": "dans le formulaire",
    r"\bdemande quelqu'un\b": "ce qui demande quelqu'un",
    r"\bdélai de grâce\b": "Délai de grâce",
    r"\blimite de silence\b": "Limite de silence",
    r"\bn'obéit pas\b|\bcommute": "Il ne commute pas.",
    r"\b(?:reçoi\w+|gard\w+) (?:de l'|son |leur )air\b": "Elle garde son air.",
    r"\brejou": "Rejouer une période",
    r"\bstabilisation\b": "Stabilisation à l'arrêt",
}

TO_AVOID = {"en": ENGLISH, "de": GERMAN, "fr": FRENCH}
"""The patterns of each language, with a text that each finds."""


def found(text: str, language: str) -> list[str]:
    """Return the words of a text that are to be avoided."""
    return [
        match[0]
        for pattern in TO_AVOID[language]
        for match in re.finditer(pattern, text, re.IGNORECASE)
    ]
