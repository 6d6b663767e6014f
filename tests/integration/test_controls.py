"""What a person can do: dust collection at a machine, the collector, gates, modes, the hand gate."""

from homeassistant.components.select import ATTR_OPTION
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers.translation import (
    async_get_exception_message,
    async_get_translations,
)
import pytest
from pytest_homeassistant_custom_component.common import async_capture_events

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.control.enums import Refusal, RefusedError
from custom_components.gatewright.core.inputs import DetectorReported
from custom_components.gatewright.runtime.errors import refusal_error

from .workshop import (
    COLLECTOR,
    PLANER_GATE,
    SAW_GATE,
    SAW_POWER,
    SWEEP_GATE,
    FakeSlide,
    Workshop,
    change_part,
    change_system,
    gate,
    machine,
    standard_parts,
    system_entry,
)

PHASE = "sensor.dust_collector_phase"
HAND_GATE = "select.dust_collector_gate_for_manual_start"
PLUGGED_IN = "binary_sensor.lathe_plugged_in"


def text_of(refusal: pytest.ExceptionInfo[ServiceValidationError]) -> str:
    """Return the text of a refusal."""
    err = refusal.value
    assert err.translation_domain is not None
    assert err.translation_key is not None
    return async_get_exception_message(
        err.translation_domain, err.translation_key, err.translation_placeholders
    )


# Dust collection at a machine ------------------------------------------------------


async def test_air_at_a_pickup_by_its_own_name(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(1)
    assert workshop.sent() == [("open_valve", SWEEP_GATE), ("turn_on", COLLECTOR)]
    assert workshop.state("switch.floor_sweep") == "on"
    assert workshop.state("sensor.floor_sweep_phase") == "running"
    await workshop.call("turn_off", "switch.floor_sweep")
    await workshop.pass_time(20)
    assert workshop.state("switch.floor_sweep") == "off"
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_valve", SWEEP_GATE)]


async def test_a_request_ends_at_its_limit(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(599, 1)
    assert workshop.state("switch.floor_sweep") == "on"
    await workshop.pass_time(2)
    assert workshop.state("switch.floor_sweep") == "off"


async def test_asking_again_starts_the_limit_anew(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(400, 5)
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(400, 5)
    assert workshop.state("switch.floor_sweep") == "on"


async def test_dust_collection_requested_at_a_machine_outlives_its_cuts(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.table_saw_dust_collection")
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30)
    assert workshop.sent() == []
    assert workshop.state("switch.table_saw_dust_collection") == "on"
    await workshop.call("turn_off", "switch.table_saw_dust_collection")
    await workshop.pass_time(4)
    assert workshop.sent() == [("turn_off", COLLECTOR)]


@pytest.mark.parametrize(
    "asked", ["switch.floor_sweep", "switch.table_saw_dust_collection"]
)
async def test_start_block_refuses_dust_collection_and_says_why(
    hass: HomeAssistant, workshop: Workshop, asked: str
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    with pytest.raises(ServiceValidationError) as refusal:
        await workshop.call("turn_on", asked)
    assert refusal.value.translation_key == "refused_start_block"
    name = workshop.attribute(asked, "friendly_name").removesuffix(" Dust collection")
    assert text_of(refusal).startswith(f"Starts of {name} are blocked.")
    await workshop.pass_time(3)
    assert workshop.sent() == []
    assert workshop.state(asked) == "off"


async def test_a_machine_that_is_not_connected_is_refused_and_says_why(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """The switch stays available: it explains what is in the way."""
    hass.states.async_set(PLUGGED_IN, "off")
    parts = [
        *standard_parts(),
        machine("hose", "Tool hose", gates=["sweep_gate"], attached=PLUGGED_IN),
    ]
    await workshop.start(system_entry(parts))
    assert workshop.state("binary_sensor.tool_hose_hose_connected") == "off"
    with pytest.raises(ServiceValidationError) as refusal:
        await workshop.call("turn_on", "switch.tool_hose")
    assert text_of(refusal).startswith("The hose of Tool hose isn't connected.")
    hass.states.async_set(PLUGGED_IN, "on")
    await workshop.call("turn_on", "switch.tool_hose")
    await workshop.pass_time(1)
    assert workshop.sent() == [("open_valve", SWEEP_GATE), ("turn_on", COLLECTOR)]
    # Without its hose, the request is withdrawn.
    hass.states.async_set(PLUGGED_IN, "off")
    await workshop.pass_time(1.5)
    assert workshop.state("switch.tool_hose") == "on"
    await workshop.pass_time(5)
    assert workshop.state("switch.tool_hose") == "off"
    assert workshop.sent() == [("turn_off", COLLECTOR)]


# The collector ------------------------------------------------------------------------


async def test_the_collector_on_opens_the_hand_gate_first(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.dust_collector")
    await workshop.pass_time(1)
    assert workshop.sent() == [("open_valve", SWEEP_GATE), ("turn_on", COLLECTOR)]
    assert workshop.state("switch.dust_collector") == "on"
    await workshop.call("turn_off", "switch.dust_collector")
    await workshop.pass_time(20)
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_valve", SWEEP_GATE)]
    assert workshop.state("switch.dust_collector") == "off"


async def test_the_collector_off_withdraws_what_anybody_asked_for(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.call("turn_on", "switch.dust_collector")
    await workshop.pass_time(2)
    await workshop.call("turn_off", "switch.dust_collector")
    await workshop.pass_time(5)
    assert workshop.state("switch.floor_sweep") == "off"
    assert workshop.state("switch.dust_collector") == "off"


async def test_the_collector_off_while_a_machine_runs_stays_off_until_it_has_ended(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await workshop.call("turn_off", "switch.dust_collector")
    await workshop.pass_time(40, 1)
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_cover", SAW_GATE)]
    assert workshop.state("binary_sensor.table_saw_collecting") == "off"
    assert workshop.attribute("binary_sensor.dust_collector_problem", "alarms") == [
        "stopped_by_hand"
    ]
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(20)
    workshop.calls.clear()
    await workshop.saw_runs()
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"


async def test_the_collector_on_again_serves_the_machine_that_still_runs(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await workshop.call("turn_off", "switch.dust_collector")
    await workshop.pass_time(5)
    workshop.calls.clear()
    await workshop.call("turn_on", "switch.dust_collector")
    await workshop.pass_time(2)
    assert ("turn_on", COLLECTOR) in workshop.sent()
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"


async def test_start_block_refuses_the_collector(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    with pytest.raises(ServiceValidationError) as refusal:
        await workshop.call("turn_on", "switch.dust_collector")
    assert text_of(refusal).startswith("Starts of Dust collector are blocked.")


async def test_a_fire_shutdown_refuses_everything(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    smoke = DetectorReported("binary_sensor.smoke", alarm=True)
    entry.runtime_data.context.handle(smoke)
    for asked in ("switch.dust_collector", "switch.floor_sweep"):
        with pytest.raises(ServiceValidationError) as refusal:
            await workshop.call("turn_on", asked)
        assert refusal.value.translation_key == "refused_fire_shutdown"
        assert "fire alarm shutdown" in text_of(refusal)


@pytest.mark.parametrize("why", Refusal)
async def test_every_refusal_has_its_words(hass: HomeAssistant, why: Refusal) -> None:
    texts = await async_get_translations(hass, "en", "exceptions", [DOMAIN])
    error = refusal_error(RefusedError(why), "Table saw")
    key = f"component.{DOMAIN}.exceptions.{error.translation_key}.message"
    shown = texts[key].format(**(error.translation_placeholders or {}))
    assert "Table saw" in shown
    assert "{" not in shown


# Modes --------------------------------------------------------------------------------


async def test_without_automatic_running_machines_are_not_served(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_off", "switch.dust_collector_automatic")
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    assert workshop.sent() == []
    assert workshop.state("binary_sensor.table_saw_running") == "on"
    await workshop.call("turn_on", "switch.dust_collector_automatic")
    await workshop.pass_time(1)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]


async def test_start_block_stops_at_once_and_lifting_it_serves_what_runs(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    assert workshop.sent() == [("turn_off", COLLECTOR)]
    assert workshop.state("switch.dust_collector_block_starts") == "on"
    await workshop.pass_time(20)
    await workshop.call("turn_off", "switch.dust_collector_block_starts")
    await workshop.pass_time(2)
    assert ("turn_on", COLLECTOR) in workshop.sent()


# Gates --------------------------------------------------------------------------------


async def test_a_gate_is_moved_by_hand_and_left_there(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("open_cover", "cover.planer_gate")
    await workshop.pass_time(60, 2)
    assert workshop.sent() == [("turn_on", PLANER_GATE)]
    assert workshop.state("cover.planer_gate") == "open"
    await workshop.call("close_cover", "cover.planer_gate")
    await workshop.pass_time(10)
    assert workshop.sent() == [("turn_off", PLANER_GATE)]
    assert workshop.state("cover.planer_gate") == "closed"


async def test_the_last_open_gate_stays_while_the_impeller_may_turn(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    with pytest.raises(ServiceValidationError) as refusal:
        await workshop.call("close_cover", "cover.saw_gate")
    assert text_of(refusal).startswith("Saw gate is the last open gate, and")
    await workshop.call("open_cover", "cover.sweep_gate")
    await workshop.pass_time(1)
    workshop.calls.clear()
    await workshop.call("close_cover", "cover.saw_gate")
    assert workshop.sent() == [("close_cover", SAW_GATE)]


async def test_a_gate_without_feedback_shows_its_travel(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("open_cover", "cover.planer_gate")
    await workshop.pass_time(4)
    assert workshop.state("cover.planer_gate") == "opening"
    await workshop.pass_time(2)
    assert workshop.state("cover.planer_gate") == "open"
    await workshop.call("close_cover", "cover.planer_gate")
    await workshop.pass_time(4)
    assert workshop.state("cover.planer_gate") == "closing"
    await workshop.pass_time(2)
    assert workshop.state("cover.planer_gate") == "closed"


async def test_a_hand_at_the_slide_shows_where_it_really_goes(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    workshop.saw_gate.by_hand(is_opening=True)
    await workshop.pass_time(1)
    assert workshop.state("cover.saw_gate") == "opening"
    workshop.saw_gate.by_hand(is_opening=False, is_closed=False)
    await workshop.pass_time(1)
    assert workshop.state("cover.saw_gate") == "open"
    workshop.saw_gate.by_hand(is_closing=True)
    await workshop.pass_time(1)
    assert workshop.state("cover.saw_gate") == "closing"
    workshop.saw_gate.by_hand(is_closing=False, is_closed=True)
    await workshop.pass_time(1)
    assert workshop.state("cover.saw_gate") == "closed"


async def test_a_gate_shows_the_position_of_its_cover(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    slide = FakeSlide(workshop, "cover.slide")
    await workshop.add(slide)
    parts = standard_parts()
    parts[0] = gate("saw_gate", "Saw gate", actuator="cover.slide", rest="leave")
    await workshop.start(system_entry(parts))
    assert workshop.attribute("cover.saw_gate", "current_position") == 0
    assert workshop.attribute("cover.planer_gate", "current_position") is None
    slide.by_hand(current_cover_position=40, is_closed=False)
    await workshop.pass_time(1)
    assert workshop.attribute("cover.saw_gate", "current_position") == 40
    assert workshop.attribute("cover.saw_gate", "is_closed") is False
    slide.by_hand(current_cover_position=55)
    await workshop.pass_time(1)
    assert workshop.attribute("cover.saw_gate", "current_position") == 55
    assert workshop.sent() == []


async def test_a_gate_moved_by_hand_only_cannot_be_driven(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    hass.states.async_set("binary_sensor.back_open", "off")
    parts = standard_parts()
    parts[0] = gate(
        "saw_gate",
        "Saw gate",
        gate_kind="hand",
        open_sensor="binary_sensor.back_open",
    )
    entry = system_entry(parts)
    await workshop.start(entry)
    assert workshop.attribute("cover.saw_gate", "supported_features") == 0
    assert workshop.state("cover.saw_gate") == "closed"
    hass.states.async_set("binary_sensor.back_open", "on")
    await workshop.pass_time(1)
    assert workshop.state("cover.saw_gate") == "open"
    # With a motor added, it can.
    change_part(hass, entry, "saw_gate", gate_kind="powered", actuator=SAW_GATE)
    await workshop.pass_time(1)
    assert workshop.attribute("cover.saw_gate", "supported_features") == 3
    workshop.calls.clear()
    await workshop.call("open_cover", "cover.saw_gate")
    assert workshop.attribute("cover.saw_gate", "supported_features") == 3


# The hand gate ------------------------------------------------------------------------


async def test_the_hand_gate_is_chosen(hass: HomeAssistant, workshop: Workshop) -> None:
    await workshop.start(system_entry())
    assert workshop.state(HAND_GATE) == "Sweep gate"
    assert workshop.attribute(HAND_GATE, "options") == [
        "Saw gate",
        "Planer gate",
        "Sweep gate",
    ]
    await workshop.call("select_option", HAND_GATE, **{ATTR_OPTION: "Saw gate"})
    assert workshop.state(HAND_GATE) == "Saw gate"
    await workshop.call("turn_on", "switch.dust_collector")
    await workshop.pass_time(1)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]


async def test_the_chosen_hand_gate_is_kept_over_a_reload(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.call("select_option", HAND_GATE, **{ATTR_OPTION: "Saw gate"})
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert workshop.state(HAND_GATE) == "Saw gate"


async def test_a_hand_gate_set_up_anew_counts(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.call("select_option", HAND_GATE, **{ATTR_OPTION: "Saw gate"})
    change_system(hass, entry, run_on=4.0)
    await hass.async_block_till_done()
    assert workshop.state(HAND_GATE) == "Saw gate"
    change_system(hass, entry, hand_gates=["planer_gate"])
    await hass.async_block_till_done()
    assert workshop.state(HAND_GATE) == "Planer gate"


async def test_the_choice_follows_the_gates_there_are(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    change_part(hass, entry, "saw_gate", title="Big gate")
    await hass.async_block_till_done()
    assert workshop.attribute(HAND_GATE, "options")[0] == "Big gate"
    hass.config_entries.async_remove_subentry(entry, "sweep_gate")
    await hass.async_block_till_done()
    assert workshop.attribute(HAND_GATE, "options") == ["Big gate", "Planer gate"]
    assert workshop.state(HAND_GATE) == "Big gate"


async def test_gates_of_one_name_can_be_told_apart(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """The forms refuse that, but a title can be changed elsewhere."""
    entry = system_entry()
    await workshop.start(entry)
    change_part(hass, entry, "planer_gate", title="Saw gate")
    await hass.async_block_till_done()
    assert workshop.attribute(HAND_GATE, "options") == [
        "Saw gate",
        "Saw gate 2",
        "Sweep gate",
    ]


async def test_nobody_else_gets_what_has_not_changed(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    changes = async_capture_events(hass, "state_changed")
    await workshop.call("select_option", HAND_GATE, **{ATTR_OPTION: "Saw gate"})
    assert [event.data["entity_id"] for event in changes] == [HAND_GATE]
    assert workshop.state(PHASE) == "idle"


async def test_the_switch_says_what_the_relay_says_and_not_what_is_wanted(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    workshop.deaf.add(SWEEP_GATE)
    await workshop.call("turn_on", "switch.dust_collector")
    await workshop.pass_time(1)
    # It waits for its gate, with the relay off.
    assert workshop.state("switch.dust_collector") == "off"
    assert workshop.state("sensor.dust_collector_phase") == "opening"
    assert workshop.state("binary_sensor.dust_collector_turning") == "off"
