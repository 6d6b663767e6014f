"""The pressure that a tree needs when every pickup draws just what it is to draw.

The velocity-pressure worksheet (ACGIH, Industrial Ventilation) with gates that make up
what the branches differ by: at each junction the stream that needs most suction
governs, and the others are throttled to it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt

from ..compiled import momentum_regain
from ..model import Pickup
from ..network import Network


@dataclass(frozen=True, slots=True)
class Balance:
    """A tree at given flows.

    `flows` (m3/s) of every element, `pressure` (Pa) the fan's total rise, `throttles`
    what each element is to be throttled by (coefficient on the velocity at its end).
    """

    flows: list[float]
    pressure: float
    throttles: list[float]


def balanced(network: Network, pickups: Iterable[str], margin: float) -> Balance:
    """Return the pressure at given flows.

    Each of the pickups draws what it needs times the margin; where that is not known,
    what its material needs in its widest pipe. Others draw nothing. The network has
    open gates only.
    """
    elements = network.elements
    flow = [0.0] * len(elements)
    need = [0.0] * len(elements)
    throttle = [0.0] * len(elements)
    incoming: dict[int, list[int]] = {}

    def meet(joined: list[int]) -> tuple[float, float, float, float]:
        """Return flow and pressure of streams, their mean velocity pressure and root."""
        total = sum(flow[i] for i in joined)
        high = max(need[i] for i in joined)
        for i in joined:
            throttle[i] = (high - need[i]) / (elements[i].pressure * flow[i] ** 2)
        mixed = root = 0.0
        if total > 0:
            mixed = sum(elements[i].pressure * flow[i] ** 3 for i in joined) / total
            root = (
                sum(sqrt(elements[i].pressure) * flow[i] ** 2 for i in joined) / total
            )
        return total, high, mixed, root

    regain = network.system.regain

    def change(mixed: float, root: float, after: float) -> float:
        """Return what speeding up or slowing down does to the static pressure."""
        if after >= mixed:
            return after - mixed
        if regain is None:
            return -momentum_regain(sqrt(after), root)
        return regain * (after - mixed)

    wanted = set(pickups)
    for index, element in enumerate(elements):
        part = element.part
        if isinstance(part, Pickup):
            if part.id not in wanted:
                continue
            widest = max(run.area for run in element.runs)
            flow[index] = margin * (part.required or part.transport * widest)
            start = element.pressure * flow[index] ** 2 if network.static else 0.0
        elif index in incoming:
            flow[index], start, mixed, root = meet(incoming[index])
            if network.static:
                start += change(mixed, root, element.pressure * flow[index] ** 2)
        else:
            continue
        q = flow[index]
        resistance = element.fixed + sum(
            run.resistance(q) - run.fixed for run in element.runs
        )
        need[index] = start + resistance * q * q
        incoming.setdefault(element.parent, []).append(index)

    total, suction, mixed, root = meet(incoming[-1])
    effect = mixed
    if network.inlet_pressure is not None:
        effect = network.inlet_pressure * total * total
        if network.static:
            suction += change(mixed, root, effect)
            mixed = effect
    suction += network.system.inlet_k * effect
    if not network.static:
        mixed = 0.0
    after = (network.separator + network.behind(total)) * total * total
    pressure = suction - mixed + after + network.filter * total
    return Balance(flow, pressure, throttle)
