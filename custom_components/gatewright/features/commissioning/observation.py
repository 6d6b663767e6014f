"""What the system check observes of Home Assistant's entities."""

from collections.abc import Mapping

from homeassistant.const import ATTR_ASSUMED_STATE
from homeassistant.core import HomeAssistant, State, split_entity_id

from ...core.commissioning.task import Signal, SignalRole
from ...runtime.config_loader import SLIDES, EntitySource, GateSources, LoadedConfig
from ...runtime.decoding import read_flag, read_slide


def roles_of(
    hass: HomeAssistant, layout: LoadedConfig
) -> dict[str, tuple[SignalRole, ...]]:
    """Return the entities of each gate that report its position.

    End sensors take precedence over the actuator. A switch, and a cover with an assumed
    state, only repeat the last command.
    """
    return {gate: _roles(hass, sources) for gate, sources in layout.gates.items()}


def invertible(layout: LoadedConfig) -> frozenset[str]:
    """Return the gates whose actuator can be inverted."""
    return frozenset(
        gate
        for gate, sources in layout.gates.items()
        if (actuator := sources.actuator) is not None
        and actuator.entity_id is not None
        and split_entity_id(actuator.entity_id)[0] not in SLIDES
    )


def signals(
    hass: HomeAssistant,
    layout: LoadedConfig,
    roles: Mapping[str, tuple[SignalRole, ...]],
) -> dict[Signal, bool | None]:
    """Return what each of them reports."""
    found: dict[Signal, bool | None] = {}
    for gate, sources in layout.gates.items():
        for role in roles.get(gate, ()):
            if role is SignalRole.SLIDE:
                found[gate, role] = read_slide(_state(hass, sources.actuator)).value
            else:
                found[gate, role] = read_flag(_state(hass, _sensor(sources, role)))
    return found


def heard(layout: LoadedConfig) -> list[str]:
    """Return the entities of all gates."""
    return [
        source.entity_id
        for sources in layout.gates.values()
        for source in (sources.actuator, sources.open_sensor, sources.closed_sensor)
        if source is not None and source.entity_id is not None
    ]


def _roles(hass: HomeAssistant, sources: GateSources) -> tuple[SignalRole, ...]:
    sensors = tuple(
        role
        for role in (SignalRole.OPEN_SENSOR, SignalRole.CLOSED_SENSOR)
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
    return (SignalRole.SLIDE,)


def _sensor(sources: GateSources, role: SignalRole) -> EntitySource | None:
    return (
        sources.open_sensor if role is SignalRole.OPEN_SENSOR else sources.closed_sensor
    )


def _state(hass: HomeAssistant, source: EntitySource | None) -> State | None:
    if source is None or source.entity_id is None:
        return None
    return hass.states.get(source.entity_id)
