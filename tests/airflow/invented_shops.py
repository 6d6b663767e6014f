"""Invented shops as owners have them, good and bad, to see whether the advice is sound."""

from custom_components.gatewright.core.airflow import (
    HOODS,
    MATERIALS_CARRIED,
    Duct,
    DuctSystem,
    Elbow,
    Fan,
    Filter,
    HoseState,
    Pickup,
    Pipe,
    Seal,
    Separator,
    SlideGate,
    hose,
    leak_area,
)
from custom_components.gatewright.core.airflow.units import CFM, FOOT, INCH, INCH_WATER

type Machines = dict[str, tuple[float, str]]

SMALL_FAN = Fan.from_free_air(650 * CFM, 7 * INCH_WATER)
"""What a seller says of a collector of 1 hp."""

LARGE_FAN = Fan(
    points=tuple(
        (cfm * CFM, inches * INCH_WATER)
        for cfm, inches in (
            (0, 11.5),
            (300, 11.4),
            (600, 10.4),
            (800, 8.9),
            (1000, 6.7),
            (1200, 3.5),
        )
    ),
    kind="static",
)


def pickup(
    name: str,
    duct: str,
    cfm: float,
    material: str,
    *pipes: Pipe,
    hood: str = "machine_port",
    angle: float = 45.0,
) -> Pickup:
    """Return a machine's pickup with a gate of the usual sort, both called alike."""
    carried = MATERIALS_CARRIED[material]
    return Pickup(
        id=name,
        duct=duct,
        machine=name,
        entry_k=HOODS[hood].coefficient,
        pipes=pipes,
        gate=SlideGate(id=name, leak_area=leak_area(Seal.USUAL, pipes[-1].diameter)),
        entry_angle=angle,
        required=cfm * CFM,
        transport=carried.minimum,
        rising=carried.rising,
        velocity_ratio=carried.velocity_ratio,
    )


def drop(inches: float, feet: float) -> Pipe:
    """Return a rising pipe with one elbow."""
    return Pipe(
        diameter=inches * INCH,
        length=feet * FOOT,
        elbows=(Elbow(construction="five_piece"),),
        vertical=True,
    )


def slack(inches: float, feet: float, state: HoseState = HoseState.RELAXED) -> Pipe:
    """Return a hose as it lies."""
    return hose(inches * INCH, feet * FOOT, state)


ONE_MACHINE = DuctSystem(
    ducts=(
        Duct(id="main", diameter=4 * INCH, length=8 * FOOT, elbows=(Elbow(count=2),)),
    ),
    pickups=(
        pickup("saw", "main", 350, "sawdust", slack(4, 6), hood="saw_port", angle=0),
    ),
    fan=Fan.from_free_air(1100 * CFM, 10 * INCH_WATER),
    inlet_diameter=6 * INCH,
    filter=Filter.from_point(800 * CFM, 1.0 * INCH_WATER),
)
"""One saw and a collector that is large enough for it."""

UNDERSIZED = DuctSystem(
    ducts=(
        Duct(id="main", diameter=4 * INCH, length=20 * FOOT, elbows=(Elbow(count=2),)),
    ),
    pickups=(
        pickup("planer", "main", 785, "chips", slack(4, 8)),
        pickup("band saw", "main", 700, "sawdust", slack(4, 8)),
        pickup("jointer", "main", 350, "chips", slack(4, 6)),
    ),
    fan=SMALL_FAN,
    inlet_diameter=5 * INCH,
)
"""A planer on a collector of 1 hp and 4 in pipe."""

LONG_MAIN = DuctSystem(
    ducts=(
        Duct(id="main", diameter=6 * INCH, length=45 * FOOT, elbows=(Elbow(count=2),)),
        Duct(id="far", into="main", diameter=6 * INCH, length=20 * FOOT),
    ),
    pickups=(
        pickup("saw", "main", 350, "sawdust", slack(4, 4), drop(4, 6), hood="saw_port"),
        pickup("planer", "far", 785, "chips", slack(6, 5), angle=0),
        pickup("jointer", "far", 440, "chips", slack(4, 5), drop(5, 5)),
    ),
    fan=LARGE_FAN,
    inlet_diameter=8 * INCH,
    separator=Separator.from_point(800 * CFM, 2.0 * INCH_WATER),
    filter=Filter.from_point(800 * CFM, 0.8 * INCH_WATER),
)
"""A long main as wide as the planer needs it, and two smaller machines on it."""

BENCH = DuctSystem(
    ducts=(Duct(id="main", diameter=6 * INCH, length=20 * FOOT, elbows=(Elbow(),)),),
    pickups=(
        pickup(
            "bench",
            "main",
            0,
            "fine_dust",
            slack(4, 10, HoseState.HANGING),
            hood="enclosure",
        ),
        pickup("saw", "main", 350, "sawdust", slack(4, 4), drop(4, 6), hood="saw_port"),
        pickup("sander", "main", 50, "fine_dust", slack(2.5, 10)),
    ),
    fan=LARGE_FAN,
    inlet_diameter=8 * INCH,
    separator=Separator.from_point(800 * CFM, 2.0 * INCH_WATER),
)
"""A bench hood on a hanging hose, and a sander on a thin one."""
