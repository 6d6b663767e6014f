"""Names from version 0.1.0: its data is migrated, and its names keep working.

`left_by_0_1_0.json` was written by that version: its entities, its files at the end,
and the memory at three instants (a fire alarm shutdown, a purge, the shut-off delay).
"""

from collections.abc import Mapping
import json
from pathlib import Path
from typing import Any

from homeassistant.components.repairs.const import DOMAIN as REPAIRS
from homeassistant.components.repairs.issue_handler import RepairsFlowManager
from homeassistant.core import Event, HomeAssistant, ServiceCall
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import (
    condition,
    config_validation as cv,
    entity_registry as er,
    intent,
    issue_registry as ir,
    service,
    trigger,
)
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_capture_events,
    async_mock_service,
)
import voluptuous as vol

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.commissioning.findings import End
from custom_components.gatewright.core.control.alarms import AlarmKind
from custom_components.gatewright.core.control.enums import Cause, Phase
from custom_components.gatewright.core.control.machine import MachinePhase
from custom_components.gatewright.core.statistics.not_collecting import (
    NotCollectingReason,
)
from custom_components.gatewright.intent import async_setup_intents
from custom_components.gatewright.runtime.old_names.files import renewed
from custom_components.gatewright.runtime.old_names.notice import ISSUE
from custom_components.gatewright.runtime.old_names.search import (
    old_names_in,
    old_names_in_text,
)
from custom_components.gatewright.runtime.old_names.shown import (
    CONF_OLD_NAMES,
    with_old,
)
from custom_components.gatewright.runtime.old_names.table import (
    ACTIONS,
    ALARMS,
    ANSWER_KEYS,
    CAUSES,
    COLLECTOR_PHASES,
    CONDITIONS,
    ENDINGS,
    ENTITIES,
    FIELDS,
    GATE_SETS,
    INTENTS,
    MACHINE_PHASES,
    REASONS,
    TRIGGERS,
    Renamed,
    old_of,
)

from .workshop import SAW_POWER, Workshop, change_system, system_entry

LEFT: dict[str, Any] = json.loads(
    Path(__file__).with_name("left_by_0_1_0.json").read_text("utf-8")
)
PHASE = "sensor.dust_collector_phase"
SAW_PHASE = "sensor.table_saw_phase"
SMOKE = "binary_sensor.smoke"
UNIT = "unit_of_measurement"
COLLECTOR = {"entity_id": "switch.dust_collector"}
SWEEP = {"entity_id": "switch.floor_sweep"}


def old_entry(hass: HomeAssistant) -> MockConfigEntry:
    """Return the system as set up by 0.1.0, with its entities in the registry."""
    hass.states.async_set(SMOKE, "off")
    hass.states.async_set("binary_sensor.hose", "on")
    entry = MockConfigEntry(
        domain=DOMAIN,
        entry_id="system",
        title="Dust collector",
        # It didn't know these; they are tested elsewhere.
        data={**LEFT["data"], "spin_up": 0.0, "start_when": "gate_open"},
        subentries_data=LEFT["parts"],
    )
    entry.add_to_hass(hass)
    registry = er.async_get(hass)
    for known in LEFT["entities"]:
        made = registry.async_get_or_create(
            known["domain"],
            DOMAIN,
            known["unique_id"],
            config_entry=entry,
            config_subentry_id=known["subentry"],
            suggested_object_id=known["entity_id"].partition(".")[2],
            translation_key=known["translation_key"],
        )
        assert made.entity_id == known["entity_id"]
        if known["name"]:
            registry.async_update_entity(made.entity_id, name=known["name"])
    return entry


async def automate(hass: HomeAssistant, *automations: dict[str, Any]) -> None:
    """Set automations up, each with an id, like the editor."""
    for number, automation in enumerate(automations):
        automation |= {"id": f"a{number}"}
        automation.setdefault("alias", f"Automation {number}")
        automation.setdefault("actions", [])
    config = {"automation": list(automations)}
    assert await async_setup_component(hass, "automation", config)
    await hass.async_block_till_done()


def when(state: str, entity_id: str = PHASE) -> dict[str, Any]:
    """Return an automation about a state."""
    return {"triggers": [{"trigger": "state", "entity_id": entity_id, "to": state}]}


def repair(hass: HomeAssistant) -> ir.IssueEntry | None:
    """Return the repair, if it exists."""
    return ir.async_get(hass).async_get_issue(DOMAIN, ISSUE)


def places(hass: HomeAssistant) -> str:
    """Return the places with old names, as the repair lists them."""
    issue = repair(hass)
    assert issue is not None
    assert issue.translation_placeholders is not None
    return issue.translation_placeholders["uses"]


async def submit(hass: HomeAssistant) -> None:
    """Submit the repair."""
    assert await async_setup_component(hass, REPAIRS, {})
    await hass.async_block_till_done()
    manager: RepairsFlowManager = hass.data[REPAIRS]["flow_manager"]
    flow = await manager.async_init(DOMAIN, data={"issue_id": ISSUE})
    assert flow["type"] is FlowResultType.FORM
    assert flow["step_id"] == "confirm"
    done = await manager.async_configure(flow["flow_id"], {})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done()


async def look(workshop: Workshop) -> None:
    """Wait for the search for old names."""
    await workshop.pass_time(12, 1)
    await workshop.hass.async_block_till_done(wait_background_tasks=True)


# Left by 0.1.0 ---------------------------------------------------------------------


async def test_entities_keep_all_that_their_owner_made_of_them(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    entry = old_entry(hass)
    before = {
        known.id: (known.entity_id, known.name, known.disabled_by)
        for known in er.async_entries_for_config_entry(entity_registry, "system")
    }
    await workshop.load(entry)
    assert entry.minor_version == 2
    after = {
        known.id: (known.entity_id, known.name, known.disabled_by)
        for known in er.async_entries_for_config_entry(entity_registry, "system")
    }
    # New ones may have been added: none is missing, and none has changed.
    assert before.items() <= after.items()
    for known in LEFT["entities"]:
        owner = known["subentry"] or "system"
        key = known["unique_id"].removeprefix(f"{owner}_")
        now = entity_registry.async_get(known["entity_id"])
        assert now is not None
        key = ENTITIES.get(known["domain"], {}).get(key, key)
        assert now.unique_id == f"{owner}_{key}"
        assert hass.states.get(known["entity_id"]) or now.disabled_by
    own = entity_registry.async_get("binary_sensor.saw_sucks")
    assert own is not None
    assert (own.name, own.translation_key) == ("Sucks", "collecting")


async def test_an_entity_that_has_its_new_key_already_is_not_lost(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    """Somebody downgraded to 0.1.0, and upgraded again."""
    entry = old_entry(hass)
    there = entity_registry.async_get_or_create(
        "switch", DOMAIN, "system_start_block", config_entry=entry
    )
    await workshop.load(entry)
    assert entity_registry.async_get(there.entity_id)


async def test_a_system_of_a_later_version_is_left_alone(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = MockConfigEntry(domain=DOMAIN, version=2, data={})
    entry.add_to_hass(hass)
    assert not await hass.config_entries.async_setup(entry.entry_id)
    assert CONF_OLD_NAMES not in entry.data


@pytest.mark.parametrize(
    ("left", "phases", "alarms"),
    [
        ("fire", ("spinning_down", "idle"), {"fire_shutdown", "hose_signal_lost"}),
        ("purge", ("collecting", "purging"), {"hose_signal_lost"}),
        ("shutoff", ("shutting_off", "idle"), {"hose_signal_lost"}),
    ],
)
async def test_its_memory_is_taken_up(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_storage: dict[str, Any],
    left: str,
    phases: tuple[str, str],
    alarms: set[str],
) -> None:
    hass_storage |= {**LEFT["files"], "gatewright.system": LEFT["memories"][left]}
    workshop.collector.become(is_on=left != "fire")
    workshop.planer_gate.become(is_on=left == "purge")
    workshop.saw_gate.become(is_closed=False)
    entry = old_entry(hass)
    hass.states.async_set("binary_sensor.hose", "unavailable")
    await workshop.load(entry)
    engine = entry.runtime_data
    assert {kind.value for kind, _ in engine.shop.alarms.standing} == alarms
    assert (engine.sequence.phase, engine.sequence.machines["saw"].phase) == phases
    assert engine.sequence.fire_shutdown is (left == "fire")
    assert not [
        issue for _, issue in ir.async_get(hass).issues if issue.startswith("file_lost")
    ]
    await engine.save()
    written = hass_storage["gatewright.system"]
    assert written["minor_version"] == 2
    assert written["data"]["phase"] == phases[0]


async def test_totals_and_reasons_are_the_same_over_the_change_and_a_restart(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    hass_storage |= {**LEFT["files"], "gatewright.system": LEFT["memories"]["shutoff"]}
    workshop.saw_gate.become(is_closed=False)
    entry = old_entry(hass)
    await workshop.load(entry)
    same = [
        f"sensor.{what}"
        for what in (
            "dust_collector_starts",
            "dust_collector_coverage",
            "dust_collector_coverage_today",
            "dust_collector_machine_hours",
            "dust_collector_time_without_air",
            "table_saw_running_time",
            "table_saw_cuts",
            "table_saw_coverage",
            "table_saw_time_without_air",
        )
    ]

    def figures() -> dict[str, float]:
        """Return them in hours, which the registry of 0.1.0 chose for them."""
        return {
            entity_id: float(workshop.state(entity_id))
            / (3600 if workshop.attribute(entity_id, UNIT) == "s" else 1)
            for entity_id in same
        }

    before = {entity_id: float(LEFT["totals"][entity_id]) for entity_id in same}
    assert figures() == pytest.approx(before)
    reasons = {
        NotCollectingReason.START_BLOCK: 20.0,
        NotCollectingReason.FIRE_SHUTDOWN: 19.0,
    }
    keeper = entry.runtime_data.maintenance.keeper
    assert [run.without for run in keeper.record.runs] == [reasons, {}]
    (today,) = keeper.calendar.days.values()
    assert today.machines["saw"].without == reasons
    counted = entry.runtime_data.record.alarms
    assert {
        raised.alarm for raised in counted.between(*[next(iter(counted.days))] * 2)
    } == {
        "hose_signal_lost",
        "fire_shutdown",
    }
    assert await hass.config_entries.async_unload("system")
    hass.data["gatewright_handovers"].clear()
    assert await hass.config_entries.async_setup("system")
    await hass.async_block_till_done()
    assert figures() == pytest.approx(before)


def test_names_in_files_are_renamed_where_they_are_names() -> None:
    kept = {
        "phase": "coasting",
        "machines": {"m": {"phase": "clearing", "name": "run_on"}},
        "alarms": [["shop_away", "collector", 3.0], "odd", [], [7]],
        "occurrences": [["emergency", "collector", "01J"]],
        "without": {"m": {"lockout": 2.0}},
        "record": [{"name": "emergency", "without": {"motor_resting": 1.0}}],
        "report": {"ended": "emergency"},
        "emergency": True,
    }
    assert renewed(kept) == {
        "phase": "spinning_down",
        "machines": {"m": {"phase": "purging", "name": "run_on"}},
        "alarms": [["workshop_offline", "collector", 3.0], "odd", [], [7]],
        "occurrences": [["fire_shutdown", "collector", "01J"]],
        "without": {"m": {"start_block": 2.0}},
        "record": [{"name": "emergency", "without": {"min_off_time": 1.0}}],
        "report": {"ended": "fire_shutdown"},
        "fire_shutdown": True,
    }
    odds: tuple[Any, ...] = (
        *(None, 5, "coasting", []),
        {"alarms": 3, "phase": None, "without": []},
    )
    for odd in odds:
        assert renewed(odd) == odd


@pytest.mark.parametrize(
    ("table", "names"),
    [
        (COLLECTOR_PHASES, Phase),
        (MACHINE_PHASES, MachinePhase),
        (CAUSES, Cause),
        (ALARMS, AlarmKind),
        (REASONS, NotCollectingReason),
        (ENDINGS, End),
    ],
)
def test_every_new_name_is_one_and_no_old_one_is(
    table: Renamed, names: type[Any]
) -> None:
    known = {name.value for name in names}
    assert set(table.values()) <= known
    assert not table.keys() & known
    assert len(old_of(table)) == len(table)


# Old states ----------------------------------------------------------------------------


async def test_old_states_are_shown_until_they_are_used_no_more(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = old_entry(hass)
    await automate(hass, when("coasting"), when("clearing", SAW_PHASE), when("on"))
    await workshop.load(entry)
    await look(workshop)
    assert places(hass).splitlines() == [
        "- [Automation 0](/config/automation/edit/a0): `coasting` → `spinning_down`",
        "- [Automation 1](/config/automation/edit/a1): `clearing` → `purging`",
    ]
    assert workshop.state(PHASE) == "resting"
    assert workshop.attribute(PHASE, "options") == [
        *("resting", "opening", "collecting", "run_on", "coasting")
    ]
    seen = [event.data for event in await phases_of_a_cut(hass, workshop)]
    shown = [data["new_state"].state for data in seen if data["entity_id"] == PHASE]
    assert shown == ["collecting", "run_on", "coasting", "resting"]
    await submit(hass)
    assert CONF_OLD_NAMES not in entry.data
    assert workshop.state(PHASE) == "idle"
    assert "idle" in workshop.attribute(PHASE, "options")
    await look(workshop)
    # Nothing was changed: these no longer match.
    issue = repair(hass)
    assert issue is not None
    assert (issue.is_fixable, issue.translation_key) == (False, "old_names_left")
    assert "coasting" in places(hass)


async def phases_of_a_cut(hass: HomeAssistant, workshop: Workshop) -> list[Event[Any]]:
    """Run the saw for a moment; return the changes of states."""
    events = async_capture_events(hass, "state_changed")
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(3)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(35)
    return [e for e in events if e.data["old_state"] and e.data["new_state"]]


async def test_new_states_are_shown_where_nobody_uses_old_ones(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = old_entry(hass)
    await automate(hass, when("collecting"))
    await workshop.load(entry)
    assert CONF_OLD_NAMES in entry.data or workshop.state(PHASE) == "idle"
    await look(workshop)
    assert CONF_OLD_NAMES not in entry.data
    assert workshop.state(PHASE) == "idle"
    assert repair(hass) is None


async def test_the_repair_goes_once_the_last_old_name_is_changed(
    hass: HomeAssistant, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Automations are reloaded after each change."""
    entry = old_entry(hass)
    await automate(hass, when("run_on"))
    await workshop.load(entry)
    await look(workshop)
    assert "run_on" in places(hass)
    changed = {"automation": [{"id": "a0", "actions": [], **when("shutting_off")}]}
    monkeypatch.setattr(
        "homeassistant.config.load_yaml_config_file", lambda *_, **__: changed
    )
    await hass.services.async_call("automation", "reload", blocking=True)
    await look(workshop)
    assert repair(hass) is None
    assert workshop.state(PHASE) == "idle"


async def test_a_new_system_has_new_names_from_the_start(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await automate(hass, when("coasting"))
    entry = system_entry()
    await workshop.load(entry)
    assert CONF_OLD_NAMES not in entry.data
    await look(workshop)
    assert workshop.state(PHASE) == "idle"


async def test_a_change_of_the_set_up_keeps_the_old_names(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = old_entry(hass)
    await automate(hass, when("resting"))
    await workshop.load(entry)
    await look(workshop)
    change_system(hass, entry, run_on=5.0)
    await workshop.settle()
    assert workshop.state(PHASE) == "resting"


async def test_attributes_and_events_have_both_while_old_names_are_shown(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = old_entry(hass)
    await automate(hass, when("resting"))
    await workshop.load(entry)
    await look(workshop)
    switchings = async_capture_events(hass, "gatewright_switching")
    raised = async_capture_events(hass, "gatewright_alarm")
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    hass.states.async_set(SMOKE, "on")
    await workshop.pass_time(20)
    assert [event.data["cause"] for event in switchings] == ["machine", "emergency"]
    assert [event.data["kind"] for event in raised] == ["emergency"]
    problem = "binary_sensor.dust_collector_problem"
    assert workshop.attribute(problem, "alarms") == ["emergency"]
    assert workshop.attribute("event.dust_collector_alarm", "alarm") == "emergency"
    lacking = workshop.attribute("sensor.table_saw_time_without_air", "in_all")
    assert lacking.keys() == {"emergency"}
    await submit(hass)
    assert workshop.attribute(problem, "alarms") == ["fire_shutdown"]
    lacking = workshop.attribute("sensor.table_saw_time_without_air", "in_all")
    assert lacking.keys() == {"fire_shutdown"}


def test_each_value_has_its_old_name_and_each_key_both() -> None:
    data = {
        "alarm": "workshop_offline",
        "alarms": ["fire_shutdown", "bin_full", {"alarm": "fire_shutdown", "times": 2}],
        "cause": "purge",
        "kind": "hand_gate_closed",
        "combinations": [{"kind": "purge"}],
        "phase": "purging",
        "ended": "start_block",
        "collecting": True,
        "today": {"start_block": 3.0, "starting": 1.0},
        "shop": {"collected_share": 0.5, "not_collecting": {"low_airflow": 2.0}},
        "title": "purge",
        "times": None,
    }
    assert with_old(data) == {
        "alarm": "shop_away",
        "alarms": ["emergency", "bin_full", {"alarm": "emergency", "times": 2}],
        "cause": "clearing",
        "kind": "hand_gate_shut",
        "combinations": [{"kind": "clearing"}],
        "phase": "clearing",
        "ended": "lockout",
        "collecting": True,
        "has_air": True,
        "today": {"lockout": 3.0, "starting": 1.0},
        "shop": {
            "collected_share": 0.5,
            "coverage": 0.5,
            "not_collecting": {"too_little_air": 2.0},
            "without": {"too_little_air": 2.0},
        },
        "title": "purge",
        "times": None,
    }


# Old actions, triggers, conditions -----------------------------------------------------

CALLS: Mapping[str, dict[str, Any]] = {
    "request_air": SWEEP,
    "withdraw_air": SWEEP,
    "lock_out": COLLECTOR,
    "lift_lockout": COLLECTOR,
    "reset_emergency": COLLECTOR,
    "rehearse": {"config_entry_id": "system"},
    "summary": {"config_entry_id": "system"},
    "assess": {"config_entry_id": "system"},
    "mark_emptied": COLLECTOR,
    "mark_cleaned": COLLECTOR,
    "mark_replaced": COLLECTOR,
}


def test_every_old_action_is_tried() -> None:
    assert CALLS.keys() == ACTIONS.keys()


@pytest.mark.parametrize("old", ACTIONS)
async def test_an_old_action_does_what_the_new_one_does(
    hass: HomeAssistant, workshop: Workshop, old: str
) -> None:
    """It answers with old keys and is noted, wherever the call came from."""
    await workshop.start(system_entry(bin_volume=0.2, filter_hours=10.0))
    outcome: list[Any] = []
    for name in (ACTIONS[old], old):
        answers = hass.services.supports_response(DOMAIN, name).value != "none"
        try:
            answer = await hass.services.async_call(
                DOMAIN, name, CALLS[old], blocking=True, return_response=answers
            )
        except Exception as err:  # noqa: BLE001 - both have to refuse alike
            outcome.append(repr(err))
        else:
            outcome.append(answer)
        await workshop.settle()
    new, now = outcome
    assert now == (with_old(new) if isinstance(new, dict) else new)
    await look(workshop)
    assert places(hass) == (
        "- Where Gatewright can't check, such as other programs or voice commands: "
        f"`{DOMAIN}.{old}` → `{DOMAIN}.{ACTIONS[old]}`"
    )


async def test_a_call_is_reported_once_by_the_place_it_comes_from(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Once that place is changed, nobody looks for another one."""
    await workshop.start(system_entry())
    call = {"action": f"{DOMAIN}.lock_out", "target": COLLECTOR}
    script = {"stop": {"sequence": [call]}}
    assert await async_setup_component(hass, "script", {"script": script})
    await hass.services.async_call("script", "stop", blocking=True)
    await look(workshop)
    assert places(hass).startswith("- [stop](/config/script/edit/stop): ")
    assert len(places(hass).splitlines()) == 1
    await hass.data["script"].async_remove_entity("script.stop")
    hass.bus.async_fire("automation_reloaded")
    await look(workshop)
    assert repair(hass) is None


async def test_old_fields_are_taken_by_old_actions(
    hass: HomeAssistant, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []

    def note(_described: Any, **settings: Any) -> Any:
        asked.append(settings)
        raise vol.Invalid("enough")

    monkeypatch.setattr(
        "custom_components.gatewright.features.simulation.actions.proposed_config", note
    )
    await workshop.start(system_entry())
    machine = {"machine": "Table saw", "hold": 5, "start": 200}
    for action, collector, of_machine in (
        ("rehearse", {"run_on": 8, "coast": 9}, {"start_settle": 2, "stop_settle": 3}),
        (
            "simulate",
            {"shutoff_delay": 8, "spin_down": 9},
            {"start_confirm_time": 2, "stop_confirm_time": 3},
        ),
    ):
        with pytest.raises(vol.Invalid, match="enough"):
            await hass.services.async_call(
                DOMAIN,
                action,
                {
                    "config_entry_id": "system",
                    **collector,
                    "machines": [{**machine, **of_machine}],
                },
                blocking=True,
                return_response=True,
            )
    assert asked[0] == asked[1]
    assert asked[0]["collector"] == {"run_on": 8.0, "coast": 9.0}
    assert {*FIELDS} == {"run_on", "coast", "start_settle", "stop_settle"}


async def test_old_names_make_no_warnings(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    """They aren't described: the editor offers none of the triggers and conditions."""
    for component in ("automation", "homeassistant"):
        assert await async_setup_component(hass, component, {})
    await workshop.start(system_entry())
    caplog.clear()
    triggers = await trigger.async_get_all_descriptions(hass)
    conditions = await condition.async_get_all_descriptions(hass)
    actions = await service.async_get_all_descriptions(hass)
    assert not [record for record in caplog.records if record.levelname == "WARNING"]
    for old in TRIGGERS:
        assert triggers[f"{DOMAIN}.{old}"] is None
    for old in CONDITIONS:
        assert conditions[f"{DOMAIN}.{old}"] is None
    for old in ACTIONS:
        assert not actions[DOMAIN][old].get("fields")


async def fires(
    hass: HomeAssistant, workshop: Workshop, name: str, options: dict[str, Any]
) -> list[ServiceCall]:
    """Run the saw once; return the data of our trigger."""
    calls = async_mock_service(hass, "test", "told")
    await automate(
        hass,
        {
            "triggers": [
                {
                    "trigger": f"{DOMAIN}.{name}",
                    "target": {
                        "entity_id": [PHASE, "binary_sensor.table_saw_collecting"]
                    },
                    "options": options,
                }
            ],
            "actions": [{"action": "test.told"}],
        },
    )
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(3)
    workshop.collector.by_hand(is_on=False)
    await workshop.pass_time(2)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30)
    return calls


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("machine_got_air", {}),
        ("machine_lost_air", {}),
        ("collector_phase_changed", {"phase": ["coasting"]}),
        ("collector_phase_changed", {"phase": "spinning_down"}),
    ],
)
async def test_an_old_trigger_fires_and_is_reported(
    hass: HomeAssistant, workshop: Workshop, name: str, options: dict[str, Any]
) -> None:
    await workshop.start(system_entry())
    assert len(await fires(hass, workshop, name, options)) == 1
    hass.bus.async_fire("automation_reloaded")
    await look(workshop)
    if "spinning_down" in options.values():
        assert repair(hass) is None
    else:
        assert f"→ `{DOMAIN}." in places(hass) or "`coasting`" in places(hass)


async def test_our_triggers_know_old_states_and_no_change_of_names_fires_them(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Both names of a phase match while old ones are shown, and when that ends."""
    entry = old_entry(hass)
    calls = async_mock_service(hass, "test", "told")
    await automate(
        hass,
        when("resting"),
        {
            "triggers": [
                {
                    "trigger": f"{DOMAIN}.collector_phase_changed",
                    "target": {"entity_id": PHASE},
                    "options": {"phase": ["idle", "spinning_down"]},
                }
            ],
            "actions": [{"action": "test.told"}],
        },
    )
    await workshop.load(entry)
    await look(workshop)
    calls.clear()
    await phases_of_a_cut(hass, workshop)
    assert len(calls) == 2
    assert workshop.state(PHASE) == "resting"
    await submit(hass)
    assert workshop.state(PHASE) == "idle"
    assert len(calls) == 2


async def test_an_alarm_counts_under_both_names(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = old_entry(hass)
    calls = async_mock_service(hass, "test", "told")
    raised = {
        "trigger": f"{DOMAIN}.alarm_raised",
        "target": {"entity_id": "event.dust_collector_alarm"},
    }
    await automate(
        hass,
        when("resting"),
        *(
            {
                "triggers": [{**raised, "options": {"alarm": [kind]}}],
                "actions": [{"action": "test.told"}],
            }
            for kind in ("emergency", "fire_shutdown", "bin_full")
        ),
    )
    await workshop.load(entry)
    await look(workshop)
    hass.states.async_set(SMOKE, "on")
    await workshop.pass_time(5)
    assert len(calls) == 2


@pytest.mark.parametrize("old", CONDITIONS)
async def test_an_old_condition_tests_what_the_new_one_tests(
    hass: HomeAssistant, workshop: Workshop, old: str
) -> None:
    for component in ("automation", "homeassistant"):
        assert await async_setup_component(hass, component, {})
    await workshop.start(system_entry())
    targets = {
        "has_air": "binary_sensor.table_saw_collecting",
        "is_at_rest": PHASE,
        "is_locked_out": "switch.dust_collector_block_starts",
    }
    checks = []
    for name in (old, CONDITIONS[old]):
        config = await condition.async_validate_condition_config(
            hass,
            cv.CONDITION_SCHEMA(
                {
                    "condition": f"{DOMAIN}.{name}",
                    "target": {"entity_id": targets[old]},
                    "options": {"behavior": "any"},
                }
            ),
        )
        checks.append(await condition.async_from_config(hass, config))
    found = []
    for _ in range(2):
        found.append({check.async_check() for check in checks})
        workshop.watts(SAW_POWER, 1400)
        await workshop.pass_time(4)
        await workshop.call("turn_on", "switch.dust_collector_block_starts")
        if old == "has_air":
            await workshop.call("turn_off", "switch.dust_collector_block_starts")
            await workshop.pass_time(30)
    assert sorted(map(len, found)) == [1, 1]
    assert found[0] != found[1]


async def test_rest_is_rest_under_both_names(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = old_entry(hass)
    await automate(hass, when("resting"))
    await workshop.load(entry)
    await look(workshop)
    assert workshop.state(PHASE) == "resting"
    config = await condition.async_validate_condition_config(
        hass,
        cv.CONDITION_SCHEMA(
            {"condition": f"{DOMAIN}.is_idle", "target": {"entity_id": PHASE}}
        ),
    )
    assert (await condition.async_from_config(hass, config)).async_check()


async def test_an_old_intent_answers_and_is_reported(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    for component in ("homeassistant", "intent"):
        assert await async_setup_component(hass, component, {})
    await async_setup_intents(hass)
    await workshop.start(system_entry())
    said = [
        (await intent.async_handle(hass, "test", name)).speech["plain"]["speech"]
        for name in (*INTENTS, *INTENTS.values())
    ]
    assert said[0] == said[1]
    await look(workshop)
    assert "GatewrightWhoHasAir" in places(hass)


# Where old names are used --------------------------------------------------------------

OURS = {
    PHASE: "collector_phase",
    SAW_PHASE: "machine_phase",
    "binary_sensor.p": "problem",
    "sensor.w": "not_collecting_time",
    "sensor.t": "time_to_air",
}


@pytest.mark.parametrize(
    ("written", "found"),
    [
        (when("run_on"), {"run_on"}),
        (when("run_on", "sensor.of_others"), set()),
        ({"alias": "While coasting", **when("idle")}, set()),
        (when("clearing"), set()),
        (when("clearing", SAW_PHASE), {"clearing"}),
        ({"entity_id": [PHASE], "state": ["coasting", "resting"]}, {"coasting", "resting"}),
        ({"if": f"{{{{ states('{PHASE}') == 'coasting' }}}}"}, {"coasting"}),
        ({"if": f"{{% if is_state('{PHASE}', 'run_on') %}}1{{% endif %}}"}, {"run_on"}),
        ({"if": f"{{{{ states('{PHASE}') }} is what it does while coasting"}, set()),
        (
            {"if": "{{ 'emergency' in state_attr('binary_sensor.p', 'alarms') }}"},
            {"emergency"},
        ),
        ({"t": "{{ state_attr('sensor.w', 'today').lockout }}"}, {"lockout"}),
        ({"t": "{{ state_attr('sensor.t', 'would_have') }}"}, {"would_have"}),
        (
            {"triggers": [{"trigger": "event", "event_type": "gatewright_switching",
                           "event_data": {"cause": "run_on_over"}}]},
            {"run_on_over"},
        ),
        (
            {"triggers": [{"trigger": "gatewright.alarm_raised",
                           "options": {"alarm": ["shop_away", "bin_full"]}}]},
            {"shop_away"},
        ),
        (
            {"actions": [{"action": "gatewright.request_air"},
                         {"if": "{{ answer.machines[0].has_air }}"}]},
            {"gatewright.request_air", "has_air"},
        ),
        (
            {"action": "gatewright.rehearse",
             "data": {"run_on": 8, "machines": [{"start_settle": 1}]}},
            {"gatewright.rehearse", "run_on", "start_settle"},
        ),
        ({"condition": "gatewright.is_at_rest"}, {"gatewright.is_at_rest"}),
        ({"trigger": "gatewright.machine_lost_air"}, {"gatewright.machine_lost_air"}),
        (None, set()),
    ],
)  # fmt: skip
def test_old_names_are_found_where_they_mean_something(
    written: Any, found: set[str]
) -> None:
    assert old_names_in(written, OURS).keys() == found


def test_every_old_name_can_be_found() -> None:
    for old in (*ACTIONS, *TRIGGERS, *CONDITIONS):
        assert f"{DOMAIN}.{old}" in old_names_in({"action": f"{DOMAIN}.{old}"}, {})
    for table, mentioned in (
        (COLLECTOR_PHASES, PHASE),
        (MACHINE_PHASES, SAW_PHASE),
        (ALARMS, "binary_sensor.p"),
        (REASONS, "sensor.w"),
        (ANSWER_KEYS, "gatewright_summary"),
        (CAUSES, "gatewright_switching"),
        (ENDINGS, "gatewright.check_gates"),
        (GATE_SETS, "gatewright.assess"),
        (FIELDS, "gatewright.rehearse"),
    ):
        for old, new in table.items():
            assert new in old_names_in([mentioned, old], OURS)[old]


def test_a_file_is_searched_as_text() -> None:
    text = f"template:\n  - state: \"{{{{ is_state('{PHASE}', 'run_on') }}}}\"  # why\n"
    assert old_names_in_text(text, OURS) == {"run_on": "shutting_off"}
    assert old_names_in_text(text.replace(PHASE, "sensor.other"), OURS) == {}
    assert "GatewrightWhoHasAir" in old_names_in_text("GatewrightWhoHasAir:\n", {})


async def test_scripts_helpers_dashboards_and_files_are_looked_through(
    hass: HomeAssistant,
    workshop: Workshop,
    tmp_path: Path,
    hass_storage: dict[str, Any],
) -> None:
    hass.config.config_dir = str(tmp_path)
    for place in ("packages/shop.yaml", "blueprints/a.yaml", ".cache/b.yaml", "c.txt"):
        file = tmp_path / place
        file.parent.mkdir(exist_ok=True)
        file.write_text(
            f"state: \"{{{{ is_state('{PHASE}', 'run_on') }}}}\"\n", "utf-8"
        )
    (tmp_path / "odd.yaml").write_bytes(b"\xff\xfe")
    hass_storage["lovelace"] = {
        "version": 1,
        "key": "lovelace",
        "data": {
            "config": {
                "views": [
                    {
                        "cards": [
                            {"conditions": [{"entity": PHASE, "state": "coasting"}]}
                        ]
                    }
                ]
            }
        },
    }
    assert await async_setup_component(hass, "lovelace", {})
    script = {"sequence": [{"action": f"{DOMAIN}.lock_out", "target": COLLECTOR}]}
    assert await async_setup_component(hass, "script", {"script": {"stop": script}})
    MockConfigEntry(
        domain="template",
        title="Winding down",
        options={"state": f"{{{{ is_state('{PHASE}', 'coasting') }}}}"},
    ).add_to_hass(hass)
    await workshop.load(old_entry(hass))
    await look(workshop)
    assert places(hass).splitlines() == [
        f"- [stop](/config/script/edit/stop): `{DOMAIN}.lock_out` → `{DOMAIN}.block_starts`",
        "- [Overview](/lovelace): `coasting` → `spinning_down`",
        "- [Winding down](/config/helpers): `coasting` → `spinning_down`",
        "- `packages/shop.yaml`: `run_on` → `shutting_off`",
    ]


async def test_what_cannot_be_looked_through_keeps_the_old_names(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """A release of Home Assistant that stores automations differently breaks no automation."""
    entry = old_entry(hass)
    hass.data["script"] = object()
    await workshop.load(entry)
    await look(workshop)
    del hass.data["script"]
    assert workshop.state(PHASE) == "resting"
    assert "Gatewright can't check" in places(hass)
    assert ir.async_get(hass).async_get_issue(DOMAIN, "internal_automations")
    await submit(hass)
    await look(workshop)
    assert workshop.state(PHASE) == "idle"
    assert repair(hass) is None


async def test_nothing_is_reported_once_the_last_system_is_gone(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await automate(hass, when("coasting"))
    await workshop.load(old_entry(hass))
    await look(workshop)
    assert repair(hass)
    await hass.config_entries.async_remove("system")
    hass.bus.async_fire("automation_reloaded")
    await look(workshop)
    assert repair(hass) is None


async def test_an_automation_of_a_blueprint_is_looked_through_with_its_inputs(
    hass: HomeAssistant, workshop: Workshop, tmp_path: Path
) -> None:
    """The state is in the blueprint, the entity in the automation."""
    hass.config.config_dir = str(tmp_path)
    folder = tmp_path / "blueprints" / "automation"
    folder.mkdir(parents=True)
    (folder / "rest.yaml").write_text(
        "blueprint:\n  name: Rest\n  domain: automation\n  input:\n    phase:\n"
        "triggers:\n  - trigger: state\n    entity_id: !input phase\n    to: resting\n"
        "actions: []\n",
        "utf-8",
    )
    inputs = {"path": "rest.yaml", "input": {"phase": PHASE}}
    automation = {"id": "b", "alias": "Cleaner", "use_blueprint": inputs}
    assert await async_setup_component(hass, "automation", {"automation": [automation]})
    await workshop.load(old_entry(hass))
    await look(workshop)
    assert places(hass) == "- [Cleaner](/config/automation/edit/b): `resting` → `idle`"
    assert workshop.state(PHASE) == "resting"
