"""Listens to maintenance inputs: level, pressure, power, particles, two switches."""

from collections.abc import Callable
import math

from homeassistant.const import ATTR_UNIT_OF_MEASUREMENT
from homeassistant.core import (
    CALLBACK_TYPE,
    Event,
    EventStateChangedData,
    State,
    callback,
)
from homeassistant.helpers.event import async_track_state_change_event
from homeassistant.util import dt as dt_util

from ...const import (
    CONF_BIN_LEVEL,
    CONF_FILTER_PRESSURE,
    CONF_PARTICLES,
    UNIT_JOULE,
    UNIT_PASCAL,
    UNIT_WATT,
)
from ...core.control.switch_controller import SwitchController
from ...core.inputs import TimePassed
from ...core.maintenance.maintenance import Maintenance
from ...runtime.config_loader import MAINTENANCE_SWITCHES, EntitySource, LoadedConfig
from ...runtime.decoding import MILLIGRAMS, NumberReader, read_switch
from ...runtime.entity_references import energy_beside, to_stored
from ...runtime.system_context import SystemContext


def read_number(state: State | None) -> float | None:
    """Return an entity's number, in whatever unit."""
    try:
        value = math.nan if state is None else float(state.state)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def read_particles(state: State | None) -> float | None:
    """Return a concentration in mg/m3; None if the state is none."""
    value = read_number(state)
    if value is None or state is None:
        return None
    size = MILLIGRAMS.get(state.attributes.get(ATTR_UNIT_OF_MEASUREMENT, ""))
    return None if size is None else value * size


class MaintenanceInputs:
    """Everything that maintenance listens to, besides the shop itself."""

    def __init__(
        self,
        system: SystemContext,
        keeper: Maintenance,
        switches: SwitchController,
        read_pressure: Callable[[], None],
    ) -> None:
        """Start unsubscribed; `read_pressure` is called when the gauge changes."""
        self._hass = system.hass
        self._system = system
        self._keeper = keeper
        self._switches = switches
        self._read_pressure = read_pressure
        self._unsubs: list[CALLBACK_TYPE] = []
        self.pressure: Callable[[], float | None] = lambda: None
        """The present pressure loss over the filter, in Pa; None without a gauge."""
        self.has_gauge = False
        """Whether a gauge across the filter is set up, readable or not."""
        self.counters: dict[str, EntitySource] = {}
        """The energy counter of each machine, beside its sensor."""

    @callback
    def close(self) -> None:
        """Unsubscribe."""
        while self._unsubs:
            self._unsubs.pop()()

    @callback
    def listen(self, layout: LoadedConfig) -> None:
        """Subscribe to the entities of a layout, and read their present states."""
        self.close()
        watched = layout.watched
        keeper, now = self._keeper, self._system.now

        def first(field: str) -> EntitySource | None:
            return next(iter(watched.get(field, ())), None)

        def level(state: State | None) -> None:
            if keeper.bin is not None:
                keeper.bin.read_level(read_number(state), now())

        def particles(state: State | None) -> None:
            keeper.read_particles(read_particles(state), now(), dt_util.now())

        power = NumberReader(UNIT_WATT)

        def watts(state: State | None) -> None:
            keeper.meter.read(power(state), now())

        # The level sensor counts only at rest, so its state is evaluated anew then.
        self._follow(first(CONF_BIN_LEVEL), level, advance=True)
        self._follow(first(CONF_PARTICLES), particles, advance=keeper.room is not None)
        self._follow(layout.power, watts, advance=False)
        self._gauge(first(CONF_FILTER_PRESSURE))
        self._count(layout)
        for field in MAINTENANCE_SWITCHES:
            if (source := first(field)) is not None:
                self._switch(source)

    def _count(self, layout: LoadedConfig) -> None:
        """Subscribe to the energy counters of the machines' plugs."""
        self.counters = {}
        for machine_id, machine in layout.machines.items():
            sensor = None if machine.sensor is None else machine.sensor.entity_id
            beside = None if sensor is None else energy_beside(self._hass, sensor)
            if beside is None:
                continue
            counter = EntitySource(
                stored=to_stored(self._hass, beside), entity_id=beside
            )
            self.counters[machine_id] = counter
            reader = NumberReader(UNIT_JOULE)

            def counted(
                state: State | None,
                machine_id: str = machine_id,
                source: str = counter.stored,
                reader: NumberReader = reader,
            ) -> None:
                self._keeper.counters.read(machine_id, source, reader(state))

            self._follow(counter, counted, advance=False)

    def _gauge(self, source: EntitySource | None) -> None:
        # A contact that only reports "clogged" gives no pressure.
        limit = self._system.described.system.watching.filter_limit
        self.has_gauge = source is not None and limit is not None
        if source is None or source.entity_id is None or limit is None:
            self.pressure = lambda: None
            return
        entity_id = source.entity_id
        reader = NumberReader(UNIT_PASCAL)

        def read() -> float | None:
            value = reader(self._hass.states.get(entity_id))
            return None if value is None or not math.isfinite(value) else abs(value)

        self.pressure = read
        self._follow(source, lambda _: self._read_pressure(), advance=False)

    def _switch(self, source: EntitySource) -> None:
        def tell(state: State | None, *, own: bool) -> None:
            said = read_switch(state)
            self._switches.report(
                source.stored,
                said.value,
                self._system.now(),
                reachable=said.reachable,
                own=own,
            )

        @callback
        def heard(event: Event[EventStateChangedData]) -> None:
            own = self._system.contexts.own(event.context)
            tell(event.data["new_state"], own=own)
            self._system.handle(TimePassed())

        if source.entity_id is not None:
            tell(self._hass.states.get(source.entity_id), own=True)
            self._unsubs.append(
                async_track_state_change_event(self._hass, source.entity_id, heard)
            )

    def _follow(
        self,
        source: EntitySource | None,
        heard: Callable[[State | None], None],
        *,
        advance: bool,
    ) -> None:
        if source is None or source.entity_id is None:
            heard(None)
            return

        @callback
        def changed(event: Event[EventStateChangedData]) -> None:
            heard(event.data["new_state"])
            if advance:
                self._system.handle(TimePassed())

        heard(self._hass.states.get(source.entity_id))
        self._unsubs.append(
            async_track_state_change_event(self._hass, source.entity_id, changed)
        )
