"""From what the owner entered about ducts, gates and fan to a network of air.

Everything here is optional. A system is computed once it has a fan, a duct, and a
gate that sits on one; until then there is nothing, and that is no fault.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import pi
from typing import Any, Final

from homeassistant.config_entries import ConfigSubentry
from homeassistant.core import HomeAssistant

from ..airflow import (
    HOODS,
    INLETS,
    MARGIN,
    MATERIALS,
    MATERIALS_CARRIED,
    Air,
    Carried,
    Discharge,
    Duct,
    Elbow,
    Fan,
    Filter,
    Gate,
    HoseState,
    Network,
    Pickup,
    Pipe,
    Seal,
    Separator,
    System,
    hose,
    leak_area,
)
from ..const import (
    CONF_AIR_MARGIN,
    CONF_ALTITUDE,
    CONF_CALIBRATION,
    CONF_CARRIED,
    CONF_DIAMETER,
    CONF_DISCHARGE,
    CONF_DROP_DIAMETER,
    CONF_DROP_ELBOWS,
    CONF_DROP_LENGTH,
    CONF_DUCT,
    CONF_DUCT_MATERIAL,
    CONF_ELBOWS,
    CONF_ENTRY_ANGLE,
    CONF_FAN_POINTS,
    CONF_FILTER_FLOW,
    CONF_FILTER_LOSS,
    CONF_FREE_FLOW,
    CONF_GATE_KIND,
    CONF_HOOD,
    CONF_HOSE_DIAMETER,
    CONF_HOSE_LENGTH,
    CONF_HOSE_STATE,
    CONF_INLET,
    CONF_INLET_DIAMETER,
    CONF_INTO,
    CONF_LENGTH,
    CONF_MAX_SUCTION,
    CONF_PORT_DIAMETER,
    CONF_SEAL,
    CONF_SEPARATOR_FLOW,
    CONF_SEPARATOR_LOSS,
    CONF_STACK_DIAMETER,
    CONF_STACK_LENGTH,
    CONF_TEMPERATURE,
    CONF_VERTICAL,
    SUBENTRY_DUCT,
    SUBENTRY_GATE,
    DischargeKind,
)
from ..planning import Described
from ..shop.plan import GateKind
from .calibrating import apply_to
from .needs import IN_DUCT, USUAL_CARRIED, MachineNeed, read_needs

USUAL_HOOD: Final = "machine_port"
USUAL_MATERIAL: Final = "galvanized"
USUAL_TEMPERATURE: Final = 20.0
USUAL_INLET: Final = "straight"
USUAL_HOSE: Final = HoseState.RELAXED
USUAL_SEAL: Final = Seal.USUAL
"""What the form of a gate that gets its place shows. One that was placed before there
was a choice keeps what its figures meant then: a stretched hose, no leakage."""

OLD_HOSE: Final = HoseState.STRETCHED
OLD_SEAL: Final = Seal.AIRTIGHT
"""What a gate without the choice is taken for."""

USUAL_MARGIN: Final = round(100 * (MARGIN - 1.0))
"""Percent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirShop:
    """A system that can be computed: its network and what its parts are called.

    `network` is computed with: as calibrated, and with the filter as it is found to be.
    `entered` is what the owner's figures alone say, with a clean filter.
    """

    name: str
    network: Network
    names: Mapping[str, str]
    needs: Mapping[str, MachineNeed]
    entered: Network
    calibration: Mapping[str, Any] | None = None
    margin: float = MARGIN

    def flow(self, flows: Mapping[str, float], machine_id: str) -> float:
        """Return what a machine gets (m3/s) of the flows of pickups."""
        return sum(flows.get(pickup, 0.0) for pickup in self.needs[machine_id].pickups)


def read_air(hass: HomeAssistant, entry: Described) -> AirShop | None:
    """Return what can be computed of a system; None before enough is known.

    Raises `AirflowError` for figures that make no sense together.
    """
    fan = read_fan(entry.data)
    return None if fan is None else read_shop(hass, entry, fan)


def read_shop(hass: HomeAssistant, entry: Described, fan: Fan) -> AirShop | None:
    """Return a system with a fan of its own or another; None before it has ducts.

    Raises `AirflowError` as `read_air` does.
    """
    ducts = tuple(_ducts(entry))
    needs = read_needs(entry, frozenset(duct.id for duct in ducts))
    pickups = tuple(_pickups(entry, ducts, needs))
    if not ducts or not pickups:
        return None
    network = Network(
        System(
            ducts=ducts,
            pickups=pickups,
            fan=fan,
            air=read_room(hass, entry.data),
            inlet_diameter=entry.data.get(CONF_INLET_DIAMETER),
            inlet_k=INLETS[entry.data.get(CONF_INLET, USUAL_INLET)].coefficient,
            **read_collector(entry.data),
        )
    )
    return AirShop(
        name=entry.title,
        network=apply_to(network, entry.data.get(CONF_CALIBRATION)),
        entered=network,
        calibration=entry.data.get(CONF_CALIBRATION),
        names={part.subentry_id: part.title for part in entry.subentries.values()},
        needs=needs,
        margin=1.0 + entry.data.get(CONF_AIR_MARGIN, USUAL_MARGIN) / 100,
    )


def into_of(entry: Described) -> dict[str, str | None]:
    """Return what each duct flows into; None is the collector.

    What flows into a duct that is not there, or in a circle, is taken to flow into
    the collector: better a figure that is roughly right than none.
    """
    ducts = {
        duct.subentry_id: duct for duct in entry.get_subentries_of_type(SUBENTRY_DUCT)
    }
    found: dict[str, str | None] = {}
    for duct_id, duct in ducts.items():
        into = duct.data.get(CONF_INTO)
        at, seen = into, {duct_id}
        while at in ducts and at not in seen:
            seen.add(at)
            at = ducts[at].data.get(CONF_INTO)
        found[duct_id] = into if into in ducts and at not in seen else None
    return found


def read_fan(data: Mapping[str, Any]) -> Fan | None:
    """Return the collector's fan; None where nothing is known of it.

    Catalogs give static pressure, so that is what the figures are taken for.
    """
    if points := data.get(CONF_FAN_POINTS):
        return Fan(
            points=tuple((flow, pressure) for flow, pressure in points), kind="static"
        )
    if CONF_FREE_FLOW in data:
        return Fan.from_free_air(data[CONF_FREE_FLOW], data[CONF_MAX_SUCTION])
    return None


def read_room(hass: HomeAssistant, data: Mapping[str, Any]) -> Air:
    """Return the air of the shop: at the hub's elevation unless another was given."""
    altitude = data.get(CONF_ALTITUDE, float(hass.config.elevation))
    return Air.at(altitude, data.get(CONF_TEMPERATURE, USUAL_TEMPERATURE))


def read_collector(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return separator, filter and discharge, as far as they were entered."""
    parts: dict[str, Any] = {}
    if CONF_SEPARATOR_LOSS in data:
        parts["separator"] = Separator.from_point(
            data[CONF_SEPARATOR_FLOW], data[CONF_SEPARATOR_LOSS]
        )
    if CONF_FILTER_LOSS in data:
        parts["filter"] = Filter.from_point(
            data[CONF_FILTER_FLOW], data[CONF_FILTER_LOSS]
        )
    if (
        data.get(CONF_DISCHARGE) == DischargeKind.OUTSIDE
        and CONF_STACK_DIAMETER in data
    ):
        parts["discharge"] = Discharge(
            pipe=Pipe(
                diameter=data[CONF_STACK_DIAMETER],
                length=data.get(CONF_STACK_LENGTH, 0.0),
            )
        )
    return parts


def read_elbows(data: Mapping[str, Any]) -> tuple[Elbow, ...]:
    """Return the elbows of a stored duct."""
    return tuple(
        Elbow(
            count=row["count"],
            angle=row["angle"],
            radius_ratio=row["radius"],
            construction=row["construction"],
        )
        for row in data.get(CONF_ELBOWS, ())
    )


def _ducts(entry: Described) -> Iterator[Duct]:
    into = into_of(entry)
    widths = {
        duct.subentry_id: duct.data[CONF_DIAMETER]
        for duct in entry.get_subentries_of_type(SUBENTRY_DUCT)
    }
    gates = {
        gate.data[CONF_DUCT]: _gate(gate, widths.get(gate.data[CONF_DUCT], 0.0))
        for gate in entry.get_subentries_of_type(SUBENTRY_GATE)
        if gate.data.get(CONF_HOOD) == IN_DUCT and CONF_DUCT in gate.data
    }
    for duct in entry.get_subentries_of_type(SUBENTRY_DUCT):
        data = duct.data
        yield Duct(
            id=duct.subentry_id,
            into=into[duct.subentry_id],
            diameter=data[CONF_DIAMETER],
            length=data[CONF_LENGTH],
            roughness=MATERIALS[data[CONF_DUCT_MATERIAL]].roughness,
            elbows=read_elbows(data),
            entry_angle=data[CONF_ENTRY_ANGLE],
            gate=gates.get(duct.subentry_id),
            vertical=data.get(CONF_VERTICAL, False),
        )


def _gate(gate: ConfigSubentry, diameter: float) -> Gate | None:
    """Return a gate that can shut, in a pipe of a diameter (m).

    One that is permanently open is none.
    """
    if gate.data[CONF_GATE_KIND] == GateKind.FIXED:
        return None
    seal = Seal(gate.data.get(CONF_SEAL, OLD_SEAL))
    return Gate(id=gate.subentry_id, leak_area=leak_area(seal, diameter))


def _pickups(
    entry: Described,
    ducts: tuple[Duct, ...],
    needs: Mapping[str, MachineNeed],
) -> Iterator[Pickup]:
    by_id = {duct.id: duct for duct in ducts}
    shares: dict[str, tuple[float, Carried]] = {}
    pipes = {
        gate.subentry_id: gate_pipes(gate.data, by_id[gate.data[CONF_DUCT]])
        for gate in entry.get_subentries_of_type(SUBENTRY_GATE)
        if gate.data.get(CONF_DUCT) in by_id and gate.data.get(CONF_HOOD) != IN_DUCT
    }
    for need in needs.values():
        areas = {
            pickup: pi / 4 * _first(pipes[pickup], entry, by_id, pickup) ** 2
            for pickup in need.pickups
        }
        for pickup, area in areas.items():
            own = MATERIALS_CARRIED[need.material]
            required, carried = shares.get(pickup, (0.0, own))
            # Of machines that share a gate the neediest counts.
            share = need.required * area / sum(areas.values())
            shares[pickup] = (
                max(required, share),
                max(carried, own, key=lambda material: material.minimum),
            )
    unasked = MATERIALS_CARRIED[entry.data.get(CONF_CARRIED, USUAL_CARRIED)]
    for gate in entry.get_subentries_of_type(SUBENTRY_GATE):
        if gate.subentry_id not in pipes:
            continue
        required, carried = shares.get(gate.subentry_id, (0.0, unasked))
        own_pipes = pipes[gate.subentry_id]
        duct = by_id[gate.data[CONF_DUCT]]
        yield Pickup(
            id=gate.subentry_id,
            duct=duct.id,
            entry_k=HOODS[gate.data.get(CONF_HOOD, USUAL_HOOD)].coefficient,
            pipes=own_pipes,
            gate=_gate(gate, (own_pipes or (duct,))[-1].diameter),
            entry_angle=gate.data.get(CONF_ENTRY_ANGLE, 0.0),
            required=required,
            transport=carried.minimum,
            rising=carried.rising,
            velocity_ratio=carried.velocity_ratio,
        )


def _first(
    pipes: tuple[Pipe, ...],
    entry: Described,
    ducts: Mapping[str, Duct],
    pickup: str,
) -> float:
    """Return the diameter (m) that a pickup begins with."""
    if pipes:
        return pipes[0].diameter
    return ducts[entry.subentries[pickup].data[CONF_DUCT]].diameter


def gate_pipes(data: Mapping[str, Any], duct: Duct) -> tuple[Pipe, ...]:
    """Return what lies between a machine and the duct: port, hose, drop.

    A width that was not given is that of what comes before, or of the duct. A drop is
    taken as vertical.
    """
    port = data.get(CONF_PORT_DIAMETER)
    width = data.get(CONF_HOSE_DIAMETER, port or data.get(CONF_DROP_DIAMETER))
    drop = data.get(CONF_DROP_DIAMETER, width or port)
    pipes: list[Pipe] = []
    if data.get(CONF_HOSE_LENGTH):
        pipes.append(
            hose(
                width or duct.diameter,
                data[CONF_HOSE_LENGTH],
                HoseState(data.get(CONF_HOSE_STATE, OLD_HOSE)),
            )
        )
    if data.get(CONF_DROP_LENGTH) or data.get(CONF_DROP_ELBOWS):
        pipes.append(
            Pipe(
                diameter=drop or duct.diameter,
                length=data.get(CONF_DROP_LENGTH, 0.0),
                roughness=duct.roughness,
                vertical=True,
                elbows=(
                    (Elbow(count=data[CONF_DROP_ELBOWS]),)
                    if data.get(CONF_DROP_ELBOWS)
                    else ()
                ),
            )
        )
    if port is not None and (not pipes or pipes[0].diameter != port):
        pipes.insert(0, Pipe(diameter=port))
    return tuple(pipes)
