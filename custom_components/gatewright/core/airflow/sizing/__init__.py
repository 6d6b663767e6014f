"""Choosing the width of every pipe of a shop, and what to buy for it.

Describe the shop as for solving, diameters and all (those that are to be chosen do not
matter); say which pickups draw at once (`each_alone`, `together`) and what pipes there
are (`Rules`), and `size_ducts` chooses. `lay_out` makes the tree from a plain list of
machines and their distances. `material_list` says what to buy.

Bound to nothing but the solver: a set of pickups is good for as much as its worst
ratio of flow or velocity to what is needed. Checked by trying every choice in small
trees and by an exact mixed-integer program where the flows are given.
"""

from .duty import DutyPoint, FanVerdict
from .layout import USUAL_BRANCH, USUAL_HOSE, Branch, lay_out
from .materials import PIECE_LENGTH, USUAL_WASTE, Item, ItemKind, material_list
from .outcome import Row, SetOutcome
from .problem import (
    INCH_SIZES,
    METRIC_SIZES,
    SERIES,
    OperatingSet,
    Rules,
    each_alone,
    together,
)
from .remedies import Remedy, RemedyKind
from .sizing import ANY_FAN, Sizing, size_ducts, unsized

__all__ = [
    "ANY_FAN",
    "INCH_SIZES",
    "METRIC_SIZES",
    "PIECE_LENGTH",
    "SERIES",
    "USUAL_BRANCH",
    "USUAL_HOSE",
    "USUAL_WASTE",
    "Branch",
    "DutyPoint",
    "FanVerdict",
    "Item",
    "ItemKind",
    "OperatingSet",
    "Remedy",
    "RemedyKind",
    "Row",
    "Rules",
    "SetOutcome",
    "Sizing",
    "each_alone",
    "lay_out",
    "material_list",
    "size_ducts",
    "together",
    "unsized",
]
