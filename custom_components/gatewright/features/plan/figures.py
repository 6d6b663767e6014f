"""A drawing's airflow as plain data: flows, velocities, verdicts, limits.

Flows in m3/s, velocities in m/s, pressures in Pa, lengths in m. Run it in a thread.
"""

from collections.abc import Collection, Iterable
from typing import Final

from homeassistant.core import HomeAssistant

from ...core.airflow import AirflowError, Assessment, Verdict, assess, ratio_of, verdict
from ...core.plan.fittings import Fitting, fittings
from ..airflow.data import Data
from ..airflow.ducts import AirShop
from ..airflow.needs import MachineNeed
from .draft_shop import DraftShop, is_planned

NO_FAN: Final = "no_fan"
NO_DUCTS: Final = "no_ducts"
IMPOSSIBLE: Final = "impossible"
"""Why there are no figures."""

_POINTS: Final = 40


def figures(
    hass: HomeAssistant,
    shop: DraftShop,
    running: Collection[str] = (),
    *,
    speed: float = 1.0,
    everything: bool = False,
) -> Data:
    """Return the figures with some items running; `everything`: each alone as well."""
    found: Data = {
        "running": list(running),
        "fittings": [_fitting(one) for one in fittings(shop.tree.pieces)],
    }
    fan = shop.fan
    if fan is None:
        return {"available": False, "why": NO_FAN, **found}
    try:
        air = shop.air(hass, fan)
        if air is None:
            return {"available": False, "why": NO_DUCTS, **found}
        return {
            "available": True,
            "why": "",
            **found,
            **_running(shop, air, running, speed),
            **({"alone": _alone(shop, air, speed)} if everything else {}),
        }
    except AirflowError as err:
        at = place(shop, err.element)
        return {"available": False, "why": IMPOSSIBLE, "at": at, **found}


def place(shop: DraftShop, element: str) -> Data:
    """Return which part of the drawing an element of the network is."""
    if element in shop.tree.pieces.pieces:
        return {"kind": "duct", "id": shop.tree.pieces.pieces[element].duct.id}
    if element in shop.drawn:
        return {"kind": "gate", "id": shop.drawn[element]}
    return {"kind": "collector", "id": ""}


def gates_of(air: AirShop, needs: Iterable[MachineNeed]) -> frozenset[str]:
    """Return the gates that are open for machines.

    They are a machine's gates in the system and, for planned ones, those along its
    path.
    """
    found: set[str] = set()
    for need in needs:
        way = air.network.gates_for(*need.pickups)
        if not is_planned(need.machine_id):
            way = frozenset(gate for gate in way if is_planned(gate))
        found |= need.gates | way
    return frozenset(found)


def _running(
    shop: DraftShop, air: AirShop, running: Collection[str], speed: float
) -> Data:
    needs = {
        item: air.needs[shop.machines[item]]
        for item in running
        if item in shop.machines
    }
    open_gates = gates_of(air, needs.values())
    found = assess(air.network, open_gates, speed=speed)
    solution = found.solution
    fan, density = air.network.system.fan, air.network.system.air.density
    curve = [
        (flow, air.network.fan_scale * fan.pressure(flow, speed=speed, density=density))
        for flow in (fan.free_flow * speed * n / _POINTS for n in range(_POINTS + 1))
    ]
    neediest = found.neediest
    return {
        "open": [shop.drawn[gate] for gate in open_gates if gate in shop.drawn],
        "collector": {
            "flow": solution.flow,
            "suction": solution.suction,
            "fan_pressure": solution.fan_pressure,
            "stalled": solution.stalled,
            "extrapolated": solution.extrapolated,
            "main_velocity": found.main_velocity,
            "main_needed": max(
                (d.transport for d in found.ducts if d.main), default=0.0
            ),
            "verdict": found.verdict(air.margin).value if running else None,
        },
        "fan": {
            "curve": curve,
            "surge_below": fan.peak[0] * speed if fan.peak[0] > 0 else 0.0,
            "point": [solution.flow, solution.fan_pressure],
        },
        "machines": {
            item: {
                **_served(air, air.needs[machine], found),
                "running": item in needs,
            }
            for item, machine in shop.machines.items()
            if air.needs[machine].pickups
        },
        "gates": _gates(shop, air, found, open_gates),
        "ducts": _ducts(shop, air, found),
        "limits": [_limit(shop, found, number) for number in range(len(found.limits))],
        "neediest": None if neediest is None else shop.drawn.get(neediest.pickup),
    }


def _served(air: AirShop, need: MachineNeed, found: Assessment) -> Data:
    flow = air.flow(found.solution.pickups, need.machine_id)
    ratio = ratio_of(flow, need.required) if need.required else None
    return {
        "flow": flow,
        "required": need.required,
        "ratio": ratio,
        "verdict": None if ratio is None else verdict(ratio, air.margin).value,
    }


def _gates(
    shop: DraftShop, air: AirShop, found: Assessment, open_gates: Collection[str]
) -> Data:
    opened = {result.pickup: result for result in found.pickups}
    rows: Data = {}
    for drawn, gate in shop.gates.items():
        result = opened.get(gate)
        rows[drawn] = {
            "open": gate in open_gates or result is not None,
            "flow": found.solution.pickups.get(gate, 0.0),
        }
        if result is not None:
            rows[drawn] |= {
                "required": result.required,
                "velocity": result.velocity,
                "transport": result.transport,
                "suction": result.hood_suction,
                "verdict": verdict(result.ratio, air.margin).value,
            }
    return rows


def _ducts(shop: DraftShop, air: AirShop, found: Assessment) -> Data:
    needed = {result.duct: result for result in found.ducts}
    rows: Data = {}
    for key, piece in shop.tree.pieces.pieces.items():
        data = shop.tree.ducts[key]
        row: Data = {
            "from": piece.start,
            "to": piece.end,
            "diameter": data["diameter"],
            "length": data["length"],
            "bound": piece.duct.bound if piece.number == 0 else None,
            "flow": 0.0,
            "velocity": 0.0,
            "transport": 0.0,
            "verdict": None,
        }
        if key not in shop.tree.loose:
            row["flow"] = found.solution.flow_of(key)
            row["velocity"] = found.solution.duct_velocity(key)
        if (result := needed.get(key)) is not None:
            row["transport"] = result.transport
            row["verdict"] = verdict(result.ratio, air.margin).value
        rows.setdefault(piece.duct.id, []).append(row)
    return rows


def _limit(shop: DraftShop, found: Assessment, number: int) -> Data:
    limit = found.limits[number]
    return {
        "kind": limit.kind.value,
        "element": place(shop, limit.element),
        "share": limit.share,
        "pressure": limit.pressure,
    }


def _alone(shop: DraftShop, air: AirShop, speed: float) -> list[Data]:
    """Return each machine alone, the worst first."""
    rows: list[Data] = []
    for item, machine in shop.machines.items():
        need = air.needs[machine]
        if not need.pickups:
            continue
        found = assess(air.network, gates_of(air, [need]), speed=speed)
        main = found.main_verdict(air.margin) if found.ducts else Verdict.TOO_LITTLE
        rows.append(
            {
                "item": item,
                **_served(air, need, found),
                "set_verdict": found.verdict(air.margin).value,
                "set_ratio": min(found.ratio, 99.0),
                "main_velocity": found.main_velocity,
                "main_ok": main is not Verdict.TOO_LITTLE,
                "limit": _limit(shop, found, 0) if found.limits else None,
            }
        )
    return sorted(rows, key=lambda row: float(row["set_ratio"]))


def _fitting(one: Fitting) -> Data:
    x, y, z = one.at
    found: Data = {
        "kind": one.kind,
        "duct": one.duct,
        "x": x,
        "y": y,
        "z": z,
        "angle": one.angle,
        "diameter": one.diameter,
    }
    if one.to is not None:
        found["to"] = one.to
    if one.make is not None:
        found |= {"construction": one.make.construction, "radius": one.make.radius}
    return found
