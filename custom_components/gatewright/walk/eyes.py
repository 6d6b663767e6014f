"""What the walk can see of the hub's entities."""

from collections.abc import Mapping

from homeassistant.const import ATTR_ASSUMED_STATE
from homeassistant.core import HomeAssistant, State, split_entity_id

from ..planning import SLIDES, GateSources, Layout, Source
from ..shop.commissioning.task import Role, Signal
from ..sources import read_flag, read_slide


def roles_of(hass: HomeAssistant, layout: Layout) -> dict[str, tuple[Role, ...]]:
    """Return which entities of each gate say where it is.

    Sensors at the ends of the stroke are believed more than the actuator. A switch, and a
    cover that only assumes its state, say what they were told.
    """
    return {gate: _roles(hass, sources) for gate, sources in layout.gates.items()}


def invertible(layout: Layout) -> frozenset[str]:
    """Return the gates whose actuator can be set the other way round."""
    return frozenset(
        gate
        for gate, sources in layout.gates.items()
        if (actuator := sources.actuator) is not None
        and actuator.entity_id is not None
        and split_entity_id(actuator.entity_id)[0] not in SLIDES
    )


def signals(
    hass: HomeAssistant, layout: Layout, roles: Mapping[str, tuple[Role, ...]]
) -> dict[Signal, bool | None]:
    """Return what every one of them says."""
    found: dict[Signal, bool | None] = {}
    for gate, sources in layout.gates.items():
        for role in roles.get(gate, ()):
            if role is Role.SLIDE:
                found[gate, role] = read_slide(_state(hass, sources.actuator)).value
            else:
                found[gate, role] = read_flag(_state(hass, _sensor(sources, role)))
    return found


def heard(layout: Layout) -> list[str]:
    """Return the entities of all gates."""
    return [
        source.entity_id
        for sources in layout.gates.values()
        for source in (sources.actuator, sources.open_sensor, sources.shut_sensor)
        if source is not None and source.entity_id is not None
    ]


def _roles(hass: HomeAssistant, sources: GateSources) -> tuple[Role, ...]:
    sensors = tuple(
        role
        for role in (Role.OPEN_SENSOR, Role.SHUT_SENSOR)
        if _sensor(sources, role) is not None
    )
    if sensors:
        return sensors
    actuator = sources.actuator
    if actuator is None or actuator.entity_id is None:
        return ()
    if split_entity_id(actuator.entity_id)[0] not in SLIDES:
        return ()
    state = _state(hass, actuator)
    if state is not None and state.attributes.get(ATTR_ASSUMED_STATE):
        return ()
    return (Role.SLIDE,)


def _sensor(sources: GateSources, role: Role) -> Source | None:
    return sources.open_sensor if role is Role.OPEN_SENSOR else sources.shut_sensor


def _state(hass: HomeAssistant, source: Source | None) -> State | None:
    if source is None or source.entity_id is None:
        return None
    return hass.states.get(source.entity_id)
