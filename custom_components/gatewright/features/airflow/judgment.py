"""Rates each machine's flow and each duct's velocity for the gates open now."""

from collections.abc import Mapping
from typing import Final

from ...core.airflow import (
    MARGIN,
    DuctResult,
    Judge,
    Pickup,
    Solution,
    Verdict,
    open_pickups,
)
from .ducts import AirShop
from .snapshot import AirNow, Gates

_IDLE: Final = 0.2
"""The share of its need below which a machine's gates count as closed."""


class JudgedAirflow:
    """The verdicts on one system's airflow.

    Each depends on the last one, so that none flips back and forth with the last digit.
    `machines` are those with a known need, `ducts` those downstream of an open pickup.
    """

    def __init__(self, margin: float = MARGIN) -> None:
        self.machines: Mapping[str, Verdict] = {}
        self.ducts: Mapping[str, tuple[DuctResult, Verdict]] = {}
        self._judge = Judge(margin)

    def judge(self, shop: AirShop | None, now: AirNow | None) -> None:
        """Update the verdicts; none where the airflow isn't known."""
        self.machines, self.ducts = {}, {}
        if shop is None or now is None:
            return
        flows = {} if now.solution is None else now.solution.pickups
        self.machines = {
            need.machine_id: self._served(
                need.machine_id, shop.flow(flows, need.machine_id) / need.required
            )
            for need in shop.needs.values()
            if need.placed and need.required
        }
        if now.solution is not None:
            self.ducts = self._carried(shop, now.solution, now.gates)

    def _served(self, machine_id: str, ratio: float) -> Verdict:
        # A machine without any airflow starts without a previous verdict.
        if ratio <= _IDLE:
            return Verdict.TOO_LITTLE
        return self._judge.judge(machine_id, ratio)

    def _carried(
        self, shop: AirShop, solution: Solution, gates: Gates
    ) -> dict[str, tuple[DuctResult, Verdict]]:
        network = shop.network
        needed: dict[str, float] = {}
        for pickup in open_pickups(network, gates):
            path = network.path(pickup)
            part = path[0].part
            if not isinstance(part, Pickup):  # pragma: no cover - narrows the type
                continue
            for element in path[1:]:
                own = part.needs(vertical=element.runs[0].pipe.vertical)
                needed[element.id] = max(needed.get(element.id, 0.0), own)
        found: dict[str, tuple[DuctResult, Verdict]] = {}
        for duct, transport in needed.items():
            result = DuctResult(
                duct=duct,
                flow=solution.flow_of(duct),
                velocity=solution.duct_velocity(duct),
                transport=transport,
                main=network.element(duct).parent < 0,
            )
            found[duct] = result, self._judge.judge(duct, result.ratio)
        return found
