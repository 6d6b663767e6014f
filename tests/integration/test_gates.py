"""Gates of every kind: how each is driven, and when it counts as open."""

from typing import Any

from homeassistant.components.cover import CoverEntityFeature
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
import pytest

from .workshop import (
    COLLECTOR,
    SAW_GATE,
    SAW_POWER,
    FakeCover,
    FakePositionValve,
    FakeSlide,
    FakeSwitch,
    Workshop,
    gate,
    machine,
    system_entry,
)

OPEN = "binary_sensor.gate_open"
CLOSED = "binary_sensor.gate_shut"
GATE = "cover.gate"


def one_gate(**data: Any) -> list[Any]:
    """Return a shop of one gate and a saw."""
    return [
        gate("gate", "Gate", **data),
        machine("saw", "Table saw", gates=["gate"], sensor=SAW_POWER),
    ]


async def run_saw(workshop: Workshop, seconds: float = 1.5) -> list[tuple[str, str]]:
    """Run the saw for a while and return what was driven."""
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(seconds)
    return workshop.sent()


async def stop_saw(workshop: Workshop) -> list[tuple[str, str]]:
    """Stop the saw, and let everything come to rest."""
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(32)
    return workshop.sent()


async def test_cover_with_a_position(hass: HomeAssistant, workshop: Workshop) -> None:
    """Open from 95 percent on: a slide that does not quite reach its stop is open."""
    slide = FakeSlide(workshop, "cover.slide")
    slide._attr_supported_features = CoverEntityFeature.OPEN | CoverEntityFeature.CLOSE
    await workshop.add(slide)
    workshop.deaf.add("cover.slide")
    await workshop.start(system_entry(one_gate(actuator="cover.slide")))
    assert await run_saw(workshop) == [("open_cover", "cover.slide")]
    slide.become(is_opening=True, current_cover_position=20, is_closed=False)
    await workshop.pass_time(1)
    assert workshop.state(GATE) == "opening"
    slide.become(current_cover_position=94, is_opening=False)
    await workshop.pass_time(0.5)
    assert workshop.sent() == []
    slide.become(current_cover_position=95)
    await workshop.pass_time(0.5)
    assert workshop.sent() == [("turn_on", COLLECTOR)]
    assert workshop.state(GATE) == "open"


async def test_cover_that_only_takes_a_position(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.add(FakeSlide(workshop, "cover.slide"))
    await workshop.start(system_entry(one_gate(actuator="cover.slide")))
    assert await run_saw(workshop) == [
        ("to_100", "cover.slide"),
        ("turn_on", COLLECTOR),
    ]
    assert await stop_saw(workshop) == [
        ("turn_off", COLLECTOR),
        ("to_0", "cover.slide"),
    ]


async def test_valve_that_only_takes_a_position(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.add(FakePositionValve(workshop, "valve.slide"))
    await workshop.start(system_entry(one_gate(actuator="valve.slide")))
    assert await run_saw(workshop) == [
        ("to_100", "valve.slide"),
        ("turn_on", COLLECTOR),
    ]
    assert await stop_saw(workshop) == [
        ("turn_off", COLLECTOR),
        ("to_0", "valve.slide"),
    ]


async def test_cover_that_says_nothing_of_what_it_can(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Without a list of features it's opened and closed by the usual commands."""
    cover = FakeCover(workshop, "cover.bare")
    await workshop.add(cover)
    await workshop.start(system_entry(one_gate(actuator="cover.bare")))
    state = hass.states.get("cover.bare")
    assert state is not None
    bare = {k: v for k, v in state.attributes.items() if k != "supported_features"}
    workshop.put("cover.bare", "closed", bare)
    assert await run_saw(workshop) == [
        ("open_cover", "cover.bare"),
        ("turn_on", COLLECTOR),
    ]


async def test_cover_without_a_position(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(one_gate(actuator=SAW_GATE)))
    assert await run_saw(workshop) == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    assert await stop_saw(workshop) == [
        ("turn_off", COLLECTOR),
        ("close_cover", SAW_GATE),
    ]


@pytest.mark.parametrize("domain", ["switch", "input_boolean"])
@pytest.mark.parametrize("inverted", [False, True])
async def test_switch_without_feedback_has_its_travel_time_waited_out(
    hass: HomeAssistant, workshop: Workshop, domain: str, inverted: bool
) -> None:
    entity_id = f"{domain}.solenoid"
    if domain == "switch":
        solenoid = FakeSwitch(workshop, entity_id)
        solenoid._attr_is_on = inverted
        await workshop.add(solenoid)
    else:
        hass.states.async_set(entity_id, "on" if inverted else "off")

        async def obey(call: Any) -> None:
            workshop.calls.append((call.service, entity_id))
            hass.states.async_set(entity_id, call.service.removeprefix("turn_"))

        for service in ("turn_on", "turn_off"):
            hass.services.async_register(domain, service, obey)
    opens, closes = ("turn_off", "turn_on") if inverted else ("turn_on", "turn_off")
    parts = one_gate(actuator=entity_id, inverted=inverted, travel=4.0)
    await workshop.start(system_entry(parts))
    assert workshop.state(GATE) == "closed"
    assert await run_saw(workshop, 3.5) == [(opens, entity_id)]
    assert workshop.state(GATE) == "opening"
    await workshop.pass_time(1.5)
    assert workshop.sent() == [("turn_on", COLLECTOR)]
    assert workshop.state(GATE) == "open"
    assert await stop_saw(workshop) == [("turn_off", COLLECTOR), (closes, entity_id)]
    assert workshop.state(GATE) == "closed"


async def test_switch_with_a_sensor_at_each_end(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.add(FakeSwitch(workshop, "switch.servo"))
    hass.states.async_set(OPEN, "off")
    hass.states.async_set(CLOSED, "on")
    await workshop.start(
        system_entry(
            one_gate(actuator="switch.servo", open_sensor=OPEN, shut_sensor=CLOSED)
        )
    )
    assert workshop.state(GATE) == "closed"
    assert await run_saw(workshop) == [("turn_on", "switch.servo")]
    hass.states.async_set(CLOSED, "off")
    await workshop.pass_time(2)
    assert workshop.sent() == []
    assert workshop.state(GATE) == "opening"
    hass.states.async_set(OPEN, "on")
    await workshop.pass_time(0.5)
    assert workshop.sent() == [("turn_on", COLLECTOR)]
    assert workshop.state(GATE) == "open"


async def test_one_sensor_decides_alone(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.add(FakeSwitch(workshop, "switch.servo"))
    hass.states.async_set(OPEN, "off")
    await workshop.start(
        system_entry(one_gate(actuator="switch.servo", open_sensor=OPEN))
    )
    assert await run_saw(workshop, 3) == [("turn_on", "switch.servo")]
    hass.states.async_set(OPEN, "on")
    await workshop.pass_time(0.5)
    assert workshop.sent() == [("turn_on", COLLECTOR)]


async def test_sensors_that_contradict_each_other_say_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.add(FakeSwitch(workshop, "switch.servo"))
    hass.states.async_set(OPEN, "on")
    hass.states.async_set(CLOSED, "on")
    await workshop.start(
        system_entry(
            one_gate(
                actuator="switch.servo",
                open_sensor=OPEN,
                shut_sensor=CLOSED,
                rest="leave",
            )
        )
    )
    assert workshop.state(GATE) == "unknown"
    hass.states.async_set(CLOSED, "off")
    await workshop.pass_time(1)
    assert workshop.state(GATE) == "open"


async def test_sensors_that_are_away_leave_it_to_the_actuator(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.add(FakeSwitch(workshop, "switch.servo"))
    hass.states.async_set(OPEN, "unavailable")
    await workshop.start(
        system_entry(one_gate(actuator="switch.servo", open_sensor=OPEN))
    )
    assert workshop.state(GATE) == "closed"
    assert await run_saw(workshop) == [
        ("turn_on", "switch.servo"),
        ("turn_on", COLLECTOR),
    ]


async def test_a_gate_moved_by_hand_is_waited_for(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    hass.states.async_set(CLOSED, "on")
    await workshop.start(
        system_entry(one_gate(gate_kind="hand", shut_sensor=CLOSED), hand_gates=[])
    )
    assert workshop.state(GATE) == "closed"
    assert await run_saw(workshop, 10) == []
    assert workshop.attribute("binary_sensor.gate_problem", "alarms") == [
        "hand_gate_closed"
    ]
    hass.states.async_set(CLOSED, "off")
    await workshop.pass_time(1)
    assert workshop.sent() == [("turn_on", COLLECTOR)]
    assert workshop.state(GATE) == "open"
    hass.states.async_set(CLOSED, "unavailable")
    await workshop.pass_time(1)
    assert workshop.state(GATE) == "unavailable"
    assert workshop.sent() == []


@pytest.mark.parametrize("rest", ["open", "leave"])
async def test_where_a_gate_rests(
    hass: HomeAssistant, workshop: Workshop, rest: str
) -> None:
    await workshop.start(system_entry(one_gate(actuator=SAW_GATE, rest=rest)))
    assert workshop.state(GATE) == ("open" if rest == "open" else "closed")
    await run_saw(workshop)
    assert await stop_saw(workshop) == [("turn_off", COLLECTOR)]
    assert workshop.state(GATE) == "open"


async def test_a_cover_that_is_unknown_until_it_was_moved_is_driven(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.saw_gate.become(is_closed=None)
    await workshop.load(system_entry(one_gate(actuator=SAW_GATE)))
    assert workshop.state(GATE) == "unknown"
    await workshop.pass_time(11)
    # At rest it's closed, once no impeller can be turning; from then on it reports so.
    assert workshop.sent() == [("close_cover", SAW_GATE)]
    assert workshop.state(GATE) == "closed"
    assert await run_saw(workshop) == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]


@pytest.mark.parametrize("assumed", [False, True])
async def test_a_cover_that_never_reports_its_state_goes_by_its_travel_time(
    hass: HomeAssistant, workshop: Workshop, assumed: bool
) -> None:
    workshop.deaf.add(SAW_GATE)
    workshop.saw_gate.become(is_closed=None, assumed_state=assumed)
    await workshop.start(system_entry(one_gate(actuator=SAW_GATE)))
    await workshop.pass_time(6)
    assert workshop.state(GATE) == "closed"
    assert await run_saw(workshop, 4.5) == [("open_cover", SAW_GATE)]
    await workshop.pass_time(1.5)
    assert workshop.sent() == [("turn_on", COLLECTOR)]
    assert workshop.state(GATE) == "open"
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    # Its later report counts; the last command is sent once more.
    workshop.saw_gate.become(is_closed=True)
    await workshop.pass_time(1)
    assert workshop.sent() == [("open_cover", SAW_GATE)]
    workshop.saw_gate.become(is_closed=False)
    await workshop.pass_time(1)
    assert await stop_saw(workshop) == [
        ("turn_off", COLLECTOR),
        ("close_cover", SAW_GATE),
        ("close_cover", SAW_GATE),
    ]


async def test_a_gate_that_says_nothing_and_refuses_is_not_taken_for_open(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.saw_gate.become(is_closed=None)
    workshop.fails[SAW_GATE] = HomeAssistantError("no answer")
    await workshop.start(system_entry(one_gate(actuator=SAW_GATE, rest="leave")))
    assert await run_saw(workshop, 30) == [("open_cover", SAW_GATE)] * 2
    assert workshop.state(GATE) == "unknown"
    assert sorted(workshop.attribute("binary_sensor.gate_problem", "alarms")) == [
        "command_failed",
        "gate_not_moving",
    ]
    assert "no_gate_open" in workshop.attribute(
        "binary_sensor.dust_collector_problem", "alarms"
    )


async def test_a_gate_that_forgets_its_position_keeps_its_dust_collection(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(one_gate(actuator=SAW_GATE)))
    await run_saw(workshop)
    workshop.saw_gate.become(is_closed=None)
    await workshop.pass_time(60, 1)
    assert workshop.sent() == []
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    workshop.saw_gate.by_hand(is_closed=True)
    await workshop.pass_time(2)
    # That was no manual change: it may have been so for long.
    assert workshop.sent() == [("open_cover", SAW_GATE)]


async def test_sensors_speak_for_an_actuator_that_says_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    servo = FakeSwitch(workshop, "switch.servo")
    await workshop.add(servo)
    servo.become(is_on=None)
    workshop.deaf.add("switch.servo")
    hass.states.async_set(OPEN, "off")
    await workshop.start(
        system_entry(one_gate(actuator="switch.servo", open_sensor=OPEN))
    )
    assert workshop.state(GATE) == "closed"
    assert await run_saw(workshop, 7) == [("turn_on", "switch.servo")] * 2
    hass.states.async_set(OPEN, "on")
    await workshop.pass_time(0.5)
    assert workshop.sent() == [("turn_on", COLLECTOR)]


async def test_a_gate_that_goes_away_keeps_its_dust_collection(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(one_gate(actuator=SAW_GATE)))
    await run_saw(workshop)
    workshop.saw_gate.become(available=False)
    await workshop.pass_time(30, 1)
    assert workshop.sent() == []
    assert workshop.state("sensor.dust_collector_phase") == "collecting"


async def test_a_gate_that_comes_back_closed_is_opened_again(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Its controller restarted; nobody touched it."""
    await workshop.start(system_entry(one_gate(actuator=SAW_GATE)))
    await run_saw(workshop, 10)
    workshop.saw_gate.become(available=False)
    await workshop.pass_time(5)
    workshop.saw_gate.by_hand(available=True, is_closed=True)
    await workshop.pass_time(2)
    assert workshop.sent() == [("open_cover", SAW_GATE)]


async def test_a_stuck_gate_is_tried_twice_and_reported(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(one_gate(actuator=SAW_GATE)))
    workshop.deaf.add(SAW_GATE)
    assert await run_saw(workshop, 30) == [
        ("open_cover", SAW_GATE),
        ("open_cover", SAW_GATE),
    ]
    assert workshop.attribute("binary_sensor.gate_problem", "alarms") == [
        "gate_not_moving"
    ]


async def test_a_stuck_gate_does_not_keep_the_other_machine_from_being_served(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = [
        *one_gate(actuator=SAW_GATE),
        gate("other", "Other gate", actuator="switch.planer_gate_solenoid"),
        machine("lathe", "Lathe", gates=["other"], sensor="sensor.lathe_power"),
    ]
    workshop.watts("sensor.lathe_power", 3)
    await workshop.start(system_entry(parts))
    workshop.deaf.add(SAW_GATE)
    workshop.watts("sensor.lathe_power", 900)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(8)
    assert ("turn_on", COLLECTOR) in workshop.sent()
    assert workshop.state("binary_sensor.lathe_collecting") == "on"
    assert workshop.state("binary_sensor.table_saw_collecting") == "off"


async def test_a_gate_that_was_given_up_has_its_try_with_the_next_work(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Somebody freed it while nobody needed it, without reporting it."""
    parts = [
        *one_gate(actuator=SAW_GATE),
        gate("other", "Other gate", actuator="switch.planer_gate_solenoid"),
        machine("lathe", "Lathe", gates=["other"], sensor="sensor.lathe_power"),
    ]
    workshop.watts("sensor.lathe_power", 3)
    await workshop.start(system_entry(parts, run_on=15.0))
    workshop.watts("sensor.lathe_power", 900)
    await workshop.pass_time(8)
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(15)
    problem = "binary_sensor.gate_problem"
    assert workshop.attribute(problem, "alarms") == ["gate_not_moving"]
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(6)
    workshop.deaf.clear()
    workshop.sent()
    # Its target still applies through the shut-off delay; the attempt is a new one.
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.sent() == [("open_cover", SAW_GATE)]
    assert workshop.state(problem) == "off"
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"


@pytest.mark.parametrize("failing", [False, True])
async def test_alarms_of_a_gate_go_once_it_reaches_its_target(
    hass: HomeAssistant, workshop: Workshop, failing: bool
) -> None:
    """It was given up while closing, and somebody closed it by hand."""
    await workshop.start(system_entry(one_gate(actuator=SAW_GATE)))
    await run_saw(workshop)
    if failing:
        workshop.fails[SAW_GATE] = HomeAssistantError("radio is silent")
    else:
        workshop.deaf.add(SAW_GATE)
    await stop_saw(workshop)
    problem = "binary_sensor.gate_problem"
    assert "gate_not_moving" in workshop.attribute(problem, "alarms")
    assert ("command_failed" in workshop.attribute(problem, "alarms")) is failing
    workshop.saw_gate.by_hand(is_closed=True)
    await workshop.pass_time(1)
    assert workshop.attribute(problem, "alarms") == []
    workshop.fails.clear()
    workshop.deaf.clear()
    assert await run_saw(workshop) == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]


async def test_a_slide_pushed_part_open_at_rest_is_left_there(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    slide = FakeSlide(workshop, "cover.slide")
    await workshop.add(slide)
    await workshop.start(system_entry(one_gate(actuator="cover.slide")))
    slide.by_hand(current_cover_position=40, is_closed=False)
    await workshop.pass_time(60, 1)
    assert workshop.sent() == []
    assert workshop.attribute(GATE, "current_position") == 40
    # Until the shop's work sets it again, and returns it to idle.
    assert await run_saw(workshop) == [
        ("to_100", "cover.slide"),
        ("turn_on", COLLECTOR),
    ]
    assert await stop_saw(workshop) == [
        ("turn_off", COLLECTOR),
        ("to_0", "cover.slide"),
    ]
