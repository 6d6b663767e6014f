"""What every machine's flow and every duct's velocity is worth, as the gates stand."""

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
"""Share of its need below which a machine's gates are as good as closed."""


class JudgedAirflow:
    """The verdicts on one system's air.

    Each is judged against the last one, so that none changes back and forth with the
    last digit. `machines` are those whose need is known, `ducts` those on the way from
    an open pickup.
    """

    def __init__(self, margin: float = MARGIN) -> None:
        self.machines: Mapping[str, Verdict] = {}
        self.ducts: Mapping[str, tuple[DuctResult, Verdict]] = {}
        self._judge = Judge(margin)

    def judge(self, shop: AirShop | None, now: AirNow | None) -> None:
        """Judge how things are now; nothing where that is not known."""
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
        # What has no air at all has nothing to do with the last time it had.
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
