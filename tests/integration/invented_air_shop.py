"""An invented shop to assess, whose machines and gates are called by their ids."""

from custom_components.gatewright.core.airflow import DuctSystem, Network
from custom_components.gatewright.features.airflow.ducts import AirShop
from custom_components.gatewright.features.airflow.needs import MachineNeed


def air_shop(system: DuctSystem) -> AirShop:
    """Return the shop, with one machine for each pickup."""
    network = Network(system)
    needs = {
        pickup.id: MachineNeed(
            machine_id=pickup.id,
            name=pickup.id,
            gates=network.gates_for(pickup.id),
            pickups=(pickup.id,),
            placed=True,
            required=pickup.required,
            status="owner",
            source="",
            material="sawdust",
            transport=pickup.transport,
            purge=(),
        )
        for pickup in system.pickups
    }
    names = {element.id: element.id for element in network.elements}
    names |= {gate: gate for gate in network.gates}
    return AirShop(
        name="Shop", network=network, entered=network, names=names, needs=needs
    )
