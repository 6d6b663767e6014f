"""What a system has that a plan is about: ducts, places of gates, machines."""

from ...air.ducts import into_of
from ...const import (
    CONF_GATES,
    CONF_KIND,
    SUBENTRY_DUCT,
    SUBENTRY_GATE,
    SUBENTRY_MACHINE,
)
from ...core.plan.changes import Stored
from ...core.plan.checks import Known
from ...core.plan.stored import normal_duct, normal_place
from ...core.plan.stored_drawing import Stock
from ...planning import Described


def stored_of(described: Described) -> Stored:
    """Return the ducts and the places of the gates as they are stored."""
    into = into_of(described)
    ducts = described.get_subentries_of_type(SUBENTRY_DUCT)
    gates = described.get_subentries_of_type(SUBENTRY_GATE)
    return Stored(
        ducts={duct.subentry_id: normal_duct(duct.data, into) for duct in ducts},
        places={gate.subentry_id: normal_place(gate.data, into) for gate in gates},
        names={part.subentry_id: part.title for part in (*ducts, *gates)},
    )


def stock_of(described: Described) -> Stock:
    """Return what the system has to be placed."""
    machines = described.get_subentries_of_type(SUBENTRY_MACHINE)
    return Stock(
        name=described.title,
        machines={m.subentry_id: (m.title, str(m.data[CONF_KIND])) for m in machines},
        served={m.subentry_id: tuple(m.data[CONF_GATES]) for m in machines},
        gates={
            gate.subentry_id: gate.title
            for gate in described.get_subentries_of_type(SUBENTRY_GATE)
        },
        ducts={
            duct.subentry_id: duct.title
            for duct in described.get_subentries_of_type(SUBENTRY_DUCT)
        },
    )


def known_of(stock: Stock) -> Known:
    """Return what parts of a drawing may be bound to."""
    return Known(
        machines={machine: name for machine, (name, _) in stock.machines.items()},
        gates=stock.gates,
        ducts=stock.ducts,
        served=stock.served,
    )
