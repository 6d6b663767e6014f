"""The parts of a system that a plan shows: ducts, gate locations, machines."""

from ...core.plan.changes import StoredParts
from ...core.plan.checks import KnownParts
from ...core.plan.stored import normal_duct, normal_place
from ...core.plan.stored_drawing import Stock
from ...core.stored.config import StoredConfig
from ..airflow.ducts import flows_into


def stored_of(config: StoredConfig) -> StoredParts:
    """Return the ducts and the gate locations as stored."""
    ducts, gates = config.ducts, config.gates
    into = flows_into({duct_id: duct.into for duct_id, duct in ducts.items()})
    return StoredParts(
        ducts={key: normal_duct(duct.kept, into[key]) for key, duct in ducts.items()},
        places={key: normal_place(gate.kept, ducts) for key, gate in gates.items()},
        names={key: part.name for key, part in {**ducts, **gates}.items()},
    )


def stock_of(config: StoredConfig) -> Stock:
    """Return the parts that can be placed."""
    return Stock(
        name=config.system.name,
        machines={
            machine_id: (machine.name, machine.kind.value)
            for machine_id, machine in config.machines.items()
        },
        served={key: machine.gates for key, machine in config.machines.items()},
        gates={gate_id: gate.name for gate_id, gate in config.gates.items()},
        ducts={duct_id: duct.name for duct_id, duct in config.ducts.items()},
    )


def known_of(stock: Stock) -> KnownParts:
    """Return what parts of a drawing may be bound to."""
    return KnownParts(
        machines={machine: name for machine, (name, _) in stock.machines.items()},
        gates=stock.gates,
        ducts=stock.ducts,
        served=stock.served,
    )
