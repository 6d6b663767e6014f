"""Actions: dust collection, modes of a system, alarms; their targets, rights and answers."""

from datetime import timedelta
from typing import Any

from homeassistant.auth.permissions.const import POLICY_CONTROL
from homeassistant.config_entries import ConfigEntryDisabler
from homeassistant.core import Context, HomeAssistant
from homeassistant.exceptions import (
    HomeAssistantError,
    ServiceValidationError,
    Unauthorized,
    UnknownUser,
)
from homeassistant.helpers import area_registry as ar, device_registry as dr
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import MockUser
import voluptuous as vol

from custom_components.gatewright.const import DOMAIN

from .workshop import (
    COLLECTOR,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    gate,
    machine,
    standard_parts,
    system_entry,
)

SMOKE = "binary_sensor.smoke"


async def act(
    workshop: Workshop,
    action: str,
    data: dict[str, Any],
    *,
    context: Context | None = None,
    answer: bool = False,
) -> Any:
    """Call an action of ours as a user."""
    found = await workshop.hass.services.async_call(
        DOMAIN,
        action,
        data,
        blocking=True,
        context=context or Context(),
        return_response=answer,
    )
    await workshop.hass.async_block_till_done()
    return found


def device(hass: HomeAssistant, part: str, entry_id: str = "system") -> str:
    """Return the device of a part."""
    found = dr.async_get(hass).async_get_device_by_identifier((DOMAIN, part), entry_id)
    assert found
    return found.id


# Air ----------------------------------------------------------------------------------


async def test_dust_collection_is_requested_at_a_device_and_withdrawn(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    target = {"device_id": device(hass, "sweep")}
    answer = await act(workshop, "turn_on_collection", target, answer=True)
    (reported,) = answer["machines"]
    assert reported["name"] == "Floor sweep"
    assert reported["requested"] is True
    # The limit set for the pickup.
    ends = dt_util.parse_datetime(reported["until"])
    assert ends
    assert abs(ends - dt_util.utcnow() - timedelta(minutes=10)) < timedelta(seconds=2)
    await workshop.pass_time(2)
    assert workshop.sent() == [
        ("open_valve", "valve.sweep_gate_actuator"),
        ("turn_on", COLLECTOR),
    ]
    answer = await act(workshop, "turn_off_collection", target, answer=True)
    assert answer["machines"][0]["requested"] is False
    assert answer["machines"][0]["until"] is None
    await workshop.pass_time(4)
    assert workshop.sent() == [("turn_off", COLLECTOR)]


@pytest.mark.parametrize("limit", ["00:00:20", {"seconds": 20}, 20])
async def test_a_request_ends_on_its_own(
    hass: HomeAssistant, workshop: Workshop, limit: Any
) -> None:
    """At a machine, named by any of its entities."""
    await workshop.start(system_entry())
    await act(
        workshop,
        "turn_on_collection",
        {"entity_id": "binary_sensor.table_saw_running", "duration": limit},
    )
    await workshop.pass_time(18, 1)
    assert workshop.state("switch.table_saw_dust_collection") == "on"
    assert workshop.state(COLLECTOR) == "on"
    await workshop.pass_time(6, 1)
    assert workshop.state("switch.table_saw_dust_collection") == "off"
    assert workshop.state(COLLECTOR) == "off"


@pytest.mark.parametrize("limit", ["-1", 0, {"hours": 25}, "soon"])
async def test_a_limit_that_is_none_is_refused(
    hass: HomeAssistant, workshop: Workshop, limit: Any
) -> None:
    await workshop.start(system_entry())
    with pytest.raises(vol.Invalid):
        await act(
            workshop,
            "turn_on_collection",
            {"entity_id": "switch.floor_sweep", "duration": limit},
        )
    assert workshop.state("switch.floor_sweep") == "off"


async def test_an_area_stands_for_the_machines_in_it(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """The collector's relay and a lamp in the same area don't matter."""
    await workshop.start(system_entry())
    area = ar.async_get(hass).async_create("Back room").id
    for part in ("planer", "sweep", "sweep_gate", "system"):
        dr.async_get(hass).async_update_device(device(hass, part), area_id=area)
    answer = await act(workshop, "turn_on_collection", {"area_id": area}, answer=True)
    assert {reported["name"] for reported in answer["machines"]} == {
        "Planer",
        "Floor sweep",
    }


@pytest.mark.parametrize(
    ("action", "target", "key", "name"),
    [
        (
            "turn_on_collection",
            {"entity_id": COLLECTOR},
            "not_a_machine",
            "collector_relay",
        ),
        (
            "turn_on_collection",
            {"entity_id": "sensor.none"},
            "not_a_machine",
            "sensor.none",
        ),
        (
            "turn_on_collection",
            {"entity_id": "cover.saw_gate"},
            "not_a_machine",
            "Saw gate",
        ),
        ("turn_on_collection", {"device_id": "no_such"}, "not_a_machine", "no_such"),
        ("turn_off_collection", {"area_id": "no_such"}, "not_a_machine_there", None),
        (
            "pause_automatic",
            {"entity_id": "switch.floor_sweep"},
            "not_a_system",
            "Floor sweep",
        ),
        ("block_starts", {"label_id": "no_such"}, "not_a_system_there", None),
        (
            "reset_alarms",
            {"entity_id": COLLECTOR},
            "not_of_gatewright",
            "collector_relay",
        ),
    ],
)
async def test_what_is_not_meant_is_reported(
    hass: HomeAssistant,
    workshop: Workshop,
    action: str,
    target: dict[str, str],
    key: str,
    name: str | None,
) -> None:
    await workshop.start(system_entry())
    with pytest.raises(ServiceValidationError) as err:
        await act(workshop, action, target)
    assert err.value.translation_key == key
    assert err.value.translation_placeholders == (
        {} if name is None else {"name": name}
    )


async def test_no_target_is_no_action(hass: HomeAssistant, workshop: Workshop) -> None:
    await workshop.start(system_entry())
    for action in hass.services.async_services_for_domain(DOMAIN):
        if action in (
            "turn_on_collection",
            "turn_off_collection",
            "block_starts",
            "allow_starts",
        ):
            with pytest.raises(vol.Invalid):
                await act(workshop, action, {})


async def test_who_is_refused_does_not_hold_up_the_others(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    hass.states.async_set("binary_sensor.hose_there", "off")
    parts = [
        *standard_parts(),
        gate("hose_gate", "Hose gate", actuator="switch.hose_gate"),
        machine(
            "hose",
            "Bench hose",
            gates=["hose_gate"],
            attached="binary_sensor.hose_there",
        ),
    ]
    await workshop.start(system_entry(parts))
    target = {"entity_id": ["switch.bench_hose", "switch.floor_sweep"]}
    with pytest.raises(ServiceValidationError) as err:
        await act(workshop, "turn_on_collection", target)
    assert err.value.translation_key == "refused_not_connected"
    assert err.value.translation_placeholders == {"name": "Bench hose"}
    assert workshop.state("switch.floor_sweep") == "on"
    assert workshop.state("switch.bench_hose") == "off"


async def test_a_machine_without_its_gate_cannot_be_served(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    hass.config_entries.async_remove_subentry(entry, "saw_gate")
    await hass.async_block_till_done()
    target = {"entity_id": "switch.table_saw_dust_collection"}
    with pytest.raises(ServiceValidationError) as err:
        await act(workshop, "turn_on_collection", target)
    assert err.value.translation_key == "machine_without_gate"
    answer = await act(workshop, "turn_off_collection", target, answer=True)
    assert answer == {"machines": [{"name": "Table saw"}]}


# Modes --------------------------------------------------------------------------------


async def test_start_block_stops_and_refuses_until_it_is_lifted(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    hub = {"device_id": device(hass, "system")}
    await act(workshop, "block_starts", hub)
    assert workshop.sent() == [("turn_off", COLLECTOR)]
    assert workshop.state("switch.dust_collector_block_starts") == "on"
    with pytest.raises(ServiceValidationError) as err:
        await act(workshop, "turn_on_collection", {"entity_id": "switch.floor_sweep"})
    assert err.value.translation_key == "refused_start_block"
    # The system is blocked, not the pickup.
    assert err.value.translation_placeholders == {"name": "Dust collector"}
    await act(workshop, "allow_starts", hub)
    await workshop.pass_time(12, 1)
    assert workshop.state("switch.dust_collector_block_starts") == "off"
    assert workshop.state(COLLECTOR) == "on"


async def test_the_automatic_is_paused_and_resumed(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    target = {"entity_id": "switch.dust_collector"}
    answer = await act(workshop, "pause_automatic", target, answer=True)
    assert answer == {"systems": [{"name": "Dust collector", "resumes": None}]}
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(60, 5)
    assert workshop.sent() == []
    await act(workshop, "resume_automatic", target)
    await workshop.pass_time(2)
    assert workshop.state(COLLECTOR) == "on"


async def pause(workshop: Workshop, duration: str) -> str:
    """Pause the automatic mode for a while; return when it resumes."""
    answer = await act(
        workshop,
        "pause_automatic",
        {"entity_id": "switch.dust_collector", "duration": duration},
        answer=True,
    )
    (system,) = answer["systems"]
    return str(system["resumes"])


async def test_a_pause_ends_on_its_own(hass: HomeAssistant, workshop: Workshop) -> None:
    await workshop.start(system_entry())
    resumes = dt_util.parse_datetime(await pause(workshop, "00:10:00"))
    assert resumes
    assert abs(resumes - dt_util.utcnow() - timedelta(minutes=10)) <= timedelta(
        seconds=1
    )
    shown = workshop.attribute("switch.dust_collector_automatic", "changes_at")
    assert abs(shown - resumes) < timedelta(seconds=1)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(595, 5)
    assert workshop.sent() == []
    await workshop.pass_time(10, 1)
    assert workshop.state("switch.dust_collector_automatic") == "on"
    assert workshop.attribute("switch.dust_collector_automatic", "changes_at") is None
    assert workshop.state(COLLECTOR) == "on"


async def test_the_latest_pause_counts(hass: HomeAssistant, workshop: Workshop) -> None:
    await workshop.start(system_entry())
    await pause(workshop, "00:01:00")
    await pause(workshop, "00:03:00")
    await workshop.pass_time(90, 5)
    assert workshop.state("switch.dust_collector_automatic") == "off"
    await act(workshop, "pause_automatic", {"entity_id": "switch.dust_collector"})
    await workshop.pass_time(180, 5)
    assert workshop.state("switch.dust_collector_automatic") == "off"


async def test_a_switch_ends_the_pause_for_good(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Turned on and off again by hand, it stays off."""
    await workshop.start(system_entry())
    await pause(workshop, "00:01:00")
    await workshop.call("turn_on", "switch.dust_collector_automatic")
    await workshop.call("turn_off", "switch.dust_collector_automatic")
    await workshop.pass_time(120, 5)
    assert workshop.state("switch.dust_collector_automatic") == "off"


@pytest.mark.parametrize("away", [10, 300])
async def test_a_pause_outlives_a_restart(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_storage: dict[str, Any],
    away: float,
) -> None:
    """Whether it ends while Home Assistant is down or later."""
    entry = system_entry()
    await workshop.start(entry)
    await pause(workshop, "00:02:00")
    kept = hass_storage[f"{DOMAIN}.pauses"]["data"]
    assert list(kept) == ["system"]
    assert await hass.config_entries.async_unload(entry.entry_id)
    # As after a restart: nothing is left in memory.
    del hass.data[f"{DOMAIN}_pauses"]
    await workshop.pass_time(away, 10)
    await workshop.load(entry)
    expected = "on" if away > 120 else "off"
    assert workshop.state("switch.dust_collector_automatic") == expected
    await workshop.pass_time(130, 10)
    assert workshop.state("switch.dust_collector_automatic") == "on"
    assert hass_storage[f"{DOMAIN}.pauses"]["data"] == {}


async def test_a_removed_system_leaves_no_pause(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await pause(workshop, "00:02:00")
    assert await hass.config_entries.async_remove(entry.entry_id)
    await workshop.pass_time(2)
    assert hass_storage[f"{DOMAIN}.pauses"]["data"] == {}


async def test_what_is_not_going_cannot_be_acted_on(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    hub = device(hass, "system")
    await hass.config_entries.async_set_disabled_by(
        entry.entry_id, ConfigEntryDisabler.USER
    )
    with pytest.raises(ServiceValidationError):
        await act(workshop, "block_starts", {"device_id": hub})


async def test_the_fire_shutdown_is_reset_once_its_cause_is_gone(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    hass.states.async_set(SMOKE, "off")
    await workshop.start(system_entry(emergency=[SMOKE]))
    hub = {"device_id": device(hass, "system")}
    hass.states.async_set(SMOKE, "on")
    await workshop.pass_time(1)
    with pytest.raises(ServiceValidationError) as err:
        await act(workshop, "reset_fire_shutdown", hub)
    assert err.value.translation_key == "refused_fire_shutdown"
    hass.states.async_set(SMOKE, "off")
    await workshop.pass_time(1)
    answer = await act(workshop, "reset_alarms", hub, answer=True)
    # Not along with the other alarms.
    assert [left["alarm"] for left in answer["left"]] == ["fire_shutdown"]
    assert answer["tried_again"] == []
    with pytest.raises(ServiceValidationError):
        await act(workshop, "turn_on_collection", {"entity_id": "switch.floor_sweep"})
    await act(workshop, "reset_fire_shutdown", hub)
    await act(workshop, "turn_on_collection", {"entity_id": "switch.floor_sweep"})
    await workshop.pass_time(12, 1)
    assert workshop.state(COLLECTOR) == "on"


# Alarms -------------------------------------------------------------------------------


async def test_what_was_given_up_is_tried_again(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(20, 1)
    workshop.calls.clear()
    workshop.deaf.clear()
    other = await act(
        workshop,
        "reset_alarms",
        {"device_id": device(hass, "planer_gate")},
        answer=True,
    )
    assert other == {"tried_again": [], "left": []}
    # An alarm counts once, though both the gate and its system are targeted.
    answer = await act(
        workshop,
        "reset_alarms",
        {"entity_id": ["cover.saw_gate", "switch.dust_collector"]},
        answer=True,
    )
    assert len(answer["tried_again"]) == 1
    assert answer["tried_again"][0] == {
        "alarm": "gate_not_moving",
        "part": "Saw gate",
        "title": "Saw gate doesn't move",
    }
    await workshop.pass_time(12, 1)
    assert ("open_cover", SAW_GATE) in workshop.sent()
    assert workshop.state(COLLECTOR) == "on"


# Rights -------------------------------------------------------------------------------


def guest(hass: HomeAssistant, *entities: str) -> Context:
    """Return the context of a user who may control only these entities."""
    user = MockUser(name="Guest").add_to_hass(hass)
    user.mock_policy(
        {
            "entities": {
                "entity_ids": {name: {POLICY_CONTROL: True} for name in entities}
            }
        }
    )
    return Context(user_id=user.id)


async def test_only_who_may_control_it_acts(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    sweep = {"entity_id": "switch.floor_sweep"}
    context = guest(hass, "switch.floor_sweep")
    await act(workshop, "turn_on_collection", sweep, context=context)
    assert workshop.state("switch.floor_sweep") == "on"
    hub = {"device_id": device(hass, "system")}
    refused: list[tuple[str, dict[str, str]]] = [
        ("turn_on_collection", {"entity_id": "switch.table_saw_dust_collection"}),
        *((action, hub) for action in ("pause_automatic", "resume_automatic")),
        *((action, hub) for action in ("block_starts", "allow_starts")),
        *((action, hub) for action in ("reset_alarms", "reset_fire_shutdown")),
    ]
    for action, target in refused:
        with pytest.raises(Unauthorized):
            await act(workshop, action, target, context=context)
    with pytest.raises(UnknownUser):
        await act(
            workshop, "turn_on_collection", sweep, context=Context(user_id="nobody")
        )


async def test_errors_are_reported_in_words(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    with pytest.raises(HomeAssistantError) as err:
        await act(workshop, "turn_on_collection", {"entity_id": "cover.saw_gate"})
    assert str(err.value) == "Saw gate isn't a machine or pickup of Gatewright"


@pytest.mark.parametrize(
    "duration",
    [
        {"seconds": float("inf")},
        {"hours": 1e308},
        {"days": 1e12},
        "99999999999:00:00",
        1e300,
        float("nan"),
        {"seconds": 0},
        {"days": 2},
    ],
)
@pytest.mark.parametrize("action", ["turn_on_collection", "pause_automatic"])
async def test_a_duration_that_none_can_be_is_refused(
    hass: HomeAssistant, workshop: Workshop, action: str, duration: Any
) -> None:
    await workshop.start(system_entry())
    machine = action == "turn_on_collection"
    target = "switch.floor_sweep" if machine else "switch.dust_collector"
    data = {"entity_id": target, "duration": duration}
    with pytest.raises(vol.Invalid):
        await act(workshop, action, data)
    assert workshop.state("switch.floor_sweep") == "off"
    assert workshop.state("switch.dust_collector_automatic") == "on"
