"""A small workshop of plain states and services for in-process tests."""

import asyncio
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, cast

from freezegun.api import FrozenDateTimeFactory
from homeassistant.components.cover import CoverEntity, CoverEntityFeature
from homeassistant.components.switch import SwitchEntity
from homeassistant.components.valve import ValveEntity, ValveEntityFeature
from homeassistant.config_entries import ConfigSubentry, ConfigSubentryDataWithId
from homeassistant.const import ATTR_UNIT_OF_MEASUREMENT
from homeassistant.core import Context, HomeAssistant
from homeassistant.helpers.entity import Entity
from homeassistant.helpers.entity_component import DATA_INSTANCES
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_fire_time_changed,
    setup_test_component_platform,
)

from custom_components.gatewright.const import DOMAIN

COLLECTOR = "switch.collector_relay"
SAW_POWER = "sensor.table_saw_plug_power"
PLANER_POWER = "sensor.planer_plug_power"
SAW_GATE = "cover.saw_gate_actuator"
PLANER_GATE = "switch.planer_gate_solenoid"
SWEEP_GATE = "valve.sweep_gate_actuator"

LAMP = "switch.lamp"

WATTS = {ATTR_UNIT_OF_MEASUREMENT: "W", "device_class": "power"}

# The collector waits for its gate and is up to speed at once, so that tests don't depend on times;
# `test_time_to_air` has the times.
ENTRY_DATA: dict[str, Any] = {
    "switch": COLLECTOR,
    "run_on": 3.0,
    "coast": 10.0,
    "start_delay": 0.0,
    "confirm": 10.0,
    "rest_time": 0.0,
    "spin_up": 0.0,
    "start_when": "gate_open",
    "hand_gates": ["sweep_gate"],
    "hide_wrapped": True,
}


def gate(gate_id: str, title: str, **data: Any) -> ConfigSubentryDataWithId:
    """Return the subentry of a powered gate."""
    return ConfigSubentryDataWithId(
        data={
            "gate_kind": "powered",
            "inverted": False,
            "travel": 5.0,
            "rest": "shut",
            **data,
        },
        subentry_id=gate_id,
        subentry_type="gate",
        title=title,
        unique_id=f"gate-{gate_id}",
    )


def machine(machine_id: str, title: str, **data: Any) -> ConfigSubentryDataWithId:
    """Return the subentry of a machine; with a `sensor` in W unless told otherwise."""
    levels = (
        {
            "unit": "W",
            "start": 150.0,
            "stop": 60.0,
            "start_settle": 1.0,
            "stop_settle": 4.0,
            "grace": 60.0,
            "on_lost": "stopped",
        }
        if "sensor" in data
        else {}
    )
    return ConfigSubentryDataWithId(
        data={"kind": "other", "hold": 0.0, "needs_air": True, **levels, **data},
        subentry_id=machine_id,
        subentry_type="machine",
        title=title,
        unique_id=f"machine-{machine_id}",
    )


def standard_parts() -> list[ConfigSubentryDataWithId]:
    """Return a saw, a planer and a floor sweep, each with a gate of another kind."""
    return [
        gate("saw_gate", "Saw gate", actuator=SAW_GATE),
        gate("planer_gate", "Planer gate", actuator=PLANER_GATE),
        gate("sweep_gate", "Sweep gate", actuator=SWEEP_GATE),
        machine("saw", "Table saw", gates=["saw_gate"], sensor=SAW_POWER),
        machine("planer", "Planer", gates=["planer_gate"], sensor=PLANER_POWER),
        machine(
            "sweep",
            "Floor sweep",
            kind="floor_sweep",
            gates=["sweep_gate"],
            request_limit=600.0,
        ),
    ]


def system_entry(
    parts: list[ConfigSubentryDataWithId] | None = None,
    *,
    title: str = "Dust collector",
    entry_id: str = "system",
    **data: Any,
) -> MockConfigEntry:
    """Return a config entry of the standard workshop, or of other parts."""
    return MockConfigEntry(
        domain=DOMAIN,
        minor_version=2,
        entry_id=entry_id,
        title=title,
        data={**ENTRY_DATA, **data},
        subentries_data=standard_parts() if parts is None else parts,
    )


class _Fake:
    """The common part of the fake entities: they record each call, and may fail or ignore it."""

    workshop: Workshop
    entity_id: str

    async def _obey(self, service: str, **state: object) -> None:
        self.workshop.calls.append((service, self.entity_id))
        if (error := self.workshop.fails.get(self.entity_id)) is not None:
            raise error
        if self.entity_id in self.workshop.hangs:
            await asyncio.Event().wait()
        if self.entity_id not in self.workshop.deaf:
            self.become(**state)

    def become(self, **state: object) -> None:
        """Change state, whatever the cause."""
        for name, value in state.items():
            setattr(self, f"_attr_{name}", value)
        cast("Entity", self).async_write_ha_state()

    def by_hand(self, **state: object) -> None:
        """Change state by hand."""
        cast("Entity", self).async_set_context(Context())
        self.become(**state)


class FakeSwitch(_Fake, SwitchEntity):
    _attr_should_poll = False
    _attr_is_on = False

    def __init__(self, workshop: Workshop, entity_id: str) -> None:
        self.workshop = workshop
        self.entity_id = entity_id
        self._attr_unique_id = self._attr_name = entity_id.partition(".")[2]

    async def async_turn_on(self, **kwargs: Any) -> None:
        await self._obey("turn_on", is_on=True)

    async def async_turn_off(self, **kwargs: Any) -> None:
        await self._obey("turn_off", is_on=False)


class FakeCover(_Fake, CoverEntity):
    _attr_should_poll = False
    _attr_is_closed = True
    _attr_supported_features = CoverEntityFeature.OPEN | CoverEntityFeature.CLOSE

    def __init__(self, workshop: Workshop, entity_id: str) -> None:
        self.workshop = workshop
        self.entity_id = entity_id
        self._attr_unique_id = self._attr_name = entity_id.partition(".")[2]

    async def async_open_cover(self, **kwargs: Any) -> None:
        await self._obey("open_cover", is_closed=False)

    async def async_close_cover(self, **kwargs: Any) -> None:
        await self._obey("close_cover", is_closed=True)

    async def async_set_cover_position(self, **kwargs: Any) -> None:
        position = kwargs["position"]
        await self._obey(f"to_{position}", is_closed=not position)


class FakeSlide(FakeCover):
    """A cover with a position that only accepts positions."""

    _attr_current_cover_position = 0
    _attr_supported_features = CoverEntityFeature.SET_POSITION

    async def async_set_cover_position(self, **kwargs: Any) -> None:
        position = kwargs["position"]
        await self._obey(
            f"to_{position}",
            is_closed=not position,
            current_cover_position=position,
        )


class FakeValve(_Fake, ValveEntity):
    _attr_should_poll = False
    _attr_is_closed = True
    _attr_reports_position = False
    _attr_supported_features = ValveEntityFeature.OPEN | ValveEntityFeature.CLOSE

    def __init__(self, workshop: Workshop, entity_id: str) -> None:
        self.workshop = workshop
        self.entity_id = entity_id
        self._attr_unique_id = self._attr_name = entity_id.partition(".")[2]

    async def async_open_valve(self, **kwargs: Any) -> None:
        await self._obey("open_valve", is_closed=False)

    async def async_close_valve(self, **kwargs: Any) -> None:
        await self._obey("close_valve", is_closed=True)


class FakePositionValve(FakeValve):
    """A valve that only accepts positions."""

    _attr_reports_position = True
    _attr_current_valve_position = 0
    _attr_supported_features = ValveEntityFeature.SET_POSITION

    async def async_set_valve_position(self, position: int) -> None:
        await self._obey(f"to_{position}", current_valve_position=position)


type Fake = FakeSwitch | FakeCover | FakeValve


class Workshop:
    """Entities that obey at once, and a record of every call."""

    def __init__(self, hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> None:
        """Prepare the entities, everything idle and closed."""
        self.hass = hass
        self.freezer = freezer
        self.calls: list[tuple[str, str]] = []
        self.fails: dict[str, Exception] = {}
        self.deaf: set[str] = set()
        self.hangs: set[str] = set()
        self.collector = FakeSwitch(self, COLLECTOR)
        self.planer_gate = FakeSwitch(self, PLANER_GATE)
        self.lamp = FakeSwitch(self, LAMP)
        self.saw_gate = FakeCover(self, SAW_GATE)
        self.sweep_gate = FakeValve(self, SWEEP_GATE)

    async def open(self) -> None:
        """Add the entities."""
        everything: list[tuple[str, list[Fake]]] = [
            ("switch", [self.collector, self.planer_gate, self.lamp]),
            ("cover", [self.saw_gate]),
            ("valve", [self.sweep_gate]),
        ]
        for domain, entities in everything:
            if domain in self.hass.data.get(DATA_INSTANCES, {}):
                await self.add(*entities)
                continue
            setup_test_component_platform(self.hass, domain, entities)
            config = {domain: {"platform": "test"}}
            assert await async_setup_component(self.hass, domain, config)
        await self.hass.async_block_till_done()
        self.watts(SAW_POWER, 3)
        self.watts(PLANER_POWER, 2)

    async def add(self, *fakes: Fake) -> None:
        """Add more entities now."""
        for fake in fakes:
            component = self.hass.data[DATA_INSTANCES][fake.entity_id.partition(".")[0]]
            await component.async_add_entities([fake])

    async def call(self, service: str, entity_id: str, **data: Any) -> None:
        """Call an action on an entity as a user."""
        await self.hass.services.async_call(
            entity_id.partition(".")[0],
            service,
            {"entity_id": entity_id, **data},
            blocking=True,
            context=Context(),
        )
        await self.hass.async_block_till_done()

    def sent(self) -> list[tuple[str, str]]:
        """Return the commands since the last call."""
        calls, self.calls = self.calls, []
        return calls

    def put(
        self, entity_id: str, state: str, attributes: Mapping[str, Any] | None = None
    ) -> None:
        """Set a state, keeping the attributes it has."""
        if attributes is None and (old := self.hass.states.get(entity_id)):
            attributes = old.attributes
        self.hass.states.async_set(entity_id, state, attributes)

    def watts(self, entity_id: str, watts: float | str) -> None:
        """Report a plug's power."""
        self.put(entity_id, str(watts), WATTS)

    async def pass_time(self, seconds: float, step: float = 0.5) -> None:
        """Let time pass in small steps, so that nothing is skipped."""
        left = seconds
        while left > 1e-9:
            self.freezer.tick(min(step, left))
            left -= step
            async_fire_time_changed(self.hass)
            await self.settle()

    async def settle(self) -> None:
        """Let everything happen that doesn't wait for time."""
        if not self.hangs:
            await self.hass.async_block_till_done()
            return
        # Home Assistant would wait for the hanging call.
        for _ in range(50):
            await asyncio.sleep(0)

    async def start(self, entry: MockConfigEntry) -> None:
        """Set an entry up and let it come to rest."""
        await self.load(entry)
        await self.pass_time(11, 1)
        self.calls.clear()

    async def load(self, entry: MockConfigEntry) -> None:
        """Set an entry up, and nothing more."""
        if self.hass.config_entries.async_get_entry(entry.entry_id) is None:
            entry.add_to_hass(self.hass)
        assert await self.hass.config_entries.async_setup(entry.entry_id)
        await self.hass.async_block_till_done()

    async def saw_runs(self) -> None:
        """Turn the table saw on and wait until it's served."""
        self.watts(SAW_POWER, 1400)
        await self.pass_time(2)
        self.calls.clear()

    def attribute(self, entity_id: str, name: str) -> Any:
        """Return an attribute of an entity that must exist."""
        state = self.hass.states.get(entity_id)
        assert state is not None, entity_id
        return state.attributes.get(name)

    def state(self, entity_id: str) -> str:
        """Return the state of an entity that must exist."""
        state = self.hass.states.get(entity_id)
        assert state is not None, entity_id
        return state.state


def add_part(
    hass: HomeAssistant, entry: MockConfigEntry, part: ConfigSubentryDataWithId
) -> None:
    """Add a gate or a machine to an entry, like its flow."""
    subentry = ConfigSubentry(
        data=MappingProxyType(part["data"]),
        subentry_id=part["subentry_id"],
        subentry_type=part["subentry_type"],
        title=part["title"],
        unique_id=part["unique_id"],
    )
    hass.config_entries.async_add_subentry(entry, subentry)


def change_part(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    part_id: str,
    *,
    title: str | None = None,
    without: tuple[str, ...] = (),
    **data: Any,
) -> None:
    """Change a gate or a machine, like its flow."""
    subentry = entry.subentries[part_id]
    kept = {key: value for key, value in subentry.data.items() if key not in without}
    hass.config_entries.async_update_subentry(
        entry, subentry, data={**kept, **data}, title=title or subentry.title
    )


def change_system(hass: HomeAssistant, entry: MockConfigEntry, **data: Any) -> None:
    """Change the collector's figures, like the reconfigure flow."""
    hass.config_entries.async_update_entry(entry, data={**entry.data, **data})
