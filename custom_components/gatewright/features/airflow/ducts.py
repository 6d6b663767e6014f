"""From what the owner entered about ducts, gates and fan to a network of air.

Everything here is optional. A system is computed once it has a fan, a duct, and a
gate that sits on one; until then there is nothing, and that is no fault.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import pi
from typing import Any, Final

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant

from ...const import CONF_INTO
from ...core.airflow import (
    HOODS,
    INLETS,
    MARGIN,
    MATERIALS,
    MATERIALS_CARRIED,
    Air,
    Carried,
    Discharge,
    Duct,
    DuctSystem,
    Elbow,
    Fan,
    Filter,
    HoseState,
    Network,
    Pickup,
    Pipe,
    Seal,
    Separator,
    SlideGate,
    hose,
    leak_area,
)
from ...core.config import GateKind
from ...core.stored.config import StoredConfig
from ...core.stored.parts import OLD_HOSE, OLD_SEAL, USUAL_HOOD, StoredDuct, StoredGate
from ...core.stored.system import (
    USUAL_INLET,
    USUAL_MARGIN,
    USUAL_TEMPERATURE,
    DischargeKind,
    StoredAir,
)
from .calibration import apply_to
from .needs import IN_DUCT, USUAL_CARRIED, MachineNeed, read_needs

__all__ = [
    "OLD_HOSE",
    "OLD_SEAL",
    "USUAL_HOOD",
    "USUAL_INLET",
    "USUAL_MARGIN",
    "USUAL_TEMPERATURE",
]

USUAL_MATERIAL: Final = "galvanized"
USUAL_HOSE: Final = HoseState.RELAXED
USUAL_SEAL: Final = Seal.USUAL
"""What the form of a gate that gets its place shows. One that was placed before there
was a choice keeps what its figures meant then: a stretched hose, no leakage."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirShop:
    """A system that can be computed: its network and what its parts are called.

    `network` is computed with: as calibrated, and with the filter as it is found to be.
    `entered` is what the owner's figures alone say, with a clean filter. `outside`: the
    air leaves the building.
    """

    name: str
    network: Network
    names: Mapping[str, str]
    needs: Mapping[str, MachineNeed]
    entered: Network
    calibration: Mapping[str, Any] | None = None
    margin: float = MARGIN
    outside: bool = False

    def flow(self, flows: Mapping[str, float], machine_id: str) -> float:
        """Return what a machine gets (m3/s) of the flows of pickups."""
        return sum(flows.get(pickup, 0.0) for pickup in self.needs[machine_id].pickups)


def read_air(hass: HomeAssistant, config: StoredConfig) -> AirShop | None:
    """Return what can be computed of a system; None before enough is known.

    Raises `AirflowError` for figures that make no sense together.
    """
    fan = read_fan(config.system.air)
    return None if fan is None else read_shop(hass, config, fan)


def read_shop(hass: HomeAssistant, config: StoredConfig, fan: Fan) -> AirShop | None:
    """Return a system with a fan of its own or another; None before it has ducts.

    Raises `AirflowError` as `read_air` does.
    """
    air = config.system.air
    ducts = tuple(_ducts(config))
    needs = read_needs(config, frozenset(duct.id for duct in ducts))
    pickups = tuple(_pickups(config, ducts, needs))
    if not ducts or not pickups:
        return None
    network = Network(
        DuctSystem(
            ducts=ducts,
            pickups=pickups,
            fan=fan,
            air=read_room(hass, air),
            inlet_diameter=air.inlet_diameter,
            inlet_k=INLETS[air.inlet].coefficient,
            **read_collector(air),
        )
    )
    return AirShop(
        name=config.system.name,
        network=apply_to(network, air.calibration),
        entered=network,
        calibration=air.calibration,
        names={part_id: part.name for part_id, part in config.parts.items()},
        needs=needs,
        margin=1.0 + air.margin / 100,
        outside=air.discharge is DischargeKind.OUTSIDE,
    )


def into_of(entry: ConfigEntry[Any]) -> dict[str, str | None]:
    """Return what each duct of a config entry flows into, readable otherwise or not."""
    ducts = entry.get_subentries_of_type(StoredDuct.SUBENTRY_TYPE)
    return flows_into({duct.subentry_id: duct.data.get(CONF_INTO) for duct in ducts})


def flows_into(entered: Mapping[str, str | None]) -> dict[str, str | None]:
    """Return what each duct flows into, by what was entered; None is the collector.

    What flows into a duct that is not there, or in a circle, is taken to flow into
    the collector: better a figure that is roughly right than none.
    """
    found: dict[str, str | None] = {}
    for duct, into in entered.items():
        at, seen = into, {duct}
        while at is not None and at in entered and at not in seen:
            seen.add(at)
            at = entered[at]
        found[duct] = into if into in entered and at not in seen else None
    return found


def read_fan(air: StoredAir) -> Fan | None:
    """Return the collector's fan; None where nothing is known of it.

    Catalogs give static pressure, so that is what the figures are taken for.
    """
    if air.fan_points:
        return Fan(points=air.fan_points, kind="static")
    if air.free_flow is not None and air.max_suction is not None:
        return Fan.from_free_air(air.free_flow, air.max_suction)
    return None


def read_room(hass: HomeAssistant, air: StoredAir) -> Air:
    """Return the air of the shop: at the hub's elevation unless another was given."""
    altitude = float(hass.config.elevation) if air.altitude is None else air.altitude
    return Air.at(altitude, air.temperature)


def read_collector(air: StoredAir) -> dict[str, Any]:
    """Return separator, filter and discharge, as far as they were entered."""
    parts: dict[str, Any] = {}
    if air.separator_flow is not None and air.separator_loss is not None:
        parts["separator"] = Separator.from_point(
            air.separator_flow, air.separator_loss
        )
    if air.filter_flow is not None and air.filter_loss is not None:
        parts["filter"] = Filter.from_point(air.filter_flow, air.filter_loss)
    if air.discharge is DischargeKind.OUTSIDE and air.stack_diameter is not None:
        parts["discharge"] = Discharge(
            pipe=Pipe(diameter=air.stack_diameter, length=air.stack_length)
        )
    return parts


def _ducts(config: StoredConfig) -> Iterator[Duct]:
    into = flows_into({i: duct.into for i, duct in config.ducts.items()})
    gates = {
        gate.duct: _gate(gate, duct.diameter)
        for gate in config.gates.values()
        if gate.hood == IN_DUCT and (duct := config.ducts.get(gate.duct or ""))
    }
    for duct_id, duct in config.ducts.items():
        yield Duct(
            id=duct_id,
            into=into[duct_id],
            diameter=duct.diameter,
            length=duct.length,
            roughness=MATERIALS[duct.material].roughness,
            elbows=tuple(
                Elbow(
                    count=row.count,
                    angle=row.angle,
                    radius_ratio=row.radius,
                    construction=row.construction,
                )
                for row in duct.elbows
            ),
            entry_angle=duct.entry_angle,
            gate=gates.get(duct_id),
            vertical=duct.vertical,
        )


def _gate(gate: StoredGate, diameter: float) -> SlideGate | None:
    """Return a gate that can shut, in a pipe of a diameter (m).

    One that is permanently open is none.
    """
    if gate.kind is GateKind.FIXED:
        return None
    return SlideGate(id=gate.part_id, leak_area=leak_area(gate.seal, diameter))


def _pickups(
    config: StoredConfig, ducts: tuple[Duct, ...], needs: Mapping[str, MachineNeed]
) -> Iterator[Pickup]:
    by_id = {duct.id: duct for duct in ducts}
    placed = {
        gate.part_id: (by_id[gate.duct], gate_pipes(gate, by_id[gate.duct]))
        for gate in config.gates.values()
        if gate.duct in by_id and gate.hood != IN_DUCT
    }
    shares: dict[str, tuple[float, Carried]] = {}
    for need in needs.values():
        areas = {
            pickup: pi / 4 * (own[0] if own else duct).diameter ** 2
            for pickup in need.pickups
            for duct, own in [placed[pickup]]
        }
        for pickup, area in areas.items():
            made = MATERIALS_CARRIED[need.material]
            required, carried = shares.get(pickup, (0.0, made))
            # Of machines that share a gate the neediest counts.
            share = need.required * area / sum(areas.values())
            shares[pickup] = (
                max(required, share),
                max(carried, made, key=lambda material: material.minimum),
            )
    unasked = MATERIALS_CARRIED[config.system.air.carried or USUAL_CARRIED]
    for gate_id, (duct, own) in placed.items():
        gate = config.gates[gate_id]
        required, carried = shares.get(gate_id, (0.0, unasked))
        yield Pickup(
            id=gate_id,
            duct=duct.id,
            entry_k=HOODS[gate.hood].coefficient,
            pipes=own,
            gate=_gate(gate, (own or (duct,))[-1].diameter),
            entry_angle=gate.entry_angle,
            required=required,
            transport=carried.minimum,
            rising=carried.rising,
            velocity_ratio=carried.velocity_ratio,
        )


def gate_pipes(gate: StoredGate, duct: Duct) -> tuple[Pipe, ...]:
    """Return what lies between a machine and the duct: port, hose, drop.

    A width that was not given is that of what comes before, or of the duct. A drop is
    taken as vertical.
    """
    port = gate.port_diameter
    width = _given(gate.hose_diameter, port or gate.drop_diameter)
    drop = _given(gate.drop_diameter, width or port)
    pipes: list[Pipe] = []
    if gate.hose_length:
        pipes.append(hose(width or duct.diameter, gate.hose_length, gate.hose_state))
    if gate.drop_length or gate.drop_elbows:
        pipes.append(
            Pipe(
                diameter=drop or duct.diameter,
                length=gate.drop_length,
                roughness=duct.roughness,
                vertical=True,
                elbows=((Elbow(count=gate.drop_elbows),) if gate.drop_elbows else ()),
            )
        )
    if port is not None and (not pipes or pipes[0].diameter != port):
        pipes.insert(0, Pipe(diameter=port))
    return tuple(pipes)


def _given(width: float | None, otherwise: float | None) -> float | None:
    return otherwise if width is None else width
