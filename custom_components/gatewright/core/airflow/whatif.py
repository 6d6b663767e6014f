"""The same shop with one thing changed, and what that gains.

The changes tried are those an owner can make: a wider duct or hose, rigid metal pipe or
a shorter hose instead of a long one, wide bends, a flatter branch entry, a tapered hood
at an open end, a clean filter, tight gates, a larger wheel. How large each step is
(25 mm, half the hose, a tenth more wheel) is a choice, not a rule of the trade. A wheel
a tenth larger takes 1.1^5 of the power (fan laws): that is the maker's to allow.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from math import inf
from typing import Final

from .advice import Assessment, assess
from .errors import AirflowError
from .fittings import HOODS
from .friction import HOSE_ROUGH, MATERIALS
from .gate import Seal, SlideGate, leak_area
from .model import Duct, DuctSystem, Pickup
from .network import Network, OpenGates
from .pipe import Elbow, Pipe

_WIDER: Final = 0.025
_WIDE_BEND: Final = 2.0
_FLAT_ENTRY: Final = 30.0
_LARGER: Final = 1.1


_TIGHT: Final = leak_area(Seal.TIGHT, 0.1)
"""What is left of the gap (m2) of a gate that was replaced by a tight one of 4 in."""


class ChangeKind(StrEnum):
    """What is changed."""

    WIDER = "wider"
    SMOOTH = "smooth"
    STRETCHED = "stretched"
    SHORTER = "shorter"
    WIDE_BENDS = "wide_bends"
    FLAT_ENTRY = "flat_entry"
    BETTER_HOOD = "better_hood"
    TIGHT_GATES = "tight_gates"
    CLEAN_FILTER = "clean_filter"
    LARGER_FAN = "larger_fan"


class PipeSort(StrEnum):
    """What sort of pipe a change is made to."""

    PORT = "port"
    HOSE = "hose"
    PIPE = "pipe"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change. `element` is empty for the collector, or for all gates.

    `pipe` counts the pipes of a pickup. `value` is the new figure: diameter or
    length in m, roughness in m, radius over diameter, degrees, coefficient,
    leak area in m2, filter loading, size ratio.
    """

    kind: ChangeKind
    value: float
    element: str = ""
    pipe: int = 0

    def piece(self, system: DuctSystem) -> PipeSort:
        """Return what sort of pipe is changed."""
        for pickup in system.pickups:
            if pickup.id == self.element and self.pipe < len(pickup.pipes):
                pipe = pickup.pipes[self.pipe]
                if not pipe.length and not pipe.elbows:
                    return PipeSort.PORT
                return PipeSort.HOSE if pipe.roughness > HOSE_ROUGH else PipeSort.PIPE
        return PipeSort.PIPE

    def apply(self, system: DuctSystem) -> DuctSystem:
        """Return the system with the change made. Raises `AirflowError`."""
        if self.kind is ChangeKind.CLEAN_FILTER:
            if system.filter is None:
                raise AirflowError("unknown_element", "There is no filter")
            return replace(system, filter=replace(system.filter, loading=self.value))
        if self.kind is ChangeKind.LARGER_FAN:
            return replace(system, fan=system.fan.scaled(size=self.value))
        if self.kind is ChangeKind.TIGHT_GATES:
            return replace(
                system,
                ducts=tuple(replace(d, gate=self._tight(d.gate)) for d in system.ducts),
                pickups=tuple(
                    replace(p, gate=self._tight(p.gate)) for p in system.pickups
                ),
            )
        known = {duct.id for duct in system.ducts}
        known.update(pickup.id for pickup in system.pickups)
        if self.element not in known:
            raise AirflowError(
                "unknown_element",
                f"There is no duct or pickup {self.element!r}",
                element=self.element,
            )
        return replace(
            system,
            ducts=tuple(
                self._duct(d) if d.id == self.element else d for d in system.ducts
            ),
            pickups=tuple(
                self._pickup(p) if p.id == self.element else p for p in system.pickups
            ),
        )

    def _tight(self, gate: SlideGate | None) -> SlideGate | None:
        if gate is None:
            return None
        return replace(gate, leak_area=min(gate.leak_area, self.value))

    def _bends(self, elbows: tuple[Elbow, ...]) -> tuple[Elbow, ...]:
        return tuple(
            replace(elbow, radius_ratio=self.value, construction="stamped")
            if _is_tight(elbow)
            else elbow
            for elbow in elbows
        )

    def _duct(self, duct: Duct) -> Duct:
        match self.kind:
            case ChangeKind.WIDER:
                return replace(duct, diameter=self.value)
            case ChangeKind.SMOOTH:
                return replace(duct, roughness=self.value)
            case ChangeKind.SHORTER:
                return replace(duct, length=self.value)
            case ChangeKind.WIDE_BENDS:
                return replace(duct, elbows=self._bends(duct.elbows))
            case ChangeKind.FLAT_ENTRY:
                return replace(duct, entry_angle=self.value)
        raise AirflowError("change_kind", f"A duct has no {self.kind}", element=duct.id)

    def _pickup(self, pickup: Pickup) -> Pickup:
        if self.kind is ChangeKind.BETTER_HOOD:
            return replace(pickup, entry_k=self.value)
        if self.kind is ChangeKind.FLAT_ENTRY:
            return replace(pickup, entry_angle=self.value)
        if self.pipe >= len(pickup.pipes):
            raise AirflowError(
                "unknown_element",
                f"Pickup {pickup.id} has no pipe number {self.pipe}",
                element=pickup.id,
            )
        pipes = list(pickup.pipes)
        pipes[self.pipe] = self._piped(pipes[self.pipe])
        return replace(pickup, pipes=tuple(pipes))

    def _piped(self, pipe: Pipe) -> Pipe:
        match self.kind:
            case ChangeKind.WIDER:
                return replace(pipe, diameter=self.value)
            case ChangeKind.SMOOTH:
                # A rigid pipe neither sags nor is it gathered up.
                return replace(
                    pipe, roughness=self.value, friction_scale=1.0, elbows=()
                )
            case ChangeKind.STRETCHED:
                return replace(pipe, friction_scale=self.value, elbows=())
            case ChangeKind.SHORTER:
                return replace(pipe, length=self.value)
        return replace(pipe, elbows=self._bends(pipe.elbows))


def _is_tight(elbow: Elbow) -> bool:
    """Whether an elbow is worse than the stamped one of a wide bend."""
    wide = replace(elbow, radius_ratio=_WIDE_BEND, construction="stamped")
    return elbow.k is None and wide.coefficient(0.15) < elbow.coefficient(0.15)


def _body_changes(part: Duct | Pipe, element: str, pipe: int) -> Iterable[Change]:
    def change(kind: ChangeKind, value: float) -> Change:
        return Change(kind=kind, value=value, element=element, pipe=pipe)

    yield change(ChangeKind.WIDER, part.diameter + _WIDER)
    if part.roughness > HOSE_ROUGH and part.length > 0:
        # Metal, since plastic pipe charges up.
        yield change(ChangeKind.SMOOTH, MATERIALS["galvanized"].roughness)
        if isinstance(part, Pipe) and part.friction_scale > 1.0:
            yield change(ChangeKind.STRETCHED, 1.0)
        yield change(ChangeKind.SHORTER, 0.5 * part.length)
    if any(_is_tight(elbow) for elbow in part.elbows):
        yield change(ChangeKind.WIDE_BENDS, _WIDE_BEND)


def changes_for(network: Network, pickup: str) -> tuple[Change, ...]:
    """Return the changes worth trying on a pickup's way. Raises `AirflowError`."""
    system = network.system
    found: list[Change] = []
    hood, built_in = HOODS["tapered"].coefficient, HOODS["machine_port"].coefficient
    for element in network.path(pickup):
        part = element.part
        if isinstance(part, Pickup):
            for number, pipe in enumerate(part.pipes):
                found.extend(_body_changes(pipe, part.id, number))
            # A machine's own port is inside its cabinet: no taper goes there.
            if hood < part.entry_k < built_in:
                found.append(
                    Change(kind=ChangeKind.BETTER_HOOD, value=hood, element=part.id)
                )
        else:
            found.extend(_body_changes(part, part.id, 0))
        if part.entry_angle > _FLAT_ENTRY:
            found.append(
                Change(kind=ChangeKind.FLAT_ENTRY, value=_FLAT_ENTRY, element=part.id)
            )
    if any(
        e.gate is not None and e.gate.leak_area > 1.5 * _TIGHT for e in network.elements
    ):
        found.append(Change(kind=ChangeKind.TIGHT_GATES, value=_TIGHT))
    if system.filter is not None and network.loading > 1.0:
        found.append(Change(kind=ChangeKind.CLEAN_FILTER, value=1.0))
    found.append(Change(kind=ChangeKind.LARGER_FAN, value=_LARGER))
    return tuple(found)


def _alike(network: Network, changed: Network, change: Change) -> Network:
    """Return the changed shop with what was found out about this one."""
    loading: float | None = network.loading
    if network.filter <= 0 or change.kind is ChangeKind.CLEAN_FILTER:
        loading = None
    scales = None
    if network.scales is not None:
        scales = {e.id: network.scales[e.index] for e in network.elements}
        # What was measured of a part is no longer true of what replaces it.
        scales.pop(change.element, None)
    return changed.adjusted(
        fan=network.fan_scale,
        speed=network.speed_scale,
        loading=loading,
        scales=scales,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What a change does to a pickup.

    Flows of the pickup in m3/s before and after, `ratio` that of the whole set before
    (see `Assessment.ratio`). `slows` are ducts and pickups that kept their material
    moving before and no longer do.
    """

    change: Change
    pickup: str
    before: float
    after: float
    ratio: float
    slows: tuple[str, ...]
    assessment: Assessment

    @property
    def gain(self) -> float:
        """Share of the flow that is gained; negative for a loss."""
        return self.after / self.before - 1.0

    @property
    def lift(self) -> float:
        """Share by which the weakest flow or velocity of all comes nearer to its need."""
        return 0.0 if self.ratio == inf else self.assessment.ratio / self.ratio - 1.0


def what_if(
    network: Network,
    open_gates: OpenGates,
    *,
    pickup: str | None = None,
    changes: Iterable[Change] | None = None,
    speed: float = 1.0,
) -> tuple[Gain, ...]:
    """Return what changes do for a pickup, the largest gain first.

    `pickup` is by default the neediest one, `changes` all that `changes_for` finds
    on its way. Empty with no pickup open. Raises `AirflowError`.
    """
    base = assess(network, open_gates, speed=speed)
    if pickup is None:
        neediest = base.neediest
        if neediest is None:
            return ()
        pickup = neediest.pickup
    before = base.solution.flow_of(pickup)
    if before <= 0:
        raise AirflowError("no_flow", f"No air enters at {pickup!r}", element=pickup)
    gains: list[Gain] = []
    for change in changes_for(network, pickup) if changes is None else changes:
        changed = _alike(network, Network(change.apply(network.system)), change)
        after = assess(changed, open_gates, speed=speed)
        gains.append(
            Gain(
                change=change,
                pickup=pickup,
                before=before,
                after=after.solution.flow_of(pickup),
                ratio=base.ratio,
                slows=tuple(name for name in after.slow if name not in base.slow),
                assessment=after,
            )
        )
    return tuple(sorted(gains, key=lambda gain: -gain.after))
