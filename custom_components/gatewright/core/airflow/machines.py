"""How much air machines need, and how fast it must move to carry what they make.

No table of woodworking airflows could be read in its original. The figures of
`MACHINES` are from memory of the plates of ACGIH, Industrial Ventilation (VS-95
series), medium confidence at best; they agree with the area of the usual pipe sizes
at 4000 ft/min (4 in 349, 5 in 545, 6 in 785, 7 in 1069, 8 in 1396 cfm), which
supports them. They are starting points for an owner to change.

Transport velocities (`MATERIALS_CARRIED`) are read in reprints unless said.

Some public criteria size a system for all openings at once and allow blast gates
for balancing only, not for isolating machines (UFC 3-410-04N, Industrial
Ventilation, US Department of Defense, 2004, paragraphs 7-4.1 and 7-4.5). Who is bound by them must
not switch gates; everybody else has to see that the main keeps its velocity for
each combination in use.
"""

from dataclasses import dataclass
from math import inf
from types import MappingProxyType
from typing import Final, Literal

from .errors import AirflowError, require
from .units import CFM, FPM, INCH

type Status = Literal["read", "memory", "practice"]
type Confidence = Literal["high", "medium", "low", "none"]

_PLATES: Final = "ACGIH, Industrial Ventilation, VS-95 woodworking plates"


@dataclass(frozen=True, slots=True, kw_only=True)
class AirflowNeed:
    """What a machine of one size needs: a flow (m3/s) for each of its ports.

    `up_to` is the largest size (m, or m2 for a drum's surface) the row is for.
    """

    up_to: float
    ports: tuple[float, ...]

    @property
    def flow(self) -> float:
        """Flow of all ports together, m3/s."""
        return sum(self.ports)


@dataclass(frozen=True, slots=True, kw_only=True)
class DustSource:
    """A kind of machine: what its size means and what each size needs.

    `size` names the measure the rows go by, empty where there is only one row.
    `material` is what it mostly makes, a key of `MATERIALS_CARRIED`.
    """

    needs: tuple[AirflowNeed, ...]
    size: str = ""
    material: str = "sawdust"
    source: str = _PLATES
    status: Status = "memory"
    confidence: Confidence = "medium"

    def need(self, size: float | None = None) -> AirflowNeed:
        """Return the row for a size (m or m2); without one, the smallest machine's.

        A machine larger than the last row gets the last row.
        """
        if size is not None:
            require(size > 0, "machine_size", "A machine's size must be positive")
            for need in self.needs:
                if size <= need.up_to:
                    return need
            return self.needs[-1]
        return self.needs[0]


def _by_inches(*rows: tuple[float, tuple[float, ...]]) -> tuple[AirflowNeed, ...]:
    """Rows of the largest size in inches and cfm for each port."""
    return tuple(
        AirflowNeed(up_to=size * INCH, ports=tuple(cfm * CFM for cfm in ports))
        for size, ports in rows
    )


def _any(*cfm: float) -> tuple[AirflowNeed, ...]:
    return _by_inches((inf, cfm))


MACHINES: Final = MappingProxyType(
    {
        # Ports: below the table, above it.
        "band_saw": DustSource(
            size="blade_width",
            needs=_by_inches(
                (2, (350, 350)),
                (3, (350, 550)),
                (4, (550, 800)),
                (6, (550, 1100)),
                (inf, (550, 1400)),
            ),
        ),
        "table_saw": DustSource(
            size="blade_diameter",
            needs=_by_inches((16, (350,)), (24, (440,)), (inf, (550,))),
        ),
        "table_saw_dado": DustSource(needs=_any(550), material="chips"),
        # Ports: below, above.
        "rip_saw": DustSource(needs=_any(440, 350), confidence="low"),
        "radial_arm_saw": DustSource(needs=_any(500), confidence="low"),
        "cutoff_saw": DustSource(needs=_any(350), confidence="low"),
        "miter_saw": DustSource(
            needs=_any(500),
            source=f"{_PLATES}; no plate of its own, taken as a radial arm saw",
            confidence="low",
        ),
        "jointer": DustSource(
            size="knife_length",
            material="chips",
            needs=_by_inches((6, (350,)), (12, (440,)), (20, (550,)), (inf, (785,))),
        ),
        "planer": DustSource(
            size="knife_length",
            material="chips",
            needs=_by_inches(
                (20, (785,)),
                (26, (1100,)),
                (32, (1400,)),
                (38, (1765,)),
                (inf, (2200,)),
            ),
        ),
        "disc_sander": DustSource(
            size="disc_diameter",
            material="fine_dust",
            needs=_by_inches(
                (12, (350,)),
                (18, (440,)),
                (26, (550,)),
                (32, (700,)),
                (38, (900,)),
                (inf, (1250,)),
            ),
        ),
        # Ports: head end, tail end.
        "belt_sander": DustSource(
            size="belt_width",
            material="fine_dust",
            needs=_by_inches(
                (6, (440, 350)), (9, (550, 350)), (14, (800, 440)), (inf, (1100, 550))
            ),
        ),
        "drum_sander": DustSource(
            size="drum_surface",
            material="fine_dust",
            needs=tuple(
                AirflowNeed(up_to=square_inches * INCH**2, ports=(cfm * CFM,))
                for square_inches, cfm in (
                    (200, 350),
                    (400, 550),
                    (700, 785),
                    (1400, 1100),
                    (inf, 1400),
                )
            ),
        ),
        "swing_arm_sander": DustSource(
            needs=_any(440), material="fine_dust", confidence="low"
        ),
        "shaper": DustSource(
            size="cutter_size",
            material="chips",
            confidence="low",
            needs=_by_inches((5, (440,)), (inf, (1400,))),
        ),
        "router": DustSource(
            size="cutter_size",
            material="chips",
            confidence="low",
            needs=_by_inches((2, (350,)), (inf, (800,))),
        ),
        "lathe": DustSource(
            size="swing",
            material="chips",
            confidence="low",
            needs=_by_inches((16, (350,)), (inf, (1400,))),
        ),
        "floor_sweep": DustSource(
            size="duct_diameter",
            material="chips",
            needs=_by_inches((6, (800,)), (inf, (1400,))),
        ),
        "hand_sander": DustSource(
            needs=_any(50),
            material="fine_dust",
            source=(
                "Engineering controls for wood dust exposures during sanding, paper "
                "236436, 139th meeting, American Public Health Association"
            ),
            status="read",
            confidence="high",
        ),
        # No published figure was found; a small hood's worth, as at a 4 in pipe.
        "drill_press": DustSource(
            needs=_any(350),
            material="chips",
            source="common practice, no source",
            status="practice",
            confidence="none",
        ),
    }
)
"""Required flow by kind of machine. Shaper, router and lathe plates give a range by
the size of the cut; where the two rows part is a guess. The ACGIH plates are from
memory; see the module's docstring."""


def required_flow(kind: str, size: float | None = None) -> float:
    """Return the flow (m3/s) a machine of a kind and size (m, or m2) needs.

    Raises `AirflowError` for an unknown kind.
    """
    machine = MACHINES.get(kind)
    if machine is None:
        raise AirflowError("machine_kind", f"There is no machine kind {kind!r}")
    return machine.need(size).flow


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """A material in the duct and the range of velocities (m/s) that keeps it moving.

    `low` is where the source's range begins, `high` where it ends; `minimum` is the
    default asked of every duct that carries it. `rising` is asked where it has to rise:
    the upper end of the range, since none of the published tables that could be read
    has a row of its own for vertical runs. `piece` (m) and `density` (kg/m3) are those
    of its larger pieces, for how far they fall behind the air: common practice, no
    source.
    """

    low: float
    high: float
    minimum: float
    source: str
    piece: float
    density: float
    status: Status = "read"

    @property
    def rising(self) -> float:
        """Velocity (m/s) asked of a vertical run."""
        return max(self.minimum, self.high)

    @property
    def velocity_ratio(self) -> float:
        """Velocity of the larger pieces over that of the air, in a steady run.

        `1 - 0.0638 d^0.3 rho^0.5` (d in m, rho in kg/m3), W. B. Hinkle's correlation
        for horizontal pneumatic conveying, as textbooks of particle technology give
        it (memory, confident).
        """
        return float(1.0 - 0.0638 * self.piece**0.3 * self.density**0.5)


_RANGE: Final = (
    "ACGIH, Industrial Ventilation, 2009, range of minimum duct design velocities, "
    "in two reprints"
)

MATERIALS_CARRIED: Final = MappingProxyType(
    {
        # Wood flour.
        "fine_dust": Carried(
            low=2500 * FPM,
            high=3000 * FPM,
            minimum=3000 * FPM,
            source=_RANGE,
            piece=0.0003,
            density=600.0,
        ),
        # Dry dust with light shavings: the upper half of its range.
        "sawdust": Carried(
            low=3000 * FPM,
            high=4000 * FPM,
            minimum=3500 * FPM,
            source=_RANGE,
            piece=0.002,
            density=600.0,
        ),
        # Dry light sawdust to heavy chips and green shavings, the upper end.
        "chips": Carried(
            low=2500 * FPM,
            high=4000 * FPM,
            minimum=4000 * FPM,
            source="OSHA 3157, Guide for protecting workers from woodworking hazards",
            piece=0.01,
            density=500.0,
        ),
        # Heavy or wet sawdust, blocks, hog waste.
        "heavy": Carried(
            low=4000 * FPM,
            high=4500 * FPM,
            minimum=4500 * FPM,
            source=_RANGE,
            piece=0.02,
            density=700.0,
        ),
    }
)
"""Transport velocities by material. `minimum` is chosen within the published range;
HSE HSG258 (memory) has 15 m/s for dry dust, 20 m/s for shavings, 25 m/s for damp."""
