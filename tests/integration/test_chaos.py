"""Everything at once and at random: afterwards the shop is at rest, and nothing is broken."""

from contextlib import suppress
import os
from random import Random
from typing import Any

from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.helpers import entity_registry as er
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from .workshop import (
    COLLECTOR,
    LAMP,
    PLANER_GATE,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    SWEEP_GATE,
    FakeSwitch,
    Workshop,
    add_part,
    change_part,
    change_system,
    gate,
    machine,
    standard_parts,
    system_entry,
)

SEEDS = 100 if os.environ.get("GATEWRIGHT_LONG") else 8
ACTUATORS = (COLLECTOR, SAW_GATE, PLANER_GATE, SWEEP_GATE, LAMP)
SPARE = "switch.spare"
PLUGGED_IN = "binary_sensor.planer_plugged_in"


class Chaos:
    """A workshop in which anything may happen next."""

    def __init__(self, workshop: Workshop, entry: MockConfigEntry, seed: int) -> None:
        self.workshop = workshop
        self.entry = entry
        self.random = Random(seed)
        self.said: list[str] = []

    async def step(self) -> None:
        """Let one thing happen, and some time pass."""
        happening = self.random.choice(
            [
                self.readings,
                self.readings,
                self.readings,
                self.faults,
                self.mending,
                self.hands,
                self.wishes,
                self.wishes,
                self.changes,
                self.reload,
                self.leave_and_return,
            ]
        )
        self.said.append(happening.__name__)
        await happening()
        await self.workshop.pass_time(self.random.choice([0.1, 0.5, 1, 3, 8, 20]), 1)

    async def readings(self) -> None:
        values: list[float | str] = [3, 3, 1400, 1400, 100, "unavailable", "nan", -900]
        value = self.random.choice(values)
        self.workshop.watts(self.random.choice([SAW_POWER, PLANER_POWER]), value)
        if self.random.random() < 0.3:
            state = self.random.choice(["on", "off", "unavailable"])
            self.workshop.hass.states.async_set(PLUGGED_IN, state)

    async def faults(self) -> None:
        entity_id = self.random.choice(ACTUATORS)
        if self.random.random() < 0.5:
            self.workshop.deaf.add(entity_id)
        else:
            self.workshop.fails[entity_id] = self.random.choice(
                [HomeAssistantError("no"), OSError("gone"), TimeoutError()]
            )

    async def mending(self) -> None:
        self.workshop.deaf.clear()
        self.workshop.fails.clear()

    async def hands(self) -> None:
        match self.random.randrange(4):
            case 0:
                on = self.random.random() < 0.5
                self.workshop.collector.by_hand(is_on=on)
            case 1:
                self.workshop.saw_gate.by_hand(is_closed=self.random.random() < 0.5)
            case 2:
                self.workshop.planer_gate.by_hand(is_on=self.random.random() < 0.5)
            case _:
                self.workshop.lamp.by_hand(is_on=self.random.random() < 0.5)

    async def wishes(self) -> None:
        service, entity_id = self.random.choice(
            [
                ("turn_on", "switch.dust_collector"),
                ("turn_off", "switch.dust_collector"),
                ("turn_on", "switch.floor_sweep"),
                ("turn_off", "switch.floor_sweep"),
                ("turn_on", "switch.planer_dust_collection"),
                ("toggle", "switch.dust_collector_block_starts"),
                ("turn_off", "switch.dust_collector_block_starts"),
                ("toggle", "switch.dust_collector_automatic"),
                ("open_cover", "cover.saw_gate"),
                ("close_cover", "cover.saw_gate"),
                ("close_cover", "cover.sweep_gate"),
            ]
        )
        # A refusal is an answer; nothing else may result from a request.
        with suppress(ServiceValidationError):
            await self.workshop.call(service, entity_id)

    async def changes(self) -> None:
        hass, entry = self.workshop.hass, self.entry
        match self.random.randrange(6):
            case 0 if "lathe" not in entry.subentries:
                add_part(hass, entry, gate("spare", "Spare gate", actuator=SPARE))
                lathe = machine("lathe", "Lathe", gates=["spare"], sensor=SAW_POWER)
                add_part(hass, entry, lathe)
            case 1 if "lathe" in entry.subentries:
                for part in self.random.sample(["lathe", "spare"], 2):
                    hass.config_entries.async_remove_subentry(entry, part)
            case 2:
                change_system(hass, entry, run_on=self.random.choice([0.0, 3.0, 9.0]))
            case 3:
                states = ["open", "shut", "leave"]
                change_part(hass, entry, "planer_gate", rest=self.random.choice(states))
            case 4:
                held = self.random.choice([0.0, 15.0])
                change_part(hass, entry, "saw", hold=held)
            case _:
                gates = self.random.choice([["saw_gate"], ["saw_gate", "sweep_gate"]])
                change_part(hass, entry, "saw", gates=gates)
        await hass.async_block_till_done()

    async def reload(self) -> None:
        assert await self.workshop.hass.config_entries.async_reload(self.entry.entry_id)
        await self.workshop.hass.async_block_till_done()

    async def leave_and_return(self) -> None:
        fake = self.random.choice(
            [
                self.workshop.collector,
                self.workshop.saw_gate,
                self.workshop.planer_gate,
                self.workshop.sweep_gate,
            ]
        )
        fake.become(available=False)
        await self.workshop.pass_time(self.random.choice([1, 15]), 1)
        fake.become(available=True)


@pytest.mark.parametrize("seed", range(SEEDS))
async def test_chaos(
    hass: HomeAssistant,
    workshop: Workshop,
    caplog: pytest.LogCaptureFixture,
    hass_storage: dict[str, Any],
    seed: int,
) -> None:
    await workshop.add(FakeSwitch(workshop, SPARE))
    hass.states.async_set(PLUGGED_IN, "on")
    parts = standard_parts()
    parts[3] = machine(
        "saw",
        "Table saw",
        gates=["saw_gate"],
        sensor=SAW_POWER,
        companions=[LAMP],
        clearing=[{"gates": ["sweep_gate"], "duration": 5.0}],
    )
    parts[4] = machine(
        "planer",
        "Planer",
        gates=["planer_gate"],
        sensor=PLANER_POWER,
        attached=PLUGGED_IN,
    )
    entry = system_entry(parts)
    await workshop.start(entry)
    chaos = Chaos(workshop, entry, seed)
    for _ in range(60):
        await chaos.step()

    # Everything is repaired, and nothing is requested.
    await chaos.mending()
    hass.states.async_set(PLUGGED_IN, "on")
    await workshop.call("turn_off", "switch.dust_collector_block_starts")
    await workshop.call("turn_on", "switch.dust_collector_automatic")
    change_part(hass, entry, "planer_gate", rest="shut")
    for watts, seconds in ((3, 720), (1400, 30), (3, 60)):
        workshop.watts(SAW_POWER, watts)
        workshop.watts(PLANER_POWER, watts)
        await workshop.call("turn_off", "switch.dust_collector")
        await workshop.call("turn_off", "switch.planer_dust_collection")
        await workshop.pass_time(seconds, 2)
    # A gate that was given up is retried only when somebody needs it moved.
    for service in ("open_cover", "close_cover"):
        for name in ("saw_gate", "planer_gate", "sweep_gate"):
            await workshop.call(service, f"cover.{name}")
            await workshop.pass_time(8, 2)
    workshop.calls.clear()
    await workshop.pass_time(60, 2)
    said = (seed, chaos.said)
    assert workshop.sent() == [], said
    assert workshop.state("sensor.dust_collector_phase") == "idle", said
    assert workshop.state(COLLECTOR) == "off", said
    standing = workshop.attribute("binary_sensor.dust_collector_problem", "alarms")
    assert standing == [], said

    # It still works.
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(8)
    assert workshop.state(COLLECTOR) == "on", said
    assert workshop.state(SAW_GATE) == "open", said
    assert entry.state is ConfigEntryState.LOADED
    assert await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done()
    assert workshop.state(COLLECTOR) == "off"
    assert not er.async_entries_for_config_entry(er.async_get(hass), entry.entry_id)
    assert "Traceback" not in caplog.text, said
    assert not [r for r in caplog.records if r.levelname == "ERROR"], said
