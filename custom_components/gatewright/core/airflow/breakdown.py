"""The loss breakdown: what the pressure is spent on from a pickup to the open air."""

from dataclasses import dataclass
from enum import StrEnum

from .compiled import LEAST_REYNOLDS, CompiledRun, Element
from .errors import AirflowError
from .friction import HOSE_ROUGH, friction_factor
from .model import Pickup
from .solution import Solution


class StepKind(StrEnum):
    """What a step of a breakdown is spent on."""

    HOOD = "hood"
    FRICTION = "friction"
    HOSE = "hose"
    ELBOWS = "elbows"
    OTHER = "other"
    MEASURED = "measured"
    WIDENING = "widening"
    GATE = "gate"
    BRANCH_ENTRY = "branch_entry"
    JUNCTION = "junction"
    INLET = "inlet"
    INLET_EFFECT = "inlet_effect"
    SEPARATOR = "separator"
    FILTER = "filter"
    FAN = "fan"
    OUTLET = "outlet"
    EXIT = "exit"


@dataclass(frozen=True, slots=True)
class LossStep:
    """One step of the air from a pickup to where it leaves.

    `element` is the id of the pickup or duct, empty for the collector. `flow` in
    m3/s, `velocity` in m/s and `velocity_pressure` in Pa are those that
    `coefficient` refers to (0 where there is none). `loss` is what the total
    pressure falls by (Pa): at a junction it may be negative, where a slow stream is
    carried along by a faster one, and at the fan it is what the fan adds. `static`
    and `total` are the gauge pressures (Pa) after the step.
    """

    kind: StepKind
    element: str
    flow: float
    velocity: float
    velocity_pressure: float
    coefficient: float
    loss: float
    static: float
    total: float


def loss_breakdown(solution: Solution, pickup: str) -> tuple[LossStep, ...]:
    """Return every step from a pickup to where the air leaves.

    The losses add up to what the fan gives, which is the `FAN` step's loss with
    its sign turned. Raises `AirflowError` for a pickup without flow.
    """
    element = solution.network.element(pickup)
    if not isinstance(element.part, Pickup) or solution.flow_of(pickup) <= 0:
        raise AirflowError("no_flow", f"No air enters at {pickup!r}", element=pickup)
    ledger = _Ledger()
    for part in solution.network.path(pickup):
        _walk(solution, ledger, part)
    _through_collector(solution, ledger)
    return tuple(ledger.steps)


def loss_shares(steps: tuple[LossStep, ...]) -> tuple[tuple[StepKind, str, float], ...]:
    """Return the share of each loss in their sum, largest first.

    Steps of 0 and the fan itself are left out; a stream that is carried along
    counts as 0.
    """
    losses = [
        step for step in steps if step.kind is not StepKind.FAN and step.loss > 0.0
    ]
    whole = sum(step.loss for step in losses)
    return tuple(
        (step.kind, step.element, step.loss / whole)
        for step in sorted(losses, key=lambda step: -step.loss)
    )


def _walk(solution: Solution, ledger: _Ledger, element: Element) -> None:
    """Add the steps of one pickup or duct."""
    flow = solution.flow_of(element.id)
    square = flow * flow
    for number, run in enumerate(element.runs):
        ledger.at(element.id, flow, run.area, run.pressure)
        if number:
            ledger.add(StepKind.WIDENING, element.joints[number - 1] * square)
        elif isinstance(element.part, Pickup):
            ledger.add(StepKind.HOOD, element.hood * square)
        else:
            start = solution.start_total(element)
            ledger.add(StepKind.JUNCTION, start + ledger.total)
        hose = isinstance(element.part, Pickup) and run.pipe.roughness > HOSE_ROUGH
        _pipe(ledger, run, flow, StepKind.HOSE if hose else StepKind.FRICTION)
    ledger.add(StepKind.GATE, solution.gate_loss(element) * square)
    ledger.add(StepKind.BRANCH_ENTRY, element.entry * square)
    ledger.add(StepKind.MEASURED, solution.adjustment(element) * square)


def _pipe(
    ledger: _Ledger, run: CompiledRun, flow: float, kind: StepKind = StepKind.FRICTION
) -> None:
    """Add the steps of a pipe; `kind` is that of its friction."""
    square = flow * flow
    reynolds = max(run.reynolds * flow, LEAST_REYNOLDS)
    friction = run.friction * friction_factor(reynolds, run.rough)
    other = run.pressure * run.pipe.extra_k
    elbows = run.resistance(flow) - friction - other
    ledger.add(kind, friction * square)
    ledger.add(StepKind.ELBOWS, elbows * square)
    ledger.add(StepKind.OTHER, other * square)


def _through_collector(solution: Solution, ledger: _Ledger) -> None:
    """Add the steps from the collector's inlet to the open air."""
    network = solution.network
    system = network.system
    flow = solution.flow
    ledger.collector(flow, solution.inlet_velocity_pressure, system.air.density)
    # What the inlet loses or brings, like a junction.
    ledger.add(StepKind.INLET, ledger.total - solution.inlet_total)
    ledger.add(StepKind.INLET_EFFECT, solution.inlet_effect)
    if system.separator_first:
        ledger.add(StepKind.SEPARATOR, solution.separator_pressure)
    outlet = system.fan.outlet * system.air.density / system.fan.density
    ledger.velocity_after = outlet * flow * flow
    ledger.add(StepKind.FAN, -solution.fan_pressure)
    ledger.velocity_after = 0.0
    ledger.add(StepKind.OUTLET, network.outlet_loss * flow * flow)
    if not system.separator_first:
        ledger.add(StepKind.SEPARATOR, solution.separator_pressure)
    ledger.add(StepKind.FILTER, solution.filter_pressure)
    run = network.discharge
    if run is not None:
        ledger.at("", flow, run.area, run.pressure)
        _pipe(ledger, run, flow)
        ledger.velocity_after = 0.0
        ledger.add(StepKind.EXIT, network.exit * flow * flow)


class _Ledger:
    """Keeps the running pressures while a breakdown is written."""

    def __init__(self) -> None:
        self.steps: list[LossStep] = []
        self.total = 0.0
        self.element = ""
        self.flow = self.velocity = self.velocity_pressure = 0.0
        self.velocity_after = 0.0

    def at(self, element: str, flow: float, area: float, pressure: float) -> None:
        """Say where the next steps are."""
        self.element = element
        self.flow = flow
        self.velocity = flow / area
        self.velocity_pressure = self.velocity_after = pressure * flow * flow

    def collector(self, flow: float, velocity_pressure: float, density: float) -> None:
        """Say that the next steps are in the collector."""
        self.element = ""
        self.flow = flow
        self.velocity = (2.0 * velocity_pressure / density) ** 0.5
        self.velocity_pressure = self.velocity_after = velocity_pressure

    def add(self, kind: StepKind, loss: float) -> None:
        """Write a step, unless nothing happens in it."""
        self.total -= loss
        if abs(loss) < 1e-3:
            return
        reference = self.velocity_pressure
        self.steps.append(
            LossStep(
                kind=kind,
                element=self.element,
                flow=self.flow,
                velocity=self.velocity,
                velocity_pressure=reference,
                coefficient=loss / reference if reference > 0.0 else 0.0,
                loss=loss,
                static=self.total - self.velocity_after,
                total=self.total,
            )
        )
