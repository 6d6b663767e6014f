"""An invented shop of eight machines, in which the details are measured.

A 2 hp collector on a main of 6 in pipe, drops of 5 and 4 in, a hose at each machine.
"""

from custom_components.gatewright.core.airflow import (
    HOODS,
    MATERIALS,
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

SPIRAL = MATERIALS["spiral"].roughness

FAN = Fan(
    points=tuple(
        (cfm * CFM, pressure * INCH_WATER)
        for cfm, pressure in (
            (0, 9.8),
            (250, 10.2),
            (500, 9.6),
            (750, 8.2),
            (1000, 5.6),
            (1250, 1.6),
        )
    ),
    kind="static",
)

# Machine, drop (in), hose (in), hose (ft), required (cfm), material.
MACHINES = (
    ("table_saw", 5, 4, 5, 350, "sawdust"),
    ("band_saw", 5, 4, 6, 350, "sawdust"),
    ("jointer", 5, 4, 6, 350, "chips"),
    ("planer", 6, 5, 5, 500, "chips"),
    ("disc_sander", 4, 4, 4, 350, "fine_dust"),
    ("router_table", 4, 4, 6, 350, "chips"),
    ("drum_sander", 4, 4, 5, 350, "fine_dust"),
    ("lathe", 4, 4, 6, 350, "chips"),
)


def reference_shop(
    *,
    state: HoseState = HoseState.STRETCHED,
    seal: Seal = Seal.AIRTIGHT,
    construction: str = "five_piece",
    loading: float = 1.0,
    **changes: object,
) -> DuctSystem:
    """Return the shop with these hoses, gates, elbows and filter."""
    ducts: list[Duct] = []
    pickups: list[Pickup] = []
    for number, (name, drop, width, length, cfm, material) in enumerate(MACHINES):
        ducts.append(
            Duct(
                id=f"main{number}",
                into=f"main{number - 1}" if number else None,
                diameter=6 * INCH,
                length=6 * FOOT,
                roughness=SPIRAL,
            )
        )
        carried = MATERIALS_CARRIED[material]
        pickups.append(
            Pickup(
                id=name,
                duct=f"main{number}",
                machine=name,
                entry_k=HOODS["machine_port"].coefficient,
                pipes=(
                    hose(width * INCH, length * FOOT, state),
                    Pipe(
                        diameter=drop * INCH,
                        length=7 * FOOT,
                        roughness=SPIRAL,
                        elbows=(Elbow(construction=construction),),
                        vertical=True,
                    ),
                ),
                gate=SlideGate(
                    id=f"{name}_gate", leak_area=leak_area(seal, drop * INCH)
                ),
                entry_angle=30.0,
                required=cfm * CFM,
                transport=carried.minimum,
                rising=carried.rising,
            )
        )
    parts: dict[str, object] = {
        "ducts": tuple(ducts),
        "pickups": tuple(pickups),
        "fan": FAN,
        "separator": Separator.from_point(600 * CFM, 2.0 * INCH_WATER),
        "filter": Filter.from_point(600 * CFM, 0.8 * INCH_WATER, loading),
        "inlet_diameter": 6 * INCH,
    }
    return DuctSystem(**(parts | changes))  # type: ignore[arg-type]
