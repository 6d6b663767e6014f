"""The stored description of a gate, a machine and a duct."""

from dataclasses import dataclass
from typing import Annotated, ClassVar, Final

from ..airflow import HOODS, MATERIALS, HoseState, Seal
from ..shop.kinds import ActuatorSort, MachineKind
from ..shop.plan import (
    HOSE_CONFIRM,
    SIGNAL_LEVELS,
    ClearingStep,
    Gate,
    GateKind,
    Levels,
    Machine,
    OnLost,
    Rest,
)
from .table import NAMED, At, Stored, is_one_of

IN_DUCT: Final = "none"
"""Hood of a gate without an opening: it stands in the duct and closes it."""

USUAL_HOOD: Final = "machine_port"
OLD_HOSE: Final = HoseState.STRETCHED
OLD_SEAL: Final = Seal.AIRTIGHT
"""What a gate without the choice is taken for: what its figures meant before there was
one."""

_LEVELS: Final = Levels(start=1.0, stop=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPart(Stored):
    """A part of a system; `part_id` and `name` are kept beside its data."""

    BESIDE = NAMED
    SUBENTRY_TYPE: ClassVar[str] = ""

    part_id: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredGate(StoredPart):
    """A blast gate, its entities, and what lies between the duct and the machine.

    `travel` in s. `open_from` is the position in percent from which it counts as open
    (None: the usual one). `duct` is the duct it sits on; lengths and diameters are m,
    `entry_angle` degrees.
    """

    SUBENTRY_TYPE = "gate"

    kind: Annotated[GateKind, At("gate_kind")]
    travel: float
    idle_position: Annotated[Rest, At("rest")]
    actuator: str | None = None
    actuator_kind: Annotated[ActuatorSort, At("actuator_sort")] = ActuatorSort.OTHER
    inverted: bool = False
    open_sensor: str | None = None
    closed_sensor: Annotated[str | None, At("shut_sensor")] = None
    open_from: float | None = None
    duct: str | None = None
    seal: Seal = OLD_SEAL
    hood: Annotated[str, At(check=is_one_of((*HOODS, IN_DUCT)))] = USUAL_HOOD
    entry_angle: float = 0.0
    port_diameter: float | None = None
    hose_diameter: float | None = None
    hose_length: float = 0.0
    hose_state: HoseState = OLD_HOSE
    drop_diameter: float | None = None
    drop_length: float = 0.0
    drop_elbows: int = 0

    def plan(self, *, feedback: bool = True, lost: bool = False) -> Gate:
        """Return the gate as the control knows it."""
        return Gate(
            gate_id=self.part_id,
            name=self.name,
            kind=self.kind,
            travel=self.travel,
            feedback=feedback,
            rest=self.idle_position,
            lost=lost,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPurge(Stored):
    """A purge step: `gates` that are open for `duration` s after the work."""

    gates: tuple[str, ...]
    duration: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredMachine(StoredPart):
    """A machine or pickup and its entities.

    `sensor` gives a reading in `unit` (None: it is a signal that says `running_states`).
    Levels are in that unit, times and limits in s, `size` in m, `required_flow` in m3/s.
    """

    SUBENTRY_TYPE = "machine"

    kind: MachineKind
    gates: tuple[str, ...]
    needs_air: bool
    hold: float
    sensor: str | None = None
    unit: str | None = None
    running_states: tuple[str, ...] = ()
    start: Annotated[float, At(needed_with="unit")] = SIGNAL_LEVELS.start
    stop: Annotated[float, At(needed_with="unit")] = SIGNAL_LEVELS.stop
    certain: Annotated[float | None, At("certain_level")] = None
    start_confirm: Annotated[float, At("start_settle", needed_with="sensor")] = (
        _LEVELS.start_settle
    )
    stop_confirm: Annotated[float, At("stop_settle", needed_with="sensor")] = (
        _LEVELS.stop_settle
    )
    dropout: Annotated[float, At("grace", needed_with="sensor")] = _LEVELS.grace
    on_lost: Annotated[OnLost, At(needed_with="sensor")] = _LEVELS.on_lost
    stale_after: Annotated[float | None, At("silence")] = None
    run_limit: float | None = None
    relay: str | None = None
    purge: Annotated[tuple[StoredPurge, ...], At("clearing")] = ()
    foretold: str | None = None
    connected: Annotated[str | None, At("attached")] = None
    connect_confirm: Annotated[float, At("hose_confirm")] = HOSE_CONFIRM
    linked_devices: Annotated[tuple[str, ...], At("companions")] = ()
    request_limit: float | None = None
    size: float | None = None
    required_flow: float | None = None

    def levels(self) -> Levels | None:
        """Return when it counts as running; None for one that nothing tells about."""
        if self.sensor is None:
            return None
        signal = self.unit is None
        return Levels(
            start=SIGNAL_LEVELS.start if signal else self.start,
            stop=SIGNAL_LEVELS.stop if signal else self.stop,
            start_settle=self.start_confirm,
            stop_settle=self.stop_confirm,
            grace=self.dropout,
            on_lost=self.on_lost,
            silence=self.stale_after,
            certain=None if signal else self.certain,
        )

    def plan(self) -> Machine:
        """Return the machine as the control knows it."""
        return Machine(
            machine_id=self.part_id,
            name=self.name,
            kind=self.kind,
            gates=self.gates,
            levels=self.levels(),
            needs_air=self.needs_air,
            hold=self.hold,
            clearing=tuple(
                ClearingStep(gates=step.gates, duration=step.duration)
                for step in self.purge
            ),
            movable=self.connected is not None,
            companions=self.linked_devices,
            request_limit=self.request_limit,
            run_limit=self.run_limit,
            foretold=self.foretold is not None,
            hose_confirm=self.connect_confirm,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredElbow(Stored):
    """Elbows of one sort: `angle` in degrees, `radius` in diameters of the duct."""

    count: int
    angle: float
    radius: float
    construction: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredDuct(StoredPart):
    """A duct that flows `into` another or into the collector (None).

    `diameter` and `length` in m, `entry_angle` in degrees.
    """

    SUBENTRY_TYPE = "duct"

    diameter: float
    length: float
    material: Annotated[str, At("duct_material", check=is_one_of(MATERIALS))]
    entry_angle: float
    elbows: tuple[StoredElbow, ...] = ()
    into: str | None = None
    vertical: bool = False
