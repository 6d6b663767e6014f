"""What the forms of ducts and gates store, in one order, so that it can be compared."""

from collections import Counter
from collections.abc import Container, Iterable, Mapping
from typing import Any, Final

from .document import INLINE, DrawnGate, Drop, ElbowRow, Hose, Opening, PlanData
from .writing import write_row

INTO: Final = "into"
DIAMETER: Final = "diameter"
LENGTH: Final = "length"
MATERIAL: Final = "duct_material"
ENTRY_ANGLE: Final = "entry_angle"
VERTICAL: Final = "vertical"
ELBOWS: Final = "elbows"
DUCT: Final = "duct"
HOOD: Final = "hood"
SEAL: Final = "seal"
PORT: Final = "port_diameter"
HOSE_LENGTH: Final = "hose_length"
HOSE_DIAMETER: Final = "hose_diameter"
HOSE_STATE: Final = "hose_state"
DROP_LENGTH: Final = "drop_length"
DROP_DIAMETER: Final = "drop_diameter"
DROP_ELBOWS: Final = "drop_elbows"

OF_DUCT: Final = (INTO, DIAMETER, LENGTH, MATERIAL, ENTRY_ANGLE, VERTICAL, ELBOWS)
OF_PLACE: Final = (
    DUCT,
    HOOD,
    PORT,
    HOSE_DIAMETER,
    HOSE_LENGTH,
    HOSE_STATE,
    DROP_DIAMETER,
    DROP_LENGTH,
    DROP_ELBOWS,
    ENTRY_ANGLE,
    SEAL,
)
"""The keys that a plan decides; a part's others are not its business."""

NO_HOOD: Final = "none"
"""Hood of a gate that stands in the duct."""

_USUAL_HOOD: Final = "machine_port"
_OLD_STATE: Final = "stretched"
_OLD_SEAL: Final = "airtight"


def rows(of: Iterable[ElbowRow]) -> tuple[ElbowRow, ...]:
    """Return elbows in one order, those of one kind together."""
    counts: Counter[tuple[float, str, float]] = Counter()
    for row in of:
        counts[-float(row.angle), row.construction, float(row.radius)] += row.count
    return tuple(
        ElbowRow(count=count, angle=-angle, radius=radius, construction=construction)
        for (angle, construction, radius), count in sorted(counts.items())
        if count
    )


def stored_rows(data: Mapping[str, Any]) -> tuple[ElbowRow, ...]:
    """Return the elbows of a stored duct."""
    return rows(
        ElbowRow(
            count=int(row["count"]),
            angle=row["angle"],
            radius=row["radius"],
            construction=row["construction"],
        )
        for row in data.get(ELBOWS) or ()
    )


def duct_data(
    *,
    into: str | None,
    diameter: float,
    length: float,
    material: str,
    entry_angle: float,
    vertical: bool,
    elbows: Iterable[ElbowRow],
) -> PlanData:
    """Return a duct as its form stores it."""
    found: PlanData = {} if into is None else {INTO: into}
    found |= {
        DIAMETER: float(diameter),
        LENGTH: float(length),
        MATERIAL: material,
        ENTRY_ANGLE: float(entry_angle),
    }
    if vertical:
        found[VERTICAL] = True
    found[ELBOWS] = [write_row(row) for row in rows(elbows)]
    return found


def normal_duct(data: Mapping[str, Any], into: str | None) -> PlanData:
    """Return a stored duct in one order; `into` is what it really flows into."""
    return duct_data(
        into=into,
        diameter=data[DIAMETER],
        length=data[LENGTH],
        material=data[MATERIAL],
        entry_angle=data[ENTRY_ANGLE],
        vertical=bool(data.get(VERTICAL)),
        elbows=stored_rows(data),
    )


def normal_place(data: Mapping[str, Any], ducts: Container[str]) -> PlanData:
    """Return where a stored gate sits; nothing for one that is on no duct."""
    if (data.get(DUCT) or "") not in ducts:
        return {}
    opening = None if data.get(HOOD) == NO_HOOD else opening_of(data)
    return place_data(data[DUCT], data.get(SEAL, _OLD_SEAL), opening)


def opening_of(data: Mapping[str, Any]) -> Opening:
    """Return what lies before a stored gate."""
    hose = drop = None
    if data.get(HOSE_LENGTH) or data.get(HOSE_DIAMETER):
        hose = Hose(
            length=data.get(HOSE_LENGTH) or None,
            diameter=data.get(HOSE_DIAMETER) or None,
            state=data.get(HOSE_STATE, _OLD_STATE),
        )
    if data.get(DROP_LENGTH) or data.get(DROP_DIAMETER) or data.get(DROP_ELBOWS):
        drop = Drop(
            length=data.get(DROP_LENGTH) or None,
            diameter=data.get(DROP_DIAMETER) or None,
            elbows=int(data[DROP_ELBOWS]) if data.get(DROP_ELBOWS) else None,
        )
    return Opening(
        hood=data.get(HOOD, _USUAL_HOOD),
        port=data.get(PORT) or None,
        hose=hose,
        drop=drop,
        entry_angle=data.get(ENTRY_ANGLE) or None,
    )


def place_of(gate: DrawnGate, duct: str) -> PlanData:
    """Return where a drawn gate sits, as its form stores it."""
    return place_data(duct, gate.seal, None if gate.mount == INLINE else gate.opening)


def place_data(duct: str, seal: str, opening: Opening | None) -> PlanData:
    """Return where a gate sits, as its form stores it."""
    found: PlanData = {DUCT: duct, HOOD: NO_HOOD if opening is None else opening.hood}
    if seal != _OLD_SEAL:
        found[SEAL] = str(seal)
    if opening is None:
        return found
    hose, drop = opening.hose or Hose(), opening.drop or Drop()
    figures = {
        PORT: opening.port,
        HOSE_DIAMETER: hose.diameter,
        HOSE_LENGTH: hose.length,
        DROP_DIAMETER: drop.diameter,
        DROP_LENGTH: drop.length,
        DROP_ELBOWS: drop.elbows,
        ENTRY_ANGLE: opening.entry_angle,
    }
    found |= {key: value for key, value in figures.items() if value}
    if hose.length and hose.state != _OLD_STATE:
        found[HOSE_STATE] = str(hose.state)
    return found
