"""Sizes a drawing: other diameters as a proposal, and the fan's duty.

Run it in a thread. SI units, as in `figures`.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from homeassistant.core import HomeAssistant

from ...core.airflow import AirflowError
from ...core.airflow.sizing import (
    ANY_FAN,
    PIECE_LENGTH,
    USUAL_WASTE,
    OperatingSet,
    Rules,
    size_ducts,
    unsized,
)
from ...core.airflow.units import FOOT
from ...core.plan.document import DrawnGate
from ...core.plan.splitting import with_widths
from ..airflow.assessment import seen_of
from ..airflow.data import Data
from ..airflow.ducts import AirShop
from ..airflow.sizing_data import sized_data
from ..airflow.sizing_request import SizingRequest, with_found_fan, with_ports
from .draft_shop import DraftShop
from .figures import IMPOSSIBLE, NO_DUCTS, place

_SAME: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingWish:
    """How to size a drawing: `together` are items that run at once.

    `take`: keys of the changes to apply to the drawing; None means all. `keep`: all
    pipes stay as drawn and appear in tables and lists. `seen`: the parts whose names
    are visible; other machines are left out.
    """

    rules: Rules
    together: Sequence[Sequence[str]] = ()
    take: Collection[str] | None = None
    customary: bool = False
    keep: bool = False
    seen: frozenset[str] | None = None


def proposal(hass: HomeAssistant, shop: DraftShop, set_target: SizingWish) -> Data:
    """Return the sizes of a drawing's pipes, and a `ShopPlan` with them."""
    fan = shop.fan
    rules = (
        set_target.rules if fan is not None else replace(set_target.rules, fan=False)
    )
    try:
        air = shop.air(hass, fan or ANY_FAN)
        if air is None:
            return {"available": False, "why": NO_DUCTS}
        if set_target.seen is not None:
            air = seen_of(air, set_target.seen)
        request = _request(shop, air, replace(set_target, rules=rules))
        if not request.sets:
            return {"available": False, "why": NO_DUCTS}
        size = unsized if set_target.keep else size_ducts
        sized = size(request.system, request.sets, request.rules)
    except AirflowError as err:
        return {
            "available": False,
            "why": IMPOSSIBLE,
            "at": place(shop, err.element),
        }
    found = sized_data(request, sized)
    rows = _changes(shop, sized.diameters)
    taken = {
        row["part"]: row["after"]["diameter"]
        for row in rows
        if set_target.take is None or row["key"] in set_target.take
    }
    items = {
        need.name: shop.items[key]
        for key, need in air.needs.items()
        if key in shop.items
    }
    return {
        "available": True,
        "why": "",
        **{key: found[key] for key in ("ratio", "verdict", "power", "margin", "sizes")},
        "changes": [{k: v for k, v in row.items() if k != "part"} for row in rows],
        "document": with_widths(shop.plan, taken),
        "sets": [
            {
                "name": one["name"],
                "items": [items[n] for n in one["name"].split(" + ") if n in items],
                **{key: one[key] for key in _OF_SETS},
            }
            for one in found["sets"]
        ],
        "duty": found["duty"],
        "remedies": found["changes"],
        "materials": found["materials"],
        "waste": found["waste"],
        "piece": request.piece,
        "not_placed": found["not_placed"],
    }


_OF_SETS: Final = (
    "bleed",
    "ratio",
    "verdict",
    "rule",
    "flow",
    "pressure",
    "suction",
    "power",
    "stalled",
    "table",
)


def _request(shop: DraftShop, air: AirShop, set_target: SizingWish) -> SizingRequest:
    placed = {need.machine_id: need for need in air.needs.values() if need.pickups}
    sets = [
        OperatingSet(name=need.name, pickups=need.pickups) for need in placed.values()
    ]
    for group in set_target.together:
        needs = [
            placed[shop.machines[item]]
            for item in dict.fromkeys(group)
            if shop.machines.get(item) in placed
        ]
        if len(needs) > 1:
            pickups = dict.fromkeys(p for need in needs for p in need.pickups)
            name = " + ".join(need.name for need in needs)
            sets.append(OperatingSet(name=name, pickups=tuple(pickups)))
    system = with_ports(air.network.system, shop.config)
    if set_target.rules.fan:
        system = with_found_fan(system, air.network.fan_scale)
    return SizingRequest(
        title=air.name,
        system=system,
        sets=tuple(sets),
        rules=set_target.rules,
        names=air.names,
        fans={},
        waste=USUAL_WASTE,
        piece=10 * FOOT if set_target.customary else PIECE_LENGTH,
        listed=False,
        not_placed=tuple(n.name for n in air.needs.values() if not n.pickups),
    )


def _changes(shop: DraftShop, widths: Mapping[str, float]) -> list[Data]:
    """Return the pipes with another diameter, in the order of the drawing."""
    rows: list[Data] = []
    for key, piece in shop.tree.pieces.pieces.items():
        before = shop.tree.ducts[key]["diameter"]
        after = widths.get(key, before)
        if abs(after - before) > _SAME:
            rows.append(
                {
                    "key": f"{piece.duct.id}/{piece.number}",
                    "part": key,
                    "kind": "duct",
                    "id": piece.duct.id,
                    "from": piece.start,
                    "to": piece.end,
                    "name": shop.tree.names[key],
                    "before": {"diameter": before},
                    "after": {"diameter": after},
                }
            )
    for gate in shop.plan.gates:
        now, wanted = _width(gate), widths.get(shop.gates[gate.id])
        if wanted is not None and (now is None or abs(wanted - now) > _SAME):
            rows.append(
                {
                    "key": gate.id,
                    "part": gate.id,
                    "kind": "gate",
                    "id": gate.id,
                    "name": gate.name,
                    "before": {"diameter": now},
                    "after": {"diameter": wanted},
                }
            )
    return rows


def _width(gate: DrawnGate) -> float | None:
    """Return the diameter (m) of a gate's hose, or else of its drop."""
    opening = gate.opening
    if opening is None:
        return None
    if opening.hose is not None:
        return opening.hose.diameter or opening.port
    return None if opening.drop is None else opening.drop.diameter or opening.port
