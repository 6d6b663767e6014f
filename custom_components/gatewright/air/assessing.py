"""The whole assessment of a system's air, as plain data in SI units.

Everything a person or a program may want to know: each machine alone, each pair,
each set of gates in use, the losses, and what would help. Pure calculation without
the hub, to be run in a thread.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import combinations
from typing import Any

from ..airflow import MATERIALS_CARRIED, Assessment, Gain, assess, relief, what_if
from .ducts import AirShop
from .needs import MachineNeed

type Data = dict[str, Any]

_HELP = 6
"""How many of the changes that would help are told."""


def assessment(
    shop: AirShop,
    *,
    speed: float = 1.0,
    met: Iterable[frozenset[str]] = (),
) -> Data:
    """Return everything about a system's air; `met` are gate sets met in use.

    Nothing is told of a machine or gate whose name is left out of the shop's.
    Flows in m3/s, velocities in m/s, pressures in Pa, lengths in m, times in s.
    """
    system = shop.network.system
    placed = [need for need in shop.needs.values() if need.placed]
    alone = {
        need.machine_id: assess(shop.network, need.gates, speed=speed)
        for need in placed
    }
    return {
        "system": shop.name,
        "speed": speed,
        "air_density": system.air.density,
        "machines": [
            _machine(shop, need, alone[need.machine_id], speed) for need in placed
        ],
        "not_placed": [need.name for need in shop.needs.values() if not need.placed],
        "pairs": [_pair(shop, pair, speed) for pair in combinations(placed, 2)],
        "combinations": list(_combinations(shop, placed, met, speed)),
        "ducts": [_duct(shop, duct_id, alone) for duct_id in _duct_ids(shop)],
        "transport_velocities": {
            name: {
                "minimum": carried.minimum,
                "low": carried.low,
                "high": carried.high,
                "status": carried.status,
                "source": carried.source,
            }
            for name, carried in MATERIALS_CARRIED.items()
        },
    }


def seen_of(shop: AirShop, seen: frozenset[str]) -> AirShop:
    """Return a shop as somebody may know it: the air is the same, names are left out."""
    return replace(
        shop,
        names={part: name for part, name in shop.names.items() if part in seen},
        needs={part: need for part, need in shop.needs.items() if part in seen},
    )


def _named(shop: AirShop, parts: Iterable[str]) -> list[str]:
    """Return the names of parts, of those that have one to be told."""
    return sorted(shop.names[part] for part in parts if part in shop.names)


def _duct_ids(shop: AirShop) -> list[str]:
    return [duct.id for duct in shop.network.system.ducts]


def _state(shop: AirShop, found: Assessment) -> Data:
    """Return what every set of gates is told about."""
    solution = found.solution
    return {
        "gates": _named(shop, found.gates),
        "flow": solution.flow,
        "suction": solution.suction,
        "fan_pressure": solution.fan_pressure,
        "stalled": solution.stalled,
        "extrapolated": solution.extrapolated,
        "main_velocity": found.main_velocity,
        "main_needed": max((d.transport for d in found.ducts if d.main), default=0.0),
        "main_ok": bool(found.ducts) and found.main_ok,
        "slow": _named(shop, found.slow),
        "transit": found.transit,
    }


def _served(shop: AirShop, need: MachineNeed, found: Assessment) -> Data:
    flow = shop.flow(found.solution.pickups, need.machine_id)
    return {
        "name": need.name,
        "flow": flow,
        "required": need.required,
        "enough": flow >= need.required * (1 - 1e-6),
    }


def _machine(shop: AirShop, need: MachineNeed, found: Assessment, speed: float) -> Data:
    return {
        "id": need.machine_id,
        **_served(shop, need, found),
        "required_status": need.status,
        "required_source": need.source,
        "material": need.material,
        "transport": need.transport,
        **_state(shop, found),
        "limits": [
            {
                "kind": limit.kind.value,
                "element": shop.names.get(limit.element, ""),
                "share": limit.share,
                "pressure": limit.pressure,
            }
            for limit in found.limits
        ],
        "breakdown": [
            {
                "pickup": shop.names.get(pickup.pickup, ""),
                "flow": pickup.flow,
                "hood_suction": pickup.hood_suction,
                "steps": [
                    {
                        "kind": step.kind.value,
                        "element": shop.names.get(step.element, ""),
                        "flow": step.flow,
                        "velocity": step.velocity,
                        "velocity_pressure": step.velocity_pressure,
                        "coefficient": step.coefficient,
                        "loss": step.loss,
                        "static": step.static,
                        "total": step.total,
                    }
                    for step in found.solution.breakdown(pickup.pickup)
                ],
            }
            for pickup in found.pickups
        ],
        "relief": [
            {
                "gates": _named(shop, option.gates),
                "restored": option.restored,
                "flow": shop.flow(option.assessment.solution.pickups, need.machine_id),
                "main_velocity": option.assessment.main_velocity,
            }
            for option in relief(shop.network, need.gates, speed=speed)[:3]
            if option.gates <= shop.names.keys()
        ],
        "what_if": [
            _gain(shop, gain)
            for gain in what_if(shop.network, need.gates, speed=speed)[:_HELP]
            if gain.gain > 0.001
        ],
    }


def _gain(shop: AirShop, gain: Gain) -> Data:
    return {
        "change": gain.change.kind.value,
        "element": shop.names.get(gain.change.element, ""),
        "value": gain.change.value,
        "before": gain.before,
        "after": gain.after,
        "gain": gain.gain,
        "slows": _named(shop, gain.slows),
    }


def _pair(shop: AirShop, pair: tuple[MachineNeed, MachineNeed], speed: float) -> Data:
    found = assess(shop.network, pair[0].gates | pair[1].gates, speed=speed)
    machines = [_served(shop, need, found) for need in pair]
    return {
        "machines": machines,
        "enough": all(machine["enough"] for machine in machines),
        **_state(shop, found),
    }


def _combinations(
    shop: AirShop,
    placed: list[MachineNeed],
    met: Iterable[frozenset[str]],
    speed: float,
) -> Iterator[Data]:
    """Yield the sets of gates in use, and whether the main keeps its velocity."""
    sets: dict[frozenset[str], tuple[str, str]] = {}
    for need in placed:
        sets.setdefault(need.gates, ("machine", need.name))
        for number, step in enumerate(need.clearing, 1):
            sets.setdefault(step, ("clearing", f"{need.name} {number}"))
    for one, other in combinations(placed, 2):
        names = f"{one.name} + {other.name}"
        sets.setdefault(one.gates | other.gates, ("pair", names))
    for gates in met:
        if not gates <= shop.names.keys():
            continue
        names = " + ".join(sorted(shop.names[gate] for gate in gates))
        sets.setdefault(gates, ("seen", names))
    for gates, (kind, name) in sets.items():
        found = assess(shop.network, gates, speed=speed)
        if found.pickups:
            yield {"kind": kind, "name": name, **_state(shop, found)}


def _duct(shop: AirShop, duct_id: str, alone: Mapping[str, Assessment]) -> Data:
    """Return a duct and the machine, running alone, that moves its air slowest."""
    part = next(duct for duct in shop.network.system.ducts if duct.id == duct_id)
    by_machine: list[Data] = [
        {
            "name": shop.needs[machine_id].name,
            "flow": result.flow,
            "velocity": result.velocity,
            "transport": result.transport,
            "carries": result.carries,
        }
        for machine_id, found in alone.items()
        for result in found.ducts
        if result.duct == duct_id
    ]
    return {
        "id": duct_id,
        "name": shop.names[duct_id],
        "into": "" if part.into is None else shop.names[part.into],
        "diameter": part.diameter,
        "length": part.length,
        "slowest": min(by_machine, key=lambda row: row["velocity"], default=None),
        "machines": by_machine,
    }
