"""A sized shop as plain data in SI units. Run it in a thread."""

from ...core.airflow.sizing import Sizing, material_list, size_ducts
from .data import Data
from .sizing_request import SizingRequest


def sizing(request: SizingRequest) -> Data:
    """Size a shop and return the complete result.

    Flows in m3/s, velocities in m/s, pressures in Pa, lengths in m, power in W. Raises
    `AirflowError`.
    """
    found = size_ducts(request.system, request.sets, request.rules, fans=request.fans)
    return sized_data(request, found)


def sized_data(request: SizingRequest, found: Sizing) -> Data:
    """Return the complete data of a sized shop, in the same units."""
    return {
        "system": request.title,
        "fan": request.rules.fan,
        "balanced": request.rules.balanced,
        "margin": request.rules.margin,
        "sizes": list(request.rules.sizes),
        "listed": request.listed,
        "not_placed": list(request.not_placed),
        "ratio": found.ratio,
        "verdict": found.verdict.value,
        "power": found.power,
        "segments": _segments(request, found),
        "sets": [_set(request, found, number) for number in range(len(found.sets))],
        "changes": [
            {
                "change": remedy.kind.value,
                "elements": [_named(request, name) for name in remedy.elements],
                "widths": {
                    _named(request, name): width
                    for name, width in remedy.widths.items()
                },
                "flow": remedy.flow,
                "pressure": remedy.pressure,
                "ratio": remedy.ratio,
                "verdict": remedy.verdict.value,
            }
            for remedy in found.remedies
        ],
        "duty": [
            {
                "name": point.name,
                "flow": point.flow,
                "pressure": point.pressure,
                "suction": point.suction,
                "governs": point.governs,
            }
            for point in found.duty
        ],
        "fans": [
            {
                "name": fan.name,
                "ratio": fan.ratio,
                "verdict": fan.verdict.value,
                "worst": fan.worst,
                "stalled": list(fan.stalled),
            }
            for fan in found.fans
        ],
        "waste": request.waste,
        "materials": [
            {
                "item": item.kind.value,
                "diameter": item.diameter,
                "other": item.other,
                "angle": item.angle,
                "radius": item.radius,
                "count": item.count,
                "length": item.length,
                "piece": request.piece,
            }
            for item in material_list(
                found.system, waste=request.waste, piece=request.piece
            )
        ],
    }


def _named(request: SizingRequest, element: str) -> str:
    # A part that the user may not see has no name.
    return request.names.get(element, "")


def _segments(request: SizingRequest, found: Sizing) -> list[Data]:
    """Return every sized pipe, from the collector outwards."""
    lengths = {duct.id: duct.length for duct in found.system.ducts}
    lengths |= {
        pickup.id: sum(pipe.length for pipe in pickup.pipes)
        for pickup in found.system.pickups
    }
    ducts = {duct.id for duct in found.system.ducts}
    return [
        {
            "name": _named(request, element),
            "kind": "duct" if element in ducts else "pickup",
            "diameter": diameter,
            "length": lengths[element],
        }
        for element, diameter in reversed(list(found.diameters.items()))
    ]


def _set(request: SizingRequest, found: Sizing, number: int) -> Data:
    one = found.sets[number]
    return {
        "name": one.name,
        "bleed": _named(request, one.bleed),
        "ratio": one.ratio,
        "verdict": one.verdict.value,
        "rule": one.rule,
        "element": _named(request, one.element),
        "flow": one.flow,
        "pressure": one.pressure,
        "suction": one.suction,
        "power": one.power,
        "stalled": one.stalled,
        "table": [
            {
                "segment": _named(request, row.element),
                "flow": row.flow,
                "required": row.required,
                "diameter": row.diameter,
                "velocity": row.velocity,
                "transport": row.transport,
                "velocity_pressure": row.velocity_pressure,
                "losses": {kind.value: loss for kind, loss in row.losses.items()},
                "loss": row.loss,
                "static": row.static,
            }
            for row in one.rows
        ],
    }
