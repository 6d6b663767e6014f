"""The airflow in a card's snapshot: the duct tree, and the flow in it."""

from typing import Any

from ...core.airflow import Verdict
from ...core.stored.config import StoredConfig
from ..airflow.ducts import flows_into
from ..airflow.manager import AirflowManager

type Json = dict[str, Any]


def draw_ducts(config: StoredConfig) -> list[Json]:
    """Return what each duct flows into, and the gates on it."""
    into = flows_into({i: duct.into for i, duct in config.ducts.items()})
    gates: dict[str, list[str]] = {duct: [] for duct in into}
    for gate_id, gate in config.gates.items():
        if gate.duct in gates:
            gates[gate.duct].append(gate_id)
    return [
        {
            "id": duct_id,
            "name": duct.name,
            "into": into[duct_id],
            "gates": gates[duct_id],
        }
        for duct_id, duct in config.ducts.items()
    ]


def draw_flows(air: AirflowManager) -> Json | None:
    """Return the present velocities (m/s) and flows (m3/s); None while unknown.

    Only ducts downstream of an open pickup are included; `slow` are those where
    material may settle, `low` the machines with too little flow. `marginal` is within
    the error of the figures.
    """
    shop, now = air.shop, air.now
    if shop is None or now is None or now.solution is None:
        return None
    return {
        "ducts": {
            duct: {
                "speed": round(result.velocity, 1),
                "slow": verdict is Verdict.TOO_LITTLE,
                "marginal": verdict is Verdict.MARGINAL,
            }
            for duct, (result, verdict) in air.judged.ducts.items()
        },
        "machines": {
            machine_id: {
                "flow": round(flow, 4),
                "low": air.too_low(machine_id) is True,
                "marginal": air.served_verdict(machine_id) is Verdict.MARGINAL,
            }
            for machine_id in shop.needs
            if (flow := air.machine_flow(machine_id))
        },
    }
