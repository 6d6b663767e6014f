"""The recorded past of one system: the inputs of its core, and what happened."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from homeassistant.const import STATE_ON
from homeassistant.core import HomeAssistant, split_entity_id
from homeassistant.helpers import entity_registry as er
from homeassistant.util import dt as dt_util

from ...const import CONF_BIN_FULL, CONF_FIRE_DETECTORS, DOMAIN, UNIT_WATT
from ...core.calibration.history import Interval, Reading, bridged, total
from ...core.config import GateKind
from ...core.simulation.actual import ActualFigures, common
from ...core.simulation.simulation import Recording, Signal
from ...runtime.config_loader import (
    SLIDES,
    EntitySource,
    GateSources,
    LoadedConfig,
    MachineSources,
)
from ...runtime.decoding import read_ends, read_slide, read_switch
from ...runtime.entity_references import relay_beside
from ...runtime.old_names.table import ALARMS
from .recorder import Archive, energy_within, intervals, merged

_ON = frozenset({STATE_ON})


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """What was recorded between `begins` and `ends`, in s since 1970.

    `happened` is None if the collector's switch wasn't recorded, `power` in W if the
    collector's power wasn't measured while it ran. `unrecorded` are the sensed machines
    without a reading, `alarms` the number of times each was raised, by kind and part
    (None if not recorded).
    """

    recording: Recording
    happened: ActualFigures | None
    power: float | None
    unrecorded: tuple[str, ...]
    alarms: Counter[tuple[str, str]] | None
    count: int


async def read_records(
    hass: HomeAssistant,
    entry_id: str,
    layout: LoadedConfig,
    begins: datetime,
    ends: datetime,
    progress: Callable[[float], None],
) -> Recorded:
    """Read everything that a simulation of a layout needs; report `progress`, 0 to 1.

    Time before the first reading of any machine is left out.
    """
    archive = Archive(hass, begins, ends)
    reader = _RecordReader(
        hass, entry_id, archive, begins.timestamp(), ends.timestamp()
    )
    steps = len(layout.machines) + len(layout.gates) + 1
    for done, (machine_id, sources) in enumerate(layout.machines.items()):
        await reader.read_machine(machine_id, sources)
        progress((done + 1) / steps)
    for done, (gate_id, gate) in enumerate(layout.gates.items(), len(layout.machines)):
        await reader.read_gate(gate_id, gate, layout)
        progress((done + 1) / steps)
    sensed = {m for m, sources in layout.machines.items() if sources.sensor is not None}
    first = min(
        (reported[0][0] for reported in reader.readings.values()),
        default=begins.timestamp(),
    )
    since = max(first, begins.timestamp())
    happened, power = await reader.read_collector(layout, since)
    recording = Recording(
        begins=since,
        ends=ends.timestamp(),
        readings=reader.readings,
        connected=reader.connected,
        hand_gates=reader.hand_gates,
        requests=reader.requests,
        start_block=await reader.own_signal("switch", f"{entry_id}_start_block"),
        fire_shutdown=await reader.any_signal(
            layout.watched.get(CONF_FIRE_DETECTORS, ())
        ),
        bin_full=await reader.any_signal(layout.watched.get(CONF_BIN_FULL, ())),
    )
    return Recorded(
        recording=recording,
        happened=happened,
        power=power,
        unrecorded=tuple(
            machine
            for machine in layout.machines
            if machine in sensed and machine not in reader.readings
        ),
        alarms=await reader.read_alarms(),
        count=sum(len(reported) for reported in reader.readings.values()),
    )


@dataclass
class _RecordReader:
    hass: HomeAssistant
    entry_id: str
    archive: Archive
    begins: float
    ends: float
    readings: dict[str, Sequence[Reading]] = field(default_factory=dict)
    connected: dict[str, Sequence[Signal]] = field(default_factory=dict)
    hand_gates: dict[str, Sequence[Signal]] = field(default_factory=dict)
    gates: dict[str, Sequence[Interval]] = field(default_factory=dict)
    requests: dict[str, Sequence[Interval]] = field(default_factory=dict)

    async def read_machine(self, machine_id: str, sources: MachineSources) -> None:
        """Read a machine's sensor, its hose signal and its requests."""
        if sources.connected is not None:
            self.connected[machine_id] = await self._signal(sources.connected)
        asked = await self.own_signal("switch", f"{machine_id}_request")
        self.requests[machine_id] = intervals(asked, self.ends)
        sensor = None if sources.sensor is None else sources.sensor.entity_id
        if sensor is None:
            return
        readings: Sequence[Reading]
        if sources.unit is None:
            readings = [
                (at, None if on is None else float(on))
                for at, on in await self.archive.signal(sensor, sources.running_states)
            ]
        else:
            readings = await self.archive.readings(sensor, sources.unit)
            if readings and (relay := relay_beside(self.hass, sensor)):
                # Some plugs report nothing while they are off.
                off = await self.archive.signal(relay, _ON)
                readings = sorted(
                    [*readings, *((at, 0.0) for at, on in off if on is False)],
                    key=lambda reading: reading[0],
                )
        if readings:
            self.readings[machine_id] = readings

    async def read_gate(
        self, gate_id: str, sources: GateSources, layout: LoadedConfig
    ) -> None:
        """Read a gate's positions."""
        gate = next(gate for gate in layout.system.gates if gate.gate_id == gate_id)
        if gate.kind is GateKind.FIXED:
            self.gates[gate_id] = ((0.0, self.ends),)
            return
        stood = await self._actuator(sources)
        if sources.open_sensor is not None or sources.closed_sensor is not None:
            ends = merged(
                await self._signal(sources.open_sensor),
                await self._signal(sources.closed_sensor),
                lambda opened, closed: (
                    read_ends(opened, closed),
                    opened is closed is None,
                ),
            )
            stood = merged(
                stood,
                ends,
                lambda reported, end: reported if end is None or end[1] else end[0],
            )
        if not stood:
            return
        self.gates[gate_id] = intervals(stood, self.ends)
        if gate.kind is GateKind.HAND:
            self.hand_gates[gate_id] = stood

    async def read_collector(
        self, layout: LoadedConfig, since: float
    ) -> tuple[ActualFigures | None, float | None]:
        """Return when the collector ran, and its power in W meanwhile."""
        switched = await self._signal(layout.switch)
        if not switched:
            return None, None
        whole = ((since, self.ends),)
        on = list(common(intervals(switched, self.ends), whole))
        energy = power = None
        if layout.power is not None and layout.power.entity_id is not None:
            watts = await self.archive.readings(layout.power.entity_id, UNIT_WATT)
            least = layout.system.collector.turning_power
            # Without a measurement, the switch's state counts.
            pulls = [(at, w is None or abs(w) >= least) for at, w in watts]
            if pulls:
                known = [(0.0, pulls[0][0]), *intervals(pulls, self.ends)]
                on = list(bridged(common(on, known)))
            energy = energy_within(watts, on, self.ends)
            if energy is not None and total(on) > 0:
                power = energy / total(on)
        return ActualFigures(collector=on, gates=self.gates, energy=energy), power

    async def read_alarms(self) -> Counter[tuple[str, str]] | None:
        """Return how often each alarm was raised."""
        entity_id = self._own("event", f"{self.entry_id}_alarm")
        if entity_id is None:
            return None
        found: Counter[tuple[str, str]] = Counter()
        reported = {
            state.state: state.attributes
            for state in await self.archive.states(entity_id)
        }
        for at, attributes in reported.items():
            raised = dt_util.parse_datetime(at)
            if raised is None or raised.timestamp() < self.begins:
                continue
            if attributes.get("event_type") == "raised":
                kind = str(attributes.get("alarm"))
                part = str(attributes.get("part"))
                # Events recorded before version 0.2 have the old names.
                found[ALARMS.get(kind, kind), part] += 1
        return found

    async def own_signal(self, domain: str, unique_id: str) -> Sequence[Signal]:
        """Return the signal of an entity of ours."""
        entity_id = self._own(domain, unique_id)
        return [] if entity_id is None else await self.archive.signal(entity_id, _ON)

    async def any_signal(self, sources: Sequence[EntitySource]) -> Sequence[Signal]:
        """Return when any of some entities was on."""
        found: Sequence[Signal] = []
        for source in sources:
            found = merged(
                found, await self._signal(source), lambda one, other: one or other
            )
        return found

    def _own(self, domain: str, unique_id: str) -> str | None:
        return er.async_get(self.hass).async_get_entity_id(domain, DOMAIN, unique_id)

    async def _signal(self, source: EntitySource | None) -> Sequence[Signal]:
        if source is None or source.entity_id is None:
            return []
        return await self.archive.signal(source.entity_id, _ON)

    async def _actuator(self, sources: GateSources) -> Sequence[Signal]:
        source = sources.actuator
        if source is None or source.entity_id is None:
            return []
        slide = split_entity_id(source.entity_id)[0] in SLIDES
        return [
            (
                state.last_updated_timestamp,
                read_slide(state).value
                if slide
                else read_switch(state, inverted=sources.inverted).value,
            )
            for state in await self.archive.states(source.entity_id)
        ]
