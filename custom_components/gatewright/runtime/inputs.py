"""Subscribes to the entities, and turns their states into events."""

from collections.abc import Callable
from typing import Any

from homeassistant.core import (
    CALLBACK_TYPE,
    Event,
    EventStateChangedData,
    EventStateReportedData,
    State,
    callback,
    split_entity_id,
)
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.event import (
    async_track_state_change_event,
    async_track_state_report_event,
)

from ..const import UNIT_WATT
from ..core.inputs import (
    CollectorPower,
    CollectorReported,
    GateReported,
    HoseReported,
    Input,
    LinkedDeviceReported,
    MachineReading,
    RelayReported,
    WorkForetold,
)
from .config_loader import (
    SLIDES,
    EntitySource,
    GateSources,
    LoadedConfig,
    MachineSources,
)
from .decoding import (
    AWAY,
    NO_POSITION,
    CoverPosition,
    Feedback,
    NumberReader,
    SignalReader,
    read_ends,
    read_flag,
    read_look,
    read_slide,
    read_switch,
)
from .entity_references import relay_beside
from .system_context import SystemContext

_MATTER = {"disabled_by", "entity_id"}
"""The changes of a registry entry that matter here."""

type Changed = Event[EventStateChangedData]
type ReadingEvent = Event[EventStateChangedData] | Event[EventStateReportedData]


class InputListener:
    """All subscriptions of one system."""

    def __init__(self, system: SystemContext, replan: Callable[[], None]) -> None:
        """Start unsubscribed; `replan` is called when entities come or go."""
        self._hass = system.hass
        self._system = system
        self._handle = system.handle
        self._replan = replan
        self._unsubs: list[CALLBACK_TYPE] = []

    @callback
    def listen(self, layout: LoadedConfig) -> None:
        """Subscribe to a layout's entities, and give the core their present states."""
        self.close()
        self._system.slides.clear()
        self._watch_registry(layout)
        for gate_id, gate in layout.gates.items():
            self._subscribe_gate(gate_id, gate)
        for machine_id, machine in layout.machines.items():
            if machine_id in self._system.sequence.machines:
                self._subscribe_machine(machine_id, machine)
        for linked_device_id, source in layout.linked_devices.items():
            self._subscribe_linked_device(linked_device_id, source)
        self._subscribe_collector(layout)

    @callback
    def close(self) -> None:
        """Unsubscribe."""
        while self._unsubs:
            self._unsubs.pop()()

    def _state(self, source: EntitySource | None) -> State | None:
        if source is None or source.entity_id is None:
            return None
        return self._hass.states.get(source.entity_id)

    def _on_change(
        self, source: EntitySource | None, on_change: Callable[[Changed], None]
    ) -> None:
        if source is not None and source.entity_id is not None:
            self._unsubs.append(
                async_track_state_change_event(self._hass, source.entity_id, on_change)
            )

    def _subscribe_machine(self, machine_id: str, sources: MachineSources) -> None:
        if sources.early_signal is not None:
            self._follow(
                sources.early_signal,
                lambda state: WorkForetold(machine_id, read_flag(state)),
            )
        if sources.connected is not None:
            self._follow(
                sources.connected,
                lambda state: HoseReported(machine_id, read_flag(state)),
            )
        if sources.sensor is None:
            return
        reader: Callable[[State | None], float | None] = (
            SignalReader(sources.running_states)
            if sources.unit is None
            else NumberReader(sources.unit)
        )
        handle = self._handle

        # The hot path: most readings change nothing, and end in the core's run
        # detector.
        @callback
        def on_reading(event: ReadingEvent) -> None:
            handle(MachineReading(machine_id, reader(event.data["new_state"])))

        if sources.unit is not None:
            self._check_relay(machine_id, sources.sensor, sources.relay)
        handle(MachineReading(machine_id, reader(self._state(sources.sensor))))
        self._on_change(sources.sensor, on_reading)
        if sources.sensor.entity_id is not None and sources.unit is not None:
            # An identical reading written again means that the plug is alive.
            self._unsubs.append(
                async_track_state_report_event(
                    self._hass, sources.sensor.entity_id, on_reading
                )
            )

    def _check_relay(
        self, machine_id: str, sensor: EntitySource, chosen: EntitySource | None
    ) -> None:
        """Check a metering plug's readings against its relay.

        With the relay off, some plugs report nothing, or repeat the last reading.
        """
        relay = None if chosen is None else chosen.entity_id
        if chosen is None and sensor.entity_id is not None:
            relay = relay_beside(self._hass, sensor.entity_id)
        if relay:
            self._follow(
                EntitySource(stored=relay, entity_id=relay),
                lambda state: RelayReported(machine_id, read_flag(state)),
            )

    def _follow(
        self, source: EntitySource, event_of: Callable[[State | None], Input]
    ) -> None:
        """Subscribe to an entity, and make an event of its present and each later state."""

        @callback
        def on_change(event: Changed) -> None:
            self._handle(event_of(event.data["new_state"]))

        self._handle(event_of(self._state(source)))
        self._on_change(source, on_change)

    def _follow_actuator(
        self,
        event_of: Callable[[State | None, bool], Input],
        *sources: EntitySource | None,
    ) -> None:
        """Subscribe to an actuator's entities, and note which changes come from us."""

        @callback
        def on_change(event: Changed) -> None:
            own = self._system.contexts.own(event.context)
            self._handle(event_of(event.data["new_state"], own))

        self._handle(event_of(self._state(sources[0]), True))
        for source in sources:
            self._on_change(source, on_change)

    def _subscribe_gate(self, gate_id: str, sources: GateSources) -> None:
        def event_of(_state: State | None, own: bool) -> GateReported:
            self._system.slides[gate_id] = self._look(sources.actuator)
            report = self._gate_report(sources)
            return GateReported(
                gate_id,
                report.value,
                reachable=report.reachable or report.no_feedback,
                own=own,
                no_feedback=report.no_feedback,
                position=report.position,
            )

        self._follow_actuator(
            event_of, sources.actuator, sources.open_sensor, sources.closed_sensor
        )

    def _look(self, actuator: EntitySource | None) -> CoverPosition:
        if actuator is None or actuator.entity_id is None:
            return NO_POSITION
        if split_entity_id(actuator.entity_id)[0] not in SLIDES:
            return NO_POSITION
        return read_look(self._state(actuator))

    def _gate_report(self, sources: GateSources) -> Feedback:
        """Combine the states of a gate's actuator and its sensors."""
        report = Feedback(None, reachable=True)
        if sources.actuator is not None:
            report = self._actuator_report(sources.actuator, sources)
        if sources.open_sensor is None and sources.closed_sensor is None:
            return report
        opened = read_flag(self._state(sources.open_sensor))
        closed = read_flag(self._state(sources.closed_sensor))
        if opened is None and closed is None:
            return report if sources.actuator is not None else AWAY
        return report._replace(
            value=read_ends(opened, closed),
            reachable=report.reachable or report.no_feedback,
            no_feedback=False,
        )

    def _actuator_report(self, source: EntitySource, gate: GateSources) -> Feedback:
        if source.entity_id is None:
            return AWAY
        state = self._state(source)
        if split_entity_id(source.entity_id)[0] in SLIDES:
            return read_slide(state, gate.open_from)
        return read_switch(state, inverted=gate.inverted)

    def _subscribe_linked_device(
        self, linked_device_id: str, source: EntitySource
    ) -> None:
        def event_of(state: State | None, own: bool) -> LinkedDeviceReported:
            report = read_switch(state)
            return LinkedDeviceReported(
                linked_device_id, report.value, reachable=report.reachable, own=own
            )

        self._follow_actuator(event_of, source)

    def _subscribe_collector(self, layout: LoadedConfig) -> None:
        def event_of(state: State | None, own: bool) -> CollectorReported:
            report = read_switch(state)
            return CollectorReported(
                report.value,
                reachable=report.reachable or report.no_feedback,
                own=own,
                no_feedback=report.no_feedback,
            )

        if layout.power is not None:
            power = NumberReader(UNIT_WATT)
            self._follow(layout.power, lambda state: CollectorPower(power(state)))
        else:
            self._handle(CollectorPower(None))
        self._follow_actuator(event_of, layout.switch)

    def _watch_registry(self, layout: LoadedConfig) -> None:
        """Subscribe to renames and removals of everything in the layout."""
        stored = {source.stored for source in _all_sources(layout)}
        entity_ids = {source.entity_id for source in _all_sources(layout)}

        @callback
        def concerns(data: Any) -> bool:
            return (
                data["entity_id"] in entity_ids
                or data.get("old_entity_id") in entity_ids
                or (
                    data["action"] == "create"
                    and (entry := er.async_get(self._hass).async_get(data["entity_id"]))
                    is not None
                    and entry.id in stored
                )
            )

        @callback
        def changed(event: Event[er.EventEntityRegistryUpdatedData]) -> None:
            data = event.data
            if data["action"] == "update" and not _MATTER & data["changes"].keys():
                return
            self._replan()

        self._unsubs.append(
            self._hass.bus.async_listen(
                er.EVENT_ENTITY_REGISTRY_UPDATED, changed, event_filter=concerns
            )
        )


def _all_sources(layout: LoadedConfig) -> list[EntitySource]:
    found = [layout.switch, layout.power, *layout.linked_devices.values()]
    for gate in layout.gates.values():
        found += (gate.actuator, gate.open_sensor, gate.closed_sensor)
    for machine in layout.machines.values():
        found += (
            machine.sensor,
            machine.connected,
            machine.early_signal,
            machine.relay,
        )
    for sources in layout.watched.values():
        found += sources
    return [source for source in found if source is not None]
