"""The entities that are enabled at first: what most people view or automate, and no more."""

import json
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.condition import CONDITIONS, OwnEntityCondition
from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.kinds import MachineKind
from custom_components.gatewright.features.cards.snapshot import SnapshotBuilder
from custom_components.gatewright.features.monitor_only.mode import set_monitor_only
from custom_components.gatewright.runtime import assist_names
from custom_components.gatewright.runtime.system_context import system_of
from custom_components.gatewright.trigger import (
    TRIGGERS,
    BesideEntityTrigger,
    OwnEntityTrigger,
)
from demo.custom_components.virtual_workshop.layouts import build_layout
from demo.custom_components.virtual_workshop.model.layout import Layout

from .flow_helpers import Form, Hub
from .test_old_names import LEFT, old_entry
from .test_triggers import automate, cut, device, reports
from .workshop import Workshop, gate, machine, system_entry

SMALLEST = 12
DEMO = 75

pytestmark = pytest.mark.as_delivered


def enabled(hass: HomeAssistant) -> list[er.RegistryEntry]:
    """Return our enabled entities."""
    return [
        known
        for known in er.async_get(hass).entities.values()
        if known.platform == DOMAIN and known.disabled_by is None
    ]


def kinds(hass: HomeAssistant) -> set[tuple[str, str | None]]:
    """Return the enabled entities by domain and translation key."""
    return {(known.domain, known.translation_key) for known in enabled(hass)}


@pytest.mark.parametrize("power", [False, True], ids=["bare", "measured"])
async def test_the_smallest_shop_has_twelve(
    hass: HomeAssistant, workshop: Workshop, power: bool
) -> None:
    """A collector, a gate and a machine, set up through the forms."""
    hub = Hub(hass)
    hub.add("switch.relay", "Collector relay", device="Relay")
    if power:
        hub.add("sensor.relay_power", "Collector power", "0", unit="W", device="Relay")
    hub.plug("Planer plug")
    hub.damper("Planer gate actuator")
    form = await Form(hass).start()
    measured = {"power": "sensor.relay_power"} if power else {}
    await form.send(name="Dust collector", switch="switch.relay", **measured)
    await form.send(machines=["sensor.planer_plug_power"])
    await form.send(gates=["cover.planer_gate_actuator"])
    await form.send()
    assert form.created.domain == DOMAIN
    await hass.async_block_till_done()
    found = sorted(known.entity_id for known in enabled(hass))
    assert len(found) <= SMALLEST, found
    assert kinds(hass) == {
        ("binary_sensor", "collecting"),
        ("binary_sensor", "problem"),
        ("binary_sensor", "running"),
        ("cover", "gate"),
        ("event", "alarm"),
        ("sensor", "collected_share"),
        ("sensor", "collector_phase"),
        ("switch", "automatic"),
        ("switch", "collector"),
        ("switch", "request"),
        ("switch", "start_block"),
        *([("sensor", "energy")] if power else []),
    }


def alder_yard(layout: Layout) -> MockConfigEntry:
    """Return the demo's shop before its ducts are added, as the demo sets it up."""
    gates = [gate(key, key, actuator=f"cover.{key}_actuator") for key in layout.gates]
    machines = [
        machine(
            key,
            key,
            gates=list(made.gates),
            sensor=f"sensor.{key}_power",
            **({"attached": f"binary_sensor.{key}"} if made.movable else {}),
        )
        for key, made in layout.machines.items()
    ]
    pickups = [
        machine(kind, kind, kind=kind, gates=[f"{kind}_gate"])
        for kind in (MachineKind.FLOOR_SWEEP.value, MachineKind.BENCH_HOOD.value)
    ]
    return system_entry(
        [*gates, *machines, *pickups],
        power="sensor.collector_power",
        bin_full=["binary_sensor.bin_full"],
        bin_level="sensor.bin_level",
        bin_volume=0.16,
        filter_pressure="sensor.filter_pressure",
        filter_limit=800.0,
        emergency=["binary_sensor.smoke"],
        hand_gates=["floor_sweep_gate"],
    )


async def test_the_demo_s_shop_has_seventy_five(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    layout = build_layout({})
    await workshop.load(alder_yard(layout))
    found = sorted(known.entity_id for known in enabled(hass))
    assert len(found) <= DEMO, found
    # The whole shop was counted.
    assert len([e for e in found if e.startswith("cover.")]) == len(layout.gates)
    running = [e for e in found if e.endswith("_running")]
    assert len(running) == len(layout.machines)
    assert {("sensor", "bin_fill"), ("button", "bin_emptied")} <= kinds(hass)
    assert {("sensor", "filter_work"), ("button", "filter_cleaned")} <= kinds(hass)


async def test_nothing_that_is_needed_is_off(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Triggers, conditions and voice find their entities."""
    await workshop.load(system_entry(bin_volume=0.2))
    needed: set[tuple[str, str]] = set()
    for condition in CONDITIONS.values():
        assert issubclass(condition, OwnEntityCondition)
        needed |= {*condition.kinds}
    for trigger in TRIGGERS.values():
        assert issubclass(trigger, OwnEntityTrigger)
        if not issubclass(trigger, BesideEntityTrigger):
            needed |= {*trigger.kinds}
    needed |= assist_names._EXPOSED | assist_names._CALLED.keys()
    assert needed - kinds(hass) == set()


@pytest.mark.parametrize(
    ("trigger", "target", "expected"),
    [
        (
            {"trigger": f"{DOMAIN}.machine_finished"},
            "device",
            ["sensor.table_saw_phase"],
        ),
        (
            {
                "trigger": f"{DOMAIN}.machine_phase_changed",
                "options": {"phase": ["running", "idle"]},
            },
            "binary_sensor.table_saw_running",
            ["sensor.table_saw_phase"] * 2,
        ),
    ],
)
async def test_a_trigger_enables_the_phase_that_it_needs(
    hass: HomeAssistant,
    workshop: Workshop,
    trigger: dict[str, Any],
    target: str,
    expected: list[str],
) -> None:
    await workshop.start(system_entry())
    assert hass.states.get("sensor.table_saw_phase") is None
    of = (
        {"device_id": device(hass, "saw")}
        if target == "device"
        else {"entity_id": target}
    )
    calls = await automate(hass, {**trigger, "target": of})
    await workshop.pass_time(32, 1)
    await cut(workshop)
    assert reports(calls) == expected
    # Only where it's needed.
    assert hass.states.get("sensor.planer_phase") is None
    await cut(workshop, "sensor.planer_plug_power")
    assert reports(calls) == []


async def test_a_trigger_enables_the_summary(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    calls = await automate(
        hass,
        {
            "trigger": f"{DOMAIN}.summary_ready",
            "target": {"device_id": device(hass, "system")},
        },
    )
    await workshop.pass_time(32, 1)
    await cut(workshop)
    workshop.freezer.move_to("2026-11-25T08:00:30+00:00")
    await workshop.pass_time(2, 1)
    assert reports(calls) == ["event.dust_collector_summary"]


async def test_what_its_owner_has_turned_off_stays_off(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    await workshop.start(system_entry())
    entity_registry.async_update_entity(
        "sensor.table_saw_phase", disabled_by=er.RegistryEntryDisabler.USER
    )
    await automate(
        hass,
        {
            "trigger": f"{DOMAIN}.machine_finished",
            "target": {"device_id": device(hass, "saw")},
        },
    )
    found = entity_registry.async_get("sensor.table_saw_phase")
    assert found
    assert found.disabled_by is er.RegistryEntryDisabler.USER


async def test_an_owner_of_0_1_0_keeps_what_is_enabled(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    """The registry of 0.1.0, with one more entity disabled by its owner."""
    entry = old_entry(hass)
    off = "sensor.table_saw_running_time"
    entity_registry.async_update_entity(off, disabled_by=er.RegistryEntryDisabler.USER)
    before = {known.id: known.disabled_by for known in enabled(hass)}
    await workshop.load(entry)
    after = {
        known.id: known.disabled_by
        for known in er.async_entries_for_config_entry(entity_registry, "system")
    }
    assert len(before) > len(LEFT["entities"]) / 2
    assert before.items() <= after.items()
    for known in LEFT["entities"]:
        alive = hass.states.get(known["entity_id"]) is not None
        assert alive is (known["entity_id"] != off), known["entity_id"]


async def test_cards_are_not_sent_to_entities_that_are_off(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    system = system_of(entry)
    drawn = SnapshotBuilder(hass, system).picture(system.now(), None)
    named = json.dumps([drawn.system, drawn.machines, drawn.gates])
    assert drawn.system["entities"] == {}
    assert drawn.machines["saw"]["entities"] == {
        "collecting": "binary_sensor.table_saw_collecting",
        "running": "binary_sensor.table_saw_running",
    }
    for known in er.async_entries_for_config_entry(entity_registry, "system"):
        assert known.disabled_by is None or known.entity_id not in named


async def test_monitoring_begun_later_enables_the_switch_that_ends_it(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    """The switch is disabled at first in a live system."""
    entry = system_entry()
    await workshop.start(entry)
    assert ("switch", "monitor_only") not in kinds(hass)
    set_monitor_only(hass, entry, watch=True)
    await hass.async_block_till_done()
    assert ("switch", "monitor_only") in kinds(hass)
    assert workshop.state("switch.dust_collector_monitor_only") == "on"


async def test_a_monitored_system_shows_what_would_have_been(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """And has the switch that goes live."""
    await workshop.load(system_entry(watch_since="2026-01-01T00:00Z"))
    assert {
        ("switch", "monitor_only"),
        ("binary_sensor", "simulated_running"),
        ("sensor", "simulated_starts"),
        ("sensor", "simulated_on_time"),
        ("sensor", "simulated_collected_share"),
    } <= kinds(hass)
    assert workshop.state("switch.dust_collector_monitor_only") == "on"
