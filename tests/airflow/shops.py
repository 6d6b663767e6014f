"""An invented shop, and random ones."""

from dataclasses import dataclass

from hypothesis import strategies as st

from custom_components.gatewright.core.airflow import (
    MATERIALS,
    MATERIALS_CARRIED,
    Air,
    Discharge,
    Duct,
    DuctSystem,
    Elbow,
    Fan,
    Filter,
    Junction,
    Pickup,
    Pipe,
    Separator,
    SlideGate,
)

SPIRAL = MATERIALS["spiral"].roughness
HOSE = MATERIALS["flexible"].roughness

FAN = Fan(
    points=(
        (0.0, 2550.0),
        (0.15, 2650.0),
        (0.30, 2500.0),
        (0.45, 2100.0),
        (0.60, 1350.0),
        (0.75, 250.0),
    ),
    kind="static",
)


def shop(**changes: object) -> DuctSystem:
    """Return a shop of four machines on one main of three pieces.

    The saw has two ports behind one gate in its duct; planer, sander and floor
    sweep have one each.
    """
    chips = MATERIALS_CARRIED["chips"].minimum
    dust = MATERIALS_CARRIED["fine_dust"].minimum
    hose = Pipe(diameter=0.1, length=1.5, roughness=HOSE)
    parts: dict[str, object] = {
        "ducts": (
            Duct(
                id="main",
                diameter=0.18,
                length=4.0,
                roughness=SPIRAL,
                elbows=(Elbow(count=2, construction="five_piece"),),
            ),
            Duct(id="middle", into="main", diameter=0.16, length=3.0, roughness=SPIRAL),
            Duct(id="far", into="middle", diameter=0.125, length=5.0, roughness=SPIRAL),
            Duct(
                id="saw_drop",
                into="middle",
                diameter=0.125,
                length=2.5,
                roughness=SPIRAL,
                elbows=(Elbow(),),
                entry_angle=45.0,
                gate=SlideGate(id="saw_gate"),
            ),
        ),
        "pickups": (
            Pickup(
                id="saw_below",
                duct="saw_drop",
                machine="saw",
                pipes=(hose,),
                required=0.11,
                transport=chips,
            ),
            Pickup(
                id="saw_above",
                duct="saw_drop",
                machine="saw",
                pipes=(Pipe(diameter=0.063, length=2.0, roughness=HOSE),),
                entry_angle=30.0,
                required=0.03,
                transport=dust,
            ),
            Pickup(
                id="planer",
                duct="far",
                machine="planer",
                pipes=(Pipe(diameter=0.125, length=1.0, roughness=HOSE),),
                gate=SlideGate(id="planer_gate"),
                required=0.21,
                transport=chips,
            ),
            Pickup(
                id="sander",
                duct="far",
                machine="sander",
                pipes=(
                    Pipe(diameter=0.08, length=2.5, roughness=HOSE),
                    Pipe(diameter=0.1, length=2.0, roughness=SPIRAL),
                ),
                gate=SlideGate(id="sander_gate"),
                entry_angle=45.0,
                required=0.05,
                transport=dust,
            ),
            Pickup(
                id="sweep",
                duct="main",
                machine="sweep",
                entry_k=0.65,
                pipes=(Pipe(diameter=0.125, length=2.0, roughness=SPIRAL),),
                gate=SlideGate(id="sweep_gate"),
                entry_angle=90.0,
            ),
        ),
        "fan": FAN,
        "air": Air.at(altitude=300.0, temperature=18.0),
        "separator": Separator.from_point(0.3, 350.0),
        "filter": Filter.from_point(0.3, 200.0),
        "inlet_diameter": 0.18,
    }
    return DuctSystem(**(parts | changes))  # type: ignore[arg-type]


@dataclass(frozen=True)
class Case:
    """A random system and a choice of open gates in it."""

    system: DuctSystem
    open_gates: frozenset[str]


def _between(low: float, high: float) -> st.SearchStrategy[float]:
    """Thousandths, so that a failing example is readable."""
    return st.integers(round(low * 1000), round(high * 1000)).map(lambda n: n / 1000)


@st.composite
def pipes(draw: st.DrawFn, least_loss: float = 0.0) -> Pipe:
    """Return a pipe with `least_loss` as an additional coefficient."""
    diameter = draw(_between(0.06, 0.16))
    return Pipe(
        diameter=diameter,
        length=draw(_between(0.2, 6.0)),
        roughness=draw(st.sampled_from([0.0, SPIRAL, HOSE])),
        extra_k=least_loss,
        friction_scale=draw(st.sampled_from([1.0, 1.0, 3.0])),
        elbows=draw(
            st.sampled_from([(), (Elbow(angle=45.0, construction="pleated", count=2),)])
        ),
    )


@st.composite
def cases(
    draw: st.DrawFn,
    *,
    least: int = 3,
    most: int = 60,
    least_loss: float = 0.0,
    junctions: tuple[Junction, ...] = (Junction.STATIC, Junction.TOTAL),
    leaks: bool = True,
    behind: bool = True,
    deepest: int = 9,
) -> Case:
    """Return a random tree of ducts with pickups on all ends and some junctions.

    `behind`: sometimes with a separator, a filter and a discharge duct.
    """
    count = draw(st.integers(least, most))
    ducts: list[Duct] = []
    taken: set[str | None] = set()
    levels: list[int] = []
    for number in range(count):
        into: str | None = None
        level = 0
        # Sometimes a second and third duct at the collector itself.
        joins = number and (number > 2 or draw(st.booleans()))
        if joins:
            # From far back for a bush, from just before for a long main.
            near = [i for i in range(max(0, number - 8), number) if levels[i] < deepest]
            at = draw(st.sampled_from(near)) if near else 0
            into, level = f"d{at}", levels[at] + 1
        levels.append(level)
        straight = into not in taken
        taken.add(into)
        gate = None
        if draw(st.integers(0, 9)) == 0:
            gate = SlideGate(id=f"dg{number}", allowance=draw(_between(0.0, 0.3)))
        ducts.append(
            Duct(
                id=f"d{number}",
                into=into,
                # A main is wider than what it collects, mostly.
                diameter=round(
                    max(0.07, 0.3 * 0.85**level * draw(_between(0.7, 1.3))), 3
                ),
                length=draw(_between(0.2, 10.0)),
                roughness=draw(st.sampled_from([0.0, SPIRAL, 0.00015, HOSE])),
                elbows=draw(
                    st.sampled_from(
                        [
                            (),
                            (Elbow(),),
                            (Elbow(construction="five_piece", angle=45.0, count=2),),
                            (Elbow(construction="mitered", angle=60.0),),
                        ]
                    )
                ),
                extra_k=least_loss,
                entry_angle=0.0 if straight else draw(st.sampled_from([30.0, 45.0])),
                gate=gate,
            )
        )
    pickups: list[Pickup] = []
    for number, duct in enumerate(ducts):
        if duct.id in taken and draw(st.integers(0, 5)):
            continue
        leak = draw(st.sampled_from([0.0, 0.0, 1e-4])) if leaks else 0.0
        gate = (
            SlideGate(id=f"g{number}", leak_area=leak)
            if draw(st.integers(0, 4))
            else None
        )
        pickups.append(
            Pickup(
                id=f"p{number}",
                duct=duct.id,
                machine=f"m{number}",
                entry_k=draw(_between(max(0.04, least_loss), 1.75)),
                pipes=tuple(
                    draw(pipes(least_loss)) for _ in range(draw(st.integers(0, 2)))
                ),
                gate=gate,
                entry_angle=draw(st.sampled_from([0.0, 45.0])),
            )
        )
    gates = {p.gate.id for p in pickups if p.gate} | {
        d.gate.id for d in ducts if d.gate
    }
    closed = draw(st.sets(st.sampled_from(sorted(gates)))) if gates else set()
    system = DuctSystem(
        ducts=tuple(ducts),
        pickups=tuple(pickups),
        fan=draw(
            st.sampled_from(
                [
                    Fan.quadratic(2600.0, 2600.0 / 0.8**2),
                    FAN,
                    Fan.from_free_air(0.9, 3000.0, shape="generic"),
                    Fan(points=FAN.points, kind="static", outlet_diameter=0.16),
                ]
            )
        ),
        air=draw(st.sampled_from([Air(), Air.at(1500.0, 25.0)])),
        separator=draw(
            st.sampled_from([None, Separator(resistance=4000.0)] if behind else [None])
        ),
        filter=draw(
            st.sampled_from(
                [None, Filter(resistance=700.0, loading=1.5)] if behind else [None]
            )
        ),
        discharge=draw(
            st.sampled_from(
                [None, Discharge(pipe=Pipe(diameter=0.18, length=2.0))]
                if behind
                else [None]
            )
        ),
        inlet_diameter=draw(st.sampled_from([None, 0.16, 0.25])),
        junction=draw(st.sampled_from(junctions)),
        regain=draw(st.sampled_from([None, None, 0.0, 0.5, 1.0])),
        inlet_k=draw(st.sampled_from([0.0, 0.0, 0.75])),
    )
    return Case(system, frozenset(gates - closed))
