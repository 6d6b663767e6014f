"""What the report calls the losses and changes of the airflow core."""

from typing import Final

LOSSES: Final = {
    "hood": "hood or port",
    "friction": "friction",
    "elbows": "elbows",
    "other": "other losses",
    "widening": "widening",
    "gate": "open gate",
    "branch_entry": "branch entry",
    "junction": "taking up speed at the junction",
    "inlet": "collector inlet",
    "separator": "separator",
    "filter": "filter",
    "outlet": "fan outlet",
    "exit": "end of the stack",
}

CHANGES: Final = {
    "wider": "a wider pipe ({width})",
    "smooth": "a smooth pipe instead of hose",
    "shorter": "half the hose ({length})",
    "wide_bends": "elbows with a bend radius of {ratio} diameters",
    "flat_entry": "a flatter branch ({angle}°)",
    "better_hood": "a tapered hood",
    "tight_gates": "tight gates",
    "clean_filter": "a clean filter",
    "larger_fan": "a fan wheel a tenth larger",
}

MATERIALS: Final = {
    "fine_dust": "fine dust",
    "sawdust": "sawdust",
    "chips": "chips and shavings",
    "heavy": "heavy or damp",
}

MARKS: Final = {"memory": "*", "practice": "†", "none": "–"}
"""What stands behind a required flow that is not read and not the owner's."""

CRITERIA: Final = (
    "Not everybody may switch gates. UFC 3-410-04N, Industrial Ventilation (US "
    "Department of Defense, 2004), paragraphs 7-4.1 and 7-4.5, sizes a system with "
    "every opening open at once and allows blast gates for balancing only, set, "
    "locked and marked, not for isolating machines. Whoever is bound by these "
    "criteria, by contract or by law, must not let gates open and shut with the "
    "machines. Everybody else has to see that the main keeps its transport velocity "
    "for each combination of gates in use: the table says so for each."
)

NOTES: Final = (
    "* The flow that such a machine needs is from memory of the ACGIH Industrial "
    "Ventilation plates (VS-95 series), not read in them. Change it in the machine's "
    "form where you know better.",
    "† Common practice without a published source.",
    "From memory as well: the losses of branch entries, of machine ports, of tapered "
    "hoods and of half-open slide gates. Friction, elbows and other hoods are from "
    "published tables.",
    "Required velocities: ranges for wood flour, dry dust and heavy dust from ACGIH "
    "Industrial Ventilation (2009) in reprints, for chips from OSHA 3157.",
    "Computed, not measured: all gates tight, ducts clean, the fan on the curve "
    "that was entered. Air at the shop's altitude and temperature.",
    "Gatewright is no safety device. Wood dust explodes and is a carcinogen: bond "
    "and ground ducts, and never run metal grinding and wood dust through one duct.",
)
