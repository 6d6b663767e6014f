"""Builds an airflow network from the owner's ducts, gates and fan.

Everything here is optional. A system is computed once it has a fan, a duct and a gate
on one. Until then there is no network, which is no fault.
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
"""The form's defaults for a gate that is placed on a duct.

A gate placed before these choices existed keeps its old meaning: a stretched hose, no
leakage.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirShop:
    """A system that can be computed: its network and the names of its parts.

    `network` is used for calculations: as calibrated, with the filter's found loading.
    `entered` has only the owner's figures, with a clean filter. `outside` says that the
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
        """Return a machine's flow (m3/s) from the flows of its pickups."""
        return sum(flows.get(pickup, 0.0) for pickup in self.needs[machine_id].pickups)


def read_air(hass: HomeAssistant, config: StoredConfig) -> AirShop | None:
    """Return the computable part of a system; None until enough is known.

    Raises `AirflowError` for figures that contradict each other.
    """
    fan = read_fan(config.system.air)
    return None if fan is None else read_shop(hass, config, fan)


def read_shop(hass: HomeAssistant, config: StoredConfig, fan: Fan) -> AirShop | None:
    """Return a system with its own or another fan; None before it has ducts.

    Raises the same error as `read_air`.
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
    """Return what each duct of an entry flows into, even if it's unreadable."""
    ducts = entry.get_subentries_of_type(StoredDuct.SUBENTRY_TYPE)
    return flows_into({duct.subentry_id: duct.data.get(CONF_INTO) for duct in ducts})


def flows_into(entered: Mapping[str, str | None]) -> dict[str, str | None]:
    """Return what each duct flows into as entered; None is the collector.

    A duct with a missing target, or in a circle, is taken to flow into the collector: a
    rough figure is better than none.
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
    """Return the collector's fan; None if nothing is known about it.

    Pressures are taken as static pressure, as in catalogs.
    """
    if air.fan_points:
        return Fan(points=air.fan_points, kind="static")
    if air.free_flow is not None and air.max_suction is not None:
        return Fan.from_free_air(air.free_flow, air.max_suction)
    return None


def read_room(hass: HomeAssistant, air: StoredAir) -> Air:
    """Return the room's air, at Home Assistant's elevation unless one was entered."""
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
    """Return a gate that can close, in a pipe of a diameter (m).

    A permanently open gate is no gate here.
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
            # For machines that share a gate, the largest need counts.
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
    """Return the pipes between a machine and its duct: port, hose and drop.

    A missing width is that of the previous piece, or of the duct. A drop is taken as
    vertical.
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
