"""A tree of ducts from a plain list: machines along one main, each at its distance.

For who has entered no ducts yet. The main runs from the collector to the farthest
machine; each machine has a branch that enters it at an angle, with an elbow, a hose
and a gate. What is not said is taken as in `Branch`, a choice of ours that the owner
changes.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from ..errors import require
from ..fittings import HOODS
from ..friction import MATERIALS
from ..gate import Seal, SlideGate, leak_area
from ..hose import HoseState, hose
from ..model import Duct, Pickup
from ..pipe import Elbow, Pipe

_CLOSE = 0.05
"""Branches closer (m) than this along the main leave it at one place."""

USUAL_BRANCH: Final = 2.5
"""Length (m) of the rigid part of a branch: down a wall and to the machine. Common
practice, no source."""

USUAL_HOSE: Final = 1.0
"""Length (m) of the hose at its end. Common practice, no source."""

_ANY = 0.1
"""A diameter (m) to begin with; it is what is looked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """A machine on the main: where its branch leaves, and what it needs.

    `distance` (m) along the main from the collector, `required` m3/s, `transport`
    m/s, `port` m (None: as wide as the hose). `length` of rigid branch and `hose` in
    m; `elbows` of 90 degrees in the branch; `entry_angle` in degrees.
    """

    id: str
    distance: float
    required: float
    transport: float
    rising: float = 0.0
    port: float | None = None
    hood: str = "machine_port"
    length: float = USUAL_BRANCH
    hose: float = USUAL_HOSE
    elbows: int = 1
    entry_angle: float = 45.0


def lay_out(
    branches: Iterable[Branch],
    *,
    roughness: float = MATERIALS["galvanized"].roughness,
    main_elbows: int = 1,
) -> tuple[tuple[Duct, ...], tuple[Pickup, ...]]:
    """Return the ducts and pickups of a list of machines.

    The main is one duct from each place where a branch leaves to the next nearer one;
    `main_elbows` of 90 degrees are in the piece at the collector. Raises
    `AirflowError`.
    """
    ordered = sorted(branches, key=lambda branch: branch.distance)
    require(bool(ordered), "no_pickups", "There is no machine")
    places: list[float] = []
    ducts: list[Duct] = []
    pickups: list[Pickup] = []
    for branch in ordered:
        require(
            0.0 < branch.distance <= 200.0,
            "distance_range",
            f"A distance must be between 0 and 200 m, not {branch.distance:g}",
            element=branch.id,
        )
        if not places or branch.distance - places[-1] > _CLOSE:
            nearer = places[-1] if places else 0.0
            places.append(branch.distance)
            number = len(places)
            bends = (Elbow(count=main_elbows),) if number == 1 and main_elbows else ()
            ducts.append(
                Duct(
                    id=f"main {number}",
                    into=f"main {number - 1}" if number > 1 else None,
                    diameter=_ANY,
                    length=branch.distance - nearer,
                    roughness=roughness,
                    elbows=bends,
                )
            )
        pipes: list[Pipe] = []
        if branch.port is not None:
            pipes.append(Pipe(diameter=branch.port))
        if branch.hose > 0:
            pipes.append(hose(_ANY, branch.hose, HoseState.RELAXED))
        pipes.append(
            Pipe(
                diameter=_ANY,
                length=branch.length,
                roughness=roughness,
                elbows=(Elbow(count=branch.elbows),) if branch.elbows else (),
                vertical=True,
            )
        )
        pickups.append(
            Pickup(
                id=branch.id,
                duct=f"main {len(places)}",
                machine=branch.id,
                entry_k=HOODS[branch.hood].coefficient,
                pipes=tuple(pipes),
                gate=SlideGate(id=branch.id, leak_area=leak_area(Seal.USUAL, _ANY)),
                entry_angle=branch.entry_angle,
                required=branch.required,
                transport=branch.transport,
                rising=branch.rising,
            )
        )
    # The farthest branch is where the main begins: it goes straight on.
    last = ducts[-1].id
    far = next(i for i, p in enumerate(pickups) if p.duct == last)
    return tuple(ducts), tuple(
        replace(pickup, entry_angle=0.0) if i == far else pickup
        for i, pickup in enumerate(pickups)
    )
