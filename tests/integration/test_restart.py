"""A restart of Home Assistant: the restored memory, and entities that come up late."""

from datetime import datetime, timedelta
from itertools import permutations
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
import pytest

from .workshop import (
    COLLECTOR,
    PLANER_GATE,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    SWEEP_GATE,
    FakeSwitch,
    Workshop,
    machine,
    standard_parts,
    system_entry,
)

PHASE = "sensor.dust_collector_phase"
STORED = "gatewright.system"


async def forget_the_process(hass: HomeAssistant) -> None:
    """Let the next load find only what is on disk, as after a restart."""
    entry = hass.config_entries.async_entries("gatewright")[0]
    assert await hass.config_entries.async_unload(entry.entry_id)
    hass.data["gatewright_handovers"].clear()


async def restart(hass: HomeAssistant, workshop: Workshop) -> None:
    """Reload the system with only its memory on disk."""
    entry = hass.config_entries.async_entries("gatewright")[0]
    await forget_the_process(hass)
    workshop.calls.clear()
    assert await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()


async def test_restart_while_a_machine_runs_sends_nothing(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await restart(hass, workshop)
    await workshop.pass_time(30, 1)
    assert workshop.sent() == []
    assert workshop.state(PHASE) == "collecting"
    assert workshop.state("sensor.table_saw_cuts") == "1"


async def test_restart_while_a_machine_that_has_stopped_runs_on_and_stops(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await forget_the_process(hass)
    workshop.watts(SAW_POWER, 4)
    assert await hass.config_entries.async_setup("system")
    await workshop.pass_time(6.5)
    assert workshop.sent() == []
    await workshop.pass_time(1)
    assert workshop.sent() == [("turn_off", COLLECTOR)]
    await workshop.pass_time(12)
    assert workshop.sent() == [("close_cover", SAW_GATE)]


async def test_restart_in_spin_down_serves_it_whole(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    """The downtime of Home Assistant is unknown, so the impeller may still turn."""
    await workshop.start(system_entry())
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 4)
    await workshop.pass_time(14)
    assert workshop.sent() == [("turn_off", COLLECTOR)]
    await restart(hass, workshop)
    await workshop.pass_time(9)
    assert workshop.sent() == []
    await workshop.pass_time(2)
    assert workshop.sent() == [("close_cover", SAW_GATE)]


async def test_everything_comes_up_late_and_in_the_worst_order(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    """The machine reports first, then its gate, then the collector."""
    workshop = Workshop(hass, freezer)
    await workshop.load(system_entry())
    await workshop.pass_time(10, 1)
    assert workshop.state("switch.dust_collector") == "unavailable"
    assert workshop.state("cover.saw_gate") == "unavailable"
    assert workshop.state("binary_sensor.table_saw_running") == "unavailable"
    assert workshop.state(PHASE) == "spinning_down"
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    assert workshop.state("binary_sensor.table_saw_running") == "on"
    await workshop.open()
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.calls == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"


@pytest.mark.parametrize(
    "order",
    permutations(["reading", "gate", "collector"]),
    ids="-".join,
)
async def test_in_whatever_order_they_come_up_the_end_is_the_same(
    hass: HomeAssistant, workshop: Workshop, order: tuple[str, ...]
) -> None:
    """And the collector never runs before the gate is open."""
    workshop.watts(SAW_POWER, "unavailable")
    workshop.saw_gate.become(available=False)
    workshop.collector.become(available=False)
    await workshop.load(system_entry())
    for what in order:
        await workshop.pass_time(4)
        match what:
            case "reading":
                workshop.watts(SAW_POWER, 1400)
            case "gate":
                workshop.saw_gate.become(available=True)
            case "collector":
                workshop.collector.become(available=True)
    await workshop.pass_time(4)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"


async def test_the_collector_comes_up_last_and_off(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """It's turned on only once it reports its state and a gate is open."""
    workshop.collector.become(available=False)
    workshop.watts(SAW_POWER, 1400)
    await workshop.load(system_entry())
    await workshop.pass_time(20, 1)
    assert workshop.sent() == [("open_cover", SAW_GATE)]
    assert workshop.state("binary_sensor.dust_collector_turning") == "unavailable"
    workshop.collector.become(available=True)
    await workshop.pass_time(1)
    assert workshop.sent() == [("turn_on", COLLECTOR)]


async def test_a_collector_found_on_at_the_first_set_up_is_served(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.collector.become(is_on=True)
    await workshop.load(system_entry())
    await workshop.pass_time(1)
    assert workshop.sent() == [("open_valve", SWEEP_GATE)]
    assert workshop.state("switch.dust_collector") == "on"
    await workshop.pass_time(60, 2)
    assert workshop.sent() == []
    await workshop.call("turn_off", "switch.dust_collector")
    await workshop.pass_time(20)
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_valve", SWEEP_GATE)]


async def test_nothing_is_there_and_nothing_ever_comes(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    caplog: pytest.LogCaptureFixture,
) -> None:
    """Not even the domains of the entities are set up."""
    workshop = Workshop(hass, freezer)
    entry = system_entry()
    await workshop.load(entry)
    await workshop.pass_time(120, 2)
    assert workshop.state("switch.dust_collector") == "unavailable"
    # One alarm for a missing workshop, not one for each of its plugs.
    assert workshop.state("binary_sensor.table_saw_problem") == "off"
    assert workshop.attribute("binary_sensor.dust_collector_problem", "alarms") == [
        "workshop_offline"
    ]
    assert await hass.config_entries.async_unload(entry.entry_id)
    assert "Traceback" not in caplog.text
    assert "ERROR" not in {record.levelname for record in caplog.records}


async def test_unknown_at_first_is_not_acted_upon(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.collector.become(is_on=None)
    workshop.planer_gate.become(is_on=None)
    workshop.saw_gate.become(is_closed=None)
    workshop.watts(SAW_POWER, "unknown")
    workshop.watts(PLANER_POWER, "unknown")
    await workshop.load(system_entry())
    await workshop.pass_time(20, 1)
    assert workshop.sent() == []
    workshop.planer_gate.become(is_on=False)
    workshop.saw_gate.become(is_closed=True)
    workshop.collector.become(is_on=False)
    workshop.watts(SAW_POWER, 3)
    workshop.watts(PLANER_POWER, 1450)
    await workshop.pass_time(7)
    assert workshop.sent() == [("turn_on", PLANER_GATE), ("turn_on", COLLECTOR)]


@pytest.mark.parametrize(
    "memory",
    [
        {},
        {"phase": "collecting"},
        {"phase": "dancing", "motor": None},
        {"phase": "collecting", "machines": [], "hidden": [], "keeps_on": []},
    ],
)
async def test_a_memory_that_cannot_be_read_is_reported_and_put_aside(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_storage: dict[str, Any],
    caplog: pytest.LogCaptureFixture,
    memory: dict[str, Any],
) -> None:
    hass_storage[STORED] = {
        "version": 1,
        "minor_version": 1,
        "key": STORED,
        "data": memory,
    }
    await workshop.load(system_entry())
    assert "of Dust collector cannot be read and was put aside" in caplog.text
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(3)
    # Whether starts were blocked is unknown, so they are.
    assert workshop.sent() == []
    await workshop.call("turn_off", "switch.dust_collector_block_starts")
    await workshop.pass_time(3)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    assert hass_storage[STORED]["data"]["phase"] == "collecting"


async def test_a_machine_of_the_memory_that_is_gone_is_passed_over(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await forget_the_process(hass)
    entry = hass.config_entries.async_get_entry("system")
    assert entry is not None
    hass.config_entries.async_remove_subentry(entry, "saw")
    hass.config_entries.async_remove_subentry(entry, "saw_gate")
    await hass.async_block_till_done()
    assert await hass.config_entries.async_setup("system")
    await workshop.pass_time(20)
    assert workshop.state(PHASE) == "idle"
    assert ("turn_off", COLLECTOR) in workshop.sent()


async def test_start_block_outlives_a_restart(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    await workshop.pass_time(2)
    await restart(hass, workshop)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    assert workshop.sent() == []
    assert workshop.state("switch.dust_collector_block_starts") == "on"


async def test_totals_go_on_after_a_restart(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    for _ in range(2):
        await workshop.saw_runs()
        workshop.watts(SAW_POWER, 4)
        await workshop.pass_time(20)
        await restart(hass, workshop)
    await workshop.pass_time(12, 1)
    assert workshop.state("sensor.table_saw_cuts") == "2"
    assert workshop.state("sensor.dust_collector_starts") == "2"


async def test_hours_of_a_restart_are_booked_to_nobody(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await workshop.pass_time(30)
    await forget_the_process(hass)
    before = hass_storage[STORED]["data"]["ledger"]["machines"]["saw"]["run_time"]
    await workshop.pass_time(3600, 600)
    assert await hass.config_entries.async_setup("system")
    await workshop.pass_time(10)
    hours = float(workshop.state("sensor.table_saw_running_time"))
    assert hours == pytest.approx(before / 3600, abs=15 / 3600)


async def test_a_movable_machine_of_which_nothing_is_known_starts_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Neither connected nor disconnected: its readings are ignored."""
    plug = "binary_sensor.lathe_plugged_in"
    parts = [
        *standard_parts(),
        machine(
            "lathe",
            "Lathe",
            gates=["saw_gate"],
            sensor="sensor.lathe_power",
            attached=plug,
        ),
    ]
    workshop.watts("sensor.lathe_power", 900)
    await workshop.load(system_entry(parts))
    await workshop.pass_time(12, 1)
    assert workshop.sent() == []
    assert workshop.state("binary_sensor.lathe_hose_connected") == "unavailable"
    workshop.put(plug, "on")
    await workshop.pass_time(2)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    assert workshop.state("binary_sensor.lathe_hose_connected") == "on"


async def test_a_late_gate_is_driven_when_the_target_still_applies(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    late = FakeSwitch(workshop, "switch.late_gate")
    parts = standard_parts()
    parts[1]["data"] = {**parts[1]["data"], "actuator": "switch.late_gate"}
    await workshop.start(system_entry(parts))
    workshop.watts(PLANER_POWER, 1450)
    await workshop.pass_time(5)
    assert workshop.sent() == []
    await workshop.add(late)
    await workshop.pass_time(8)
    assert workshop.sent() == [("turn_on", "switch.late_gate"), ("turn_on", COLLECTOR)]


@pytest.mark.parametrize("reading", [3, "unavailable"])
async def test_what_ran_before_a_power_cut_is_no_proof_after_it(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_storage: dict[str, Any],
    reading: float | str,
) -> None:
    """The power was cut while the saw ran, and comes back with all switches off."""
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await forget_the_process(hass)
    workshop.watts(SAW_POWER, reading)
    workshop.collector.become(is_on=False)
    workshop.calls.clear()
    assert await hass.config_entries.async_setup("system")
    await workshop.pass_time(10)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(60, 1)
    assert workshop.sent() == [("close_cover", SAW_GATE)]
    assert workshop.state(PHASE) == "idle"


async def test_a_machine_that_still_runs_after_a_power_cut_is_served_again(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await forget_the_process(hass)
    workshop.watts(SAW_POWER, "unavailable")
    workshop.collector.become(is_on=False)
    workshop.calls.clear()
    assert await hass.config_entries.async_setup("system")
    await workshop.pass_time(10)
    assert workshop.sent() == []
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.sent() == [("turn_on", COLLECTOR)]


async def test_what_was_not_written_before_a_crash_stays_served(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    """Killed in the planer's shut-off delay, just after the saw was served."""
    await workshop.start(system_entry())
    workshop.watts(PLANER_POWER, 1450)
    await workshop.pass_time(8)
    workshop.watts(PLANER_POWER, 2)
    await workshop.pass_time(5)
    entry = hass.config_entries.async_get_entry("system")
    assert entry is not None
    written = entry.runtime_data.memory()
    assert written["phase"] == "shutting_off"
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    await forget_the_process(hass)
    hass_storage[STORED]["data"] = written
    workshop.watts(SAW_POWER, "unavailable")
    workshop.calls.clear()
    assert await hass.config_entries.async_setup("system")
    await workshop.pass_time(15)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(15)
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    sent = workshop.sent()
    assert ("turn_off", COLLECTOR) not in sent
    assert ("close_cover", SAW_GATE) not in sent


@pytest.mark.parametrize("hours", [-30, -1, 1, 30])
async def test_a_clock_that_is_set_changes_no_sequence(
    hass: HomeAssistant,
    workshop: Workshop,
    monkeypatch: pytest.MonkeyPatch,
    hours: float,
) -> None:
    """Home Assistant booted with a wrong time, which is corrected in the middle of a shut-off delay."""
    await workshop.start(system_entry())
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 4)
    await workshop.pass_time(5)
    assert workshop.state(PHASE) == "shutting_off"
    real = dt_util.utcnow
    monkeypatch.setattr(
        dt_util, "utcnow", lambda: real() + timedelta(hours=hours, seconds=7)
    )
    await workshop.pass_time(1.5)
    assert workshop.sent() == []
    await workshop.pass_time(1)
    assert workshop.sent() == [("turn_off", COLLECTOR)]
    # From now on the new clock counts.
    ends: datetime = workshop.attribute(PHASE, "ends")
    assert (ends - dt_util.utcnow()).total_seconds() == pytest.approx(10.0, abs=1.1)
    await workshop.pass_time(8.5)
    assert workshop.sent() == []
    await workshop.pass_time(1.5)
    assert workshop.sent() == [("close_cover", SAW_GATE)]
    assert workshop.state(PHASE) == "idle"
    hours_run = float(workshop.state("sensor.table_saw_running_time"))
    assert hours_run == pytest.approx(5 / 3600, abs=2 / 3600)
