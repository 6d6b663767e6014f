"""The complete airflow assessment of a system, as plain data in SI units.

It covers each machine alone, each pair, each set of gates in use, the losses and the
possible improvements. Pure calculation without Home Assistant; run it in a thread.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import combinations

from ...core.airflow import (
    MATERIALS_CARRIED,
    Assessment,
    Diagnosis,
    Gain,
    PortLimit,
    Verdict,
    assess,
    bleed_gates,
    loss_breakdown,
    port_limit,
    ratio_of,
    verdict,
    what_if,
    worst,
)
from .calibration import calibration_data
from .data import Data
from .diagnosis_data import diagnosis_data
from .ducts import AirShop
from .needs import MachineNeed

_HELP = 6
"""How many of the possible improvements are listed."""


def assessment(
    shop: AirShop,
    *,
    speed: float = 1.0,
    met: Iterable[frozenset[str]] = (),
    diagnosis: Diagnosis | None = None,
) -> Data:
    """Return the complete assessment of a system; `met` are the gate sets seen in use.

    Machines and gates whose names are left out of the shop don't appear. Flows in m3/s,
    velocities in m/s, pressures in Pa, lengths in m, times in s.
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
        "margin": shop.margin,
        "air_density": system.air.density,
        "machines": [
            _machine(shop, need, alone[need.machine_id], speed) for need in placed
        ],
        "filter_loading": shop.network.loading,
        "outside": shop.outside,
        "calibration": calibration_data(shop.calibration, shop.names),
        "diagnosis": None
        if diagnosis is None
        else {
            "finding": diagnosis.finding.value,
            **diagnosis_data(diagnosis, shop.names),
        },
        "fan": _fan(shop, speed),
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
    """Return a shop as a user may see it: the same airflow, without hidden names."""
    return replace(
        shop,
        names={part: name for part, name in shop.names.items() if part in seen},
        needs={part: need for part, need in shop.needs.items() if part in seen},
    )


def _named(shop: AirShop, parts: Iterable[str]) -> list[str]:
    """Return the names of parts, for the parts whose name is visible."""
    return sorted(shop.names[part] for part in parts if part in shop.names)


def _fan(shop: AirShop, speed: float) -> Data:
    """Return the fan's curve (m3/s, Pa) used for the calculation, and its peak."""
    network = shop.network
    fan, density = network.system.fan, network.system.air.density
    last = fan.free_flow * speed
    flows = [last * step / 40 for step in range(41)]
    return {
        "curve": [
            (q, network.fan_scale * fan.pressure(q, speed=speed, density=density))
            for q in flows
        ],
        "entered": [(q, fan.pressure(q, speed=speed, density=density)) for q in flows],
        "surge_below": fan.peak[0] * speed if fan.peak[0] > 0 else 0.0,
    }


def _port(shop: AirShop, found: PortLimit) -> Data:
    return {
        "pickup": shop.names.get(found.pickup, ""),
        "diameter": found.narrowest,
        "velocity": found.velocity,
        "suction": found.suction,
        "possible": found.possible,
        "larger": found.larger,
        "count": found.count,
        "hopeless": found.hopeless,
        "weak_fan": found.weak_fan,
        "required": found.required,
        "most": found.most,
    }


def _transport_flow(found: Assessment) -> float:
    """Return the collector flow (m3/s) below which material settles; 0 for none."""
    ratios = [r.ratio for r in found.ducts if r.transport > 0]
    ratios += [
        ratio_of(r.velocity, r.transport) for r in found.pickups if r.transport > 0
    ]
    return found.solution.flow / min(ratios) if ratios else 0.0


def _duct_ids(shop: AirShop) -> list[str]:
    return [duct.id for duct in shop.network.system.ducts]


def _state(shop: AirShop, found: Assessment) -> Data:
    """Return the figures of one set of gates."""
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
        "main_verdict": _main(shop, found).value,
        "set_verdict": found.verdict(shop.margin).value,
        "slow": _named(shop, found.slow),
        "marginal": _named(
            shop,
            (
                element
                for element, ratio in (
                    *(
                        (r.pickup, ratio_of(r.velocity, r.transport))
                        for r in found.pickups
                    ),
                    *((r.duct, r.ratio) for r in found.ducts),
                )
                if verdict(ratio, shop.margin) is Verdict.MARGINAL
            ),
        ),
        "transit": found.transit,
        "emptying": found.emptying,
    }


def _main(shop: AirShop, found: Assessment) -> Verdict:
    if not found.ducts:
        return Verdict.TOO_LITTLE
    return found.main_verdict(shop.margin)


def _served(shop: AirShop, need: MachineNeed, found: Assessment) -> Data:
    flow = shop.flow(found.solution.pickups, need.machine_id)
    judged = verdict(ratio_of(flow, need.required), shop.margin)
    return {
        "name": need.name,
        "flow": flow,
        "required": need.required,
        "enough": judged is not Verdict.TOO_LITTLE,
        "verdict": judged.value,
    }


def _machine(shop: AirShop, need: MachineNeed, found: Assessment, speed: float) -> Data:
    return {
        "id": need.machine_id,
        # First, because its flow is the collector's: the machine's own losses count
        # here.
        **_state(shop, found),
        **_served(shop, need, found),
        "required_status": need.status,
        "required_source": need.source,
        "material": need.material,
        "ports": [
            _port(shop, limit)
            for pickup in need.pickups
            if (limit := port_limit(shop.network, pickup)) is not None
        ],
        "transport_flow": _transport_flow(found),
        "flow_at_fan": found.solution.flow,
        "filter_pressure": found.solution.filter_pressure,
        "transport": need.transport,
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
                    for step in loss_breakdown(found.solution, pickup.pickup)
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
            for option in bleed_gates(
                shop.network, need.gates, speed=speed, margin=shop.margin
            )[:3]
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
        "piece": gain.change.piece(shop.network.system).value,
        "element": shop.names.get(gain.change.element, ""),
        "value": gain.change.value,
        "before": gain.before,
        "after": gain.after,
        "gain": gain.gain,
        "lift": gain.lift,
        "slows": _named(shop, gain.slows),
    }


def _pair(shop: AirShop, pair: tuple[MachineNeed, MachineNeed], speed: float) -> Data:
    found = assess(shop.network, pair[0].gates | pair[1].gates, speed=speed)
    machines = [_served(shop, need, found) for need in pair]
    return {
        "machines": machines,
        "enough": all(machine["enough"] for machine in machines),
        **_state(shop, found),
        "verdict": worst(Verdict(m["verdict"]) for m in machines).value,
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
        for number, step in enumerate(need.purge, 1):
            sets.setdefault(step, ("purge", f"{need.name} {number}"))
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
    """Return a duct, and the machine that moves its air slowest when it runs alone."""
    part = next(duct for duct in shop.network.system.ducts if duct.id == duct_id)
    by_machine: list[Data] = [
        {
            "name": shop.needs[machine_id].name,
            "flow": result.flow,
            "velocity": result.velocity,
            "transport": result.transport,
            "carries": result.carries,
            "verdict": verdict(result.ratio, shop.margin).value,
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
