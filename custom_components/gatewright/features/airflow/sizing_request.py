"""What to size: a system's own ducts, or a plain list of machines."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from ...core.airflow import MATERIALS_CARRIED, Carried, DuctSystem, Fan, Pickup, Pipe
from ...core.airflow.sizing import (
    ANY_FAN,
    USUAL_BRANCH,
    USUAL_HOSE,
    Branch,
    OperatingSet,
    Rules,
    lay_out,
)
from ...core.kinds import MachineKind
from ...core.stored.config import StoredConfig
from ...runtime.errors import validation_error
from ...runtime.permissions import Requester
from ...runtime.system_context import GatewrightConfigEntry, system_of
from .assessment import seen_of
from .ducts import read_collector, read_fan, read_room, read_shop
from .needs import NEEDS, USUAL_CARRIED, MachineNeed, read_needs, usual_flow

_BESIDE: Final = 2
"""The least number of machines that run together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedMachine:
    """A machine of a plain list: lengths in m, flow in m3/s.

    A None comes from the system's machine of this name, or else is the default of
    `Branch`.
    """

    name: str
    distance: float
    kind: MachineKind | None = None
    flow: float | None = None
    port: float | None = None
    branch: float | None = None
    hose: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingRequest:
    """Everything that sizing needs, read from the system at one time.

    `names` by duct or pickup. `piece` is the length (m) of a stock pipe. `listed`: the
    tree was made from a plain list. `not_placed` are machines without a gate on a duct.
    """

    title: str
    system: DuctSystem
    sets: tuple[OperatingSet, ...]
    rules: Rules
    names: Mapping[str, str]
    fans: Mapping[str, Fan]
    waste: float
    piece: float
    listed: bool
    not_placed: tuple[str, ...]


def make_request(
    asker: Requester,
    entry: GatewrightConfigEntry,
    rules: Rules,
    *,
    machines: Sequence[ListedMachine] = (),
    together: Iterable[Sequence[str]] = (),
    fans: Mapping[str, Fan] | None = None,
    waste: float,
    piece: float,
) -> SizingRequest:
    """Read what to size, as far as the user may see it.

    Raises `ServiceValidationError` if that is missing, and `AirflowError` for figures
    that contradict each other.
    """
    config = system_of(entry).described
    fan = read_fan(config.system.air)
    if fan is None:
        rules = replace(rules, fan=False)
    fan = fan or ANY_FAN
    names: dict[str, str]
    if machines:
        system = _listed(asker, config, fan, machines)
        names = {duct.id: duct.id for duct in system.ducts}
        names |= {pickup.id: pickup.id for pickup in system.pickups}
        pickups: dict[str, tuple[str, ...]] = {
            machine.name: (machine.name,) for machine in machines
        }
        not_placed: tuple[str, ...] = ()
    else:
        found = read_shop(asker.hass, config, fan)
        if found is None:
            raise validation_error("sizing_no_ducts", name=entry.title)
        context = system_of(entry)
        shop = seen_of(
            found,
            frozenset(part for part in found.names if asker.sees_part(context, part)),
        )
        system = with_ports(shop.network.system, config)
        if rules.fan:
            system = with_found_fan(system, shop.network.fan_scale)
        names = dict(shop.names)
        placed = [need for need in shop.needs.values() if need.placed]
        pickups = {need.name: need.pickups for need in placed}
        not_placed = tuple(n.name for n in shop.needs.values() if not n.placed)
        if not pickups:
            raise validation_error("sizing_no_ducts", name=entry.title)
    return SizingRequest(
        title=entry.title,
        system=system,
        sets=(
            *(OperatingSet(name=name, pickups=ids) for name, ids in pickups.items()),
            *(_together(group, pickups) for group in together),
        ),
        rules=rules,
        names=names,
        fans=fans or {},
        waste=waste,
        piece=piece,
        listed=bool(machines),
        not_placed=not_placed,
    )


def with_found_fan(system: DuctSystem, scale: float) -> DuctSystem:
    """Return a system with the fan pressure that a calibration found."""
    if scale == 1.0:
        return system
    fan = system.fan
    found = replace(
        fan,
        points=tuple((flow, scale * pressure) for flow, pressure in fan.points),
        slopes=None
        if fan.slopes is None
        else tuple(scale * slope for slope in fan.slopes),
    )
    return replace(system, fan=found)


def _together(
    group: Sequence[str], pickups: Mapping[str, tuple[str, ...]]
) -> OperatingSet:
    known = {name.casefold(): name for name in pickups}
    found: list[str] = []
    for name in group:
        if (key := name.strip().casefold()) not in known:
            raise validation_error("sizing_unknown_machine", name=name)
        found.append(known[key])
    found = list(dict.fromkeys(found))
    if len(found) < _BESIDE:
        raise validation_error("sizing_together", name=", ".join(group))
    ids = [pickup for name in found for pickup in pickups[name]]
    return OperatingSet(name=" + ".join(found), pickups=tuple(dict.fromkeys(ids)))


def with_ports(system: DuctSystem, config: StoredConfig) -> DuctSystem:
    """Return the system with every machine's port as a fixed pipe."""

    def ported(pickup: Pickup) -> Pickup:
        port = config.gates[pickup.id].port_diameter
        pipes = pickup.pipes
        if port is None or not pipes or pipes[0] == Pipe(diameter=port):
            return pickup
        return replace(pickup, pipes=(Pipe(diameter=port), *pipes))

    return replace(system, pickups=tuple(map(ported, system.pickups)))


def _listed(
    asker: Requester,
    config: StoredConfig,
    fan: Fan,
    machines: Sequence[ListedMachine],
) -> DuctSystem:
    known = {
        need.name.casefold(): need
        for need in read_needs(config, frozenset()).values()
        if asker.sees_machine(need.machine_id)
    }
    ports = _ports(config)
    names = [machine.name.casefold() for machine in machines]
    branches: list[Branch] = []
    for machine in machines:
        key = machine.name.casefold()
        if names.count(key) > 1:
            raise validation_error("sizing_machine_twice", name=machine.name)
        required, carried = _need(machine, known.get(key))
        branches.append(
            Branch(
                id=machine.name,
                distance=machine.distance,
                required=required,
                transport=carried.minimum,
                rising=carried.rising,
                port=machine.port or (ports.get(key) if key in known else None),
                length=USUAL_BRANCH if machine.branch is None else machine.branch,
                hose=USUAL_HOSE if machine.hose is None else machine.hose,
            )
        )
    ducts, pickups = lay_out(branches)
    return DuctSystem(
        ducts=ducts,
        pickups=pickups,
        fan=fan,
        air=read_room(asker.hass, config.system.air),
        inlet_diameter=config.system.air.inlet_diameter,
        **read_collector(config.system.air),
    )


def _ports(config: StoredConfig) -> dict[str, float]:
    """Return each machine's port width (m), where one was entered."""
    return {
        machine.name.casefold(): port
        for machine in config.machines.values()
        for gate in machine.gates[:1]
        if gate in config.gates
        and (port := config.gates[gate].port_diameter) is not None
    }


def _need(machine: ListedMachine, known: MachineNeed | None) -> tuple[float, Carried]:
    """Return a listed machine's need (m3/s), and its material."""
    flow = 0.0
    material = USUAL_CARRIED
    if machine.kind is not None:
        kind = NEEDS[machine.kind]
        material = USUAL_CARRIED if kind is None else kind.material
        flow = usual_flow(machine.kind, None)
    elif known is not None:
        flow, material = known.required, known.material
    elif machine.flow is None:
        raise validation_error("sizing_unknown_machine", name=machine.name)
    flow = machine.flow or flow
    if not flow:
        raise validation_error("sizing_flow_unknown", name=machine.name)
    return flow, MATERIALS_CARRIED[material]
