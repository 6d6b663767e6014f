"""A system is set up, reloaded, disabled, enabled, and removed."""

import asyncio
from typing import Any
from unittest.mock import patch

from homeassistant.config_entries import ConfigEntryDisabler, ConfigEntryState
from homeassistant.const import EVENT_HOMEASSISTANT_FINAL_WRITE
from homeassistant.core import CoreState, HomeAssistant
from homeassistant.helpers import (
    device_registry as dr,
    entity_registry as er,
    issue_registry as ir,
)
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_capture_events,
)

from custom_components.gatewright import async_remove_config_entry_device
from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.runtime.journaled_file import MemoryStore

from .workshop import (
    COLLECTOR,
    LAMP,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    change_part,
    gate,
    machine,
    standard_parts,
    system_entry,
)

PHASE = "sensor.dust_collector_phase"
STORED = "gatewright.system"


async def unload(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    assert await hass.config_entries.async_unload(entry.entry_id)


async def reload(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()


async def disable(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    assert await hass.config_entries.async_set_disabled_by(
        entry.entry_id, ConfigEntryDisabler.USER
    )
    await hass.async_block_till_done()


async def enable(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    assert await hass.config_entries.async_set_disabled_by(entry.entry_id, None)
    await hass.async_block_till_done()


async def test_first_set_up_of_a_shop_at_rest_sends_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.load(entry)
    await workshop.pass_time(20, 1)
    assert workshop.sent() == []
    assert entry.state is ConfigEntryState.LOADED
    assert workshop.state(PHASE) == "idle"
    await unload(hass, entry)
    assert workshop.state(PHASE) == "unavailable"
    assert workshop.sent() == []


async def test_entities_begin_with_what_is_the_case(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Nothing that works is unavailable for a moment at a start."""
    changes = async_capture_events(hass, "state_changed")
    workshop.watts(SAW_POWER, 1400)
    await workshop.load(system_entry())
    first: dict[str, str] = {}
    for event in changes:
        entity_id = event.data["entity_id"]
        if (entry := er.async_get(hass).async_get(entity_id)) is not None and (
            entry.platform == DOMAIN
        ):
            first.setdefault(entity_id, event.data["new_state"].state)
    assert len(first) > 20
    assert {
        entity for entity, state in first.items() if state == "unavailable"
    } == set()


async def test_reload_at_rest_sends_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await reload(hass, entry)
    await workshop.pass_time(20, 1)
    assert workshop.sent() == []
    assert workshop.state(PHASE) == "idle"


async def test_reload_while_collecting_changes_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    for _ in range(3):
        await reload(hass, entry)
        await workshop.pass_time(1)
    assert workshop.sent() == []
    assert workshop.state(PHASE) == "collecting"
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    workshop.watts(SAW_POWER, 4)
    await workshop.pass_time(20)
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_cover", SAW_GATE)]


async def test_reload_in_shutoff_delay_continues_the_count(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry(run_on=6.0)
    await workshop.start(entry)
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 4)
    await workshop.pass_time(6)  # 4 s of confirmation, then 2 s of shut-off delay.
    assert workshop.state(PHASE) == "shutting_off"
    await reload(hass, entry)
    assert workshop.state(PHASE) == "shutting_off"
    await workshop.pass_time(3)
    assert workshop.sent() == []
    await workshop.pass_time(1.5)
    assert workshop.sent() == [("turn_off", COLLECTOR)]


async def test_reload_in_spin_down_continues_the_count(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 4)
    await workshop.pass_time(7.5)
    assert workshop.sent() == [("turn_off", COLLECTOR)]
    await workshop.pass_time(5)
    await reload(hass, entry)
    assert workshop.state(PHASE) == "spinning_down"
    await workshop.pass_time(3.5)
    assert workshop.sent() == []
    await workshop.pass_time(2.5)
    assert workshop.sent() == [("close_cover", SAW_GATE)]
    assert workshop.state(PHASE) == "idle"


async def test_a_request_survives_a_reload_with_the_time_it_has_left(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(300, 10)
    await reload(hass, entry)
    assert workshop.state("switch.floor_sweep") == "on"
    await workshop.pass_time(295, 5)
    assert workshop.state("switch.floor_sweep") == "on"
    await workshop.pass_time(10)
    assert workshop.state("switch.floor_sweep") == "off"


async def test_modes_survive_a_reload(hass: HomeAssistant, workshop: Workshop) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    await workshop.call("turn_off", "switch.dust_collector_automatic")
    await reload(hass, entry)
    assert workshop.state("switch.dust_collector_block_starts") == "on"
    assert workshop.state("switch.dust_collector_automatic") == "off"


async def test_disabled_while_running_stops_the_collector_and_leaves_gates_open(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    await disable(hass, entry)
    assert workshop.sent() == [("turn_off", COLLECTOR)]
    await workshop.pass_time(60, 5)
    assert workshop.sent() == []
    assert workshop.state(SAW_GATE) == "open"


async def test_disabled_at_rest_sends_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await disable(hass, entry)
    assert workshop.sent() == []


async def test_disabling_tells_when_the_collector_cannot_be_stopped(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    workshop.fails[COLLECTOR] = OSError("radio is gone")
    await disable(hass, entry)
    assert "switch.collector_relay is no longer driven" in caplog.text
    assert "radio is gone" in caplog.text
    assert "Traceback" not in caplog.text


async def test_enabled_again_it_starts_nothing_and_keeps_its_totals(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(58)
    await disable(hass, entry)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(3600, 60)
    workshop.calls.clear()
    await enable(hass, entry)
    await workshop.pass_time(9)
    assert workshop.sent() == []
    await workshop.pass_time(3)
    assert workshop.sent() == [("close_cover", SAW_GATE)]
    assert workshop.state("sensor.dust_collector_starts") == "1"
    assert float(workshop.state("sensor.table_saw_running_time")) == pytest.approx(
        60 / 3600, abs=2 / 3600
    )


async def test_enabled_again_while_the_machine_runs_it_is_served(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    await disable(hass, entry)
    workshop.calls.clear()
    await enable(hass, entry)
    await workshop.pass_time(2)
    assert workshop.sent() == [("turn_on", COLLECTOR)]


async def test_the_relay_is_shown_while_the_system_is_disabled(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    """With the system disabled, the owner switches the collector at its relay."""
    entry = system_entry()
    await workshop.start(entry)
    hidden_by = er.RegistryEntryHider.INTEGRATION
    assert entity_registry.entities[COLLECTOR].hidden_by is hidden_by
    await disable(hass, entry)
    assert entity_registry.entities[COLLECTOR].hidden_by is None
    await enable(hass, entry)
    assert entity_registry.entities[COLLECTOR].hidden_by is hidden_by


async def test_removed_while_running_leaves_no_trace(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_storage: dict[str, Any],
    entity_registry: er.EntityRegistry,
    device_registry: dr.DeviceRegistry,
    issue_registry: ir.IssueRegistry,
) -> None:
    parts = standard_parts()
    parts[3] = machine(
        "saw", "Table saw", gates=["saw_gate"], sensor=SAW_POWER, companions=[LAMP]
    )
    parts.append(gate("spare", "Spare gate", actuator="0123456789abcdef" * 2))
    entry = system_entry(parts)
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(2)
    assert STORED in hass_storage
    assert len(issue_registry.issues) == 1
    assert await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done()
    assert sorted(workshop.sent()) == [("turn_off", COLLECTOR), ("turn_off", LAMP)]
    await workshop.pass_time(60, 5)
    assert workshop.sent() == []
    assert workshop.state(SAW_GATE) == "open"
    assert STORED not in hass_storage
    assert not issue_registry.issues
    assert not er.async_entries_for_config_entry(entity_registry, entry.entry_id)
    assert not dr.async_entries_for_config_entry(device_registry, entry.entry_id)
    assert {e.hidden_by for e in entity_registry.entities.values()} == {None}


async def test_removed_at_rest_sends_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    assert await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done()
    assert workshop.sent() == []


async def test_a_disabled_system_that_is_removed_leaves_the_hand_on_the_switch_alone(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    await disable(hass, entry)
    workshop.collector.by_hand(is_on=True)
    workshop.calls.clear()
    assert await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done()
    assert workshop.sent() == []


async def test_what_went_off_meanwhile_is_not_switched_off_at_a_removal(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    await unload(hass, entry)
    workshop.collector.by_hand(is_on=False)
    assert await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done()
    assert workshop.sent() == []


async def test_removed_without_ever_having_run(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    entry.add_to_hass(hass)
    assert await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done()
    assert workshop.sent() == []


async def test_a_platform_that_cannot_be_set_up_leaves_nothing_running(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    entry.add_to_hass(hass)
    with patch.object(
        hass.config_entries, "async_forward_entry_setups", side_effect=OSError
    ):
        assert not await hass.config_entries.async_setup(entry.entry_id)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    assert workshop.sent() == []


async def test_a_platform_that_does_not_unload_leaves_the_system_running(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    with patch.object(
        hass.config_entries, "async_unload_platforms", return_value=False
    ):
        assert not await hass.config_entries.async_unload(entry.entry_id)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    entry.runtime_data.stop()


async def test_nothing_is_heard_after_an_unload(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await unload(hass, entry)
    workshop.watts(SAW_POWER, 1400)
    workshop.collector.by_hand(is_on=True)
    workshop.saw_gate.by_hand(is_closed=False)
    await workshop.pass_time(60, 5)
    assert workshop.sent() == []


async def test_an_unload_leaves_no_listener_behind(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """However often the system was loaded and changed."""
    entry = system_entry()
    await workshop.start(entry)
    await unload(hass, entry)
    await workshop.pass_time(30, 10)  # Home Assistant has written everything.
    before = hass.bus.async_listeners()
    for _ in range(3):
        await workshop.load(entry)
        await workshop.saw_runs()
        change_part(hass, entry, "saw", hold=1.0)
        await hass.async_block_till_done()
        change_part(hass, entry, "saw", hold=0.0)
        await hass.async_block_till_done()
        await unload(hass, entry)
    await workshop.pass_time(30, 10)
    assert hass.bus.async_listeners() == before


async def test_a_call_in_flight_is_given_up_by_an_unload(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    workshop.hangs.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.sent() == [("open_cover", SAW_GATE)]
    await unload(hass, entry)
    workshop.hangs.clear()
    await workshop.load(entry)
    await workshop.pass_time(2)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]


async def test_memory_is_written_soon_after_a_change(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    assert hass_storage[STORED]["data"]["phase"] == "idle"
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(3)
    stored = hass_storage[STORED]["data"]
    assert stored["phase"] == "collecting"
    assert stored["machines"]["saw"]["running"] is True
    assert stored["keeps_on"] == [COLLECTOR]


async def test_memory_is_written_though_something_changes_all_the_time(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    store = MemoryStore(hass, system_entry(entry_id="busy"))
    changes = 0

    def memory() -> dict[str, Any]:
        return {"changes": changes}

    # In real time: the plugin's own fires whatever is due, however it was postponed.
    while changes < 15:
        changes += 1
        store.write_soon(memory)
        await asyncio.sleep(0.1)
    assert hass_storage["gatewright.busy"]["data"]["changes"] > 5
    # Changes after a write are written as well.
    await asyncio.sleep(1.2)
    assert hass_storage["gatewright.busy"]["data"]["changes"] == changes


async def test_memory_is_written_at_a_stop_though_nothing_has_changed(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await workshop.pass_time(40)
    before = hass_storage[STORED]["data"]["ledger"]["machines"]["saw"]["run_time"]
    hass.set_state(CoreState.stopping)
    hass.bus.async_fire("homeassistant_stop")
    await hass.async_block_till_done()
    hass.bus.async_fire(EVENT_HOMEASSISTANT_FINAL_WRITE)
    await hass.async_block_till_done()
    after = hass_storage[STORED]["data"]["ledger"]["machines"]["saw"]["run_time"]
    assert after == pytest.approx(41, abs=1)
    assert before < after - 10
    assert workshop.sent() == []


async def test_running_time_is_saved_every_half_minute(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    for minute in range(1, 4):
        await workshop.pass_time(60, 1)
        saved = hass_storage[STORED]["data"]["ledger"]["machines"]["saw"]["run_time"]
        assert 60 * minute - 31 <= saved <= 60 * minute + 2


async def test_a_device_is_removed_only_when_its_part_is_gone(
    hass: HomeAssistant, workshop: Workshop, device_registry: dr.DeviceRegistry
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    for identifier, gone in (("system", False), ("saw", False), ("lathe", True)):
        device = device_registry.async_get_or_create(
            config_entry_id=entry.entry_id, identifiers={(DOMAIN, identifier)}
        )
        assert await async_remove_config_entry_device(hass, entry, device) is gone
