"""Commands: one at a time, the newest target wins, and no failure escapes."""

import asyncio
from typing import Any

from homeassistant.core import Context, HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
import pytest

from custom_components.gatewright.runtime.actuator_driver import OwnContexts

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
ALARMS = "binary_sensor.dust_collector_problem"


class SlowSwitch(FakeSwitch):
    """A switch whose calls return only when the test allows it."""

    def __init__(self, workshop: Workshop, entity_id: str) -> None:
        super().__init__(workshop, entity_id)
        self.gate = asyncio.Event()
        self.at_once = 0
        self.most_at_once = 0

    async def _slow(self, service: str, **state: object) -> None:
        self.at_once += 1
        self.most_at_once = max(self.most_at_once, self.at_once)
        self.workshop.hangs.add(self.entity_id)
        try:
            self.workshop.calls.append((service, self.entity_id))
            await self.gate.wait()
            self.become(**state)
        finally:
            self.at_once -= 1
            self.workshop.hangs.discard(self.entity_id)

    async def async_turn_on(self, **kwargs: Any) -> None:
        await self._slow("turn_on", is_on=True)

    async def async_turn_off(self, **kwargs: Any) -> None:
        await self._slow("turn_off", is_on=False)


def with_planer_gate(entity_id: str) -> list[Any]:
    """Return the standard parts with another switch at the planer's gate."""
    parts = standard_parts()
    parts[1]["data"] = {**parts[1]["data"], "actuator": entity_id, "travel": 1.0}
    return parts


async def test_one_call_is_in_flight_and_the_newest_target_wins(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    slow = SlowSwitch(workshop, "switch.slow_gate")
    await workshop.add(slow)
    await workshop.start(system_entry(with_planer_gate("switch.slow_gate")))
    for service in ("open_cover", "close_cover", "open_cover", "close_cover"):
        await hass.services.async_call(
            "cover", service, {"entity_id": "cover.planer_gate"}, blocking=True
        )
        await workshop.pass_time(0.5)
    assert workshop.sent() == [("turn_on", "switch.slow_gate")]
    slow.gate.set()
    await workshop.pass_time(1)
    # Targets in between are never sent.
    assert workshop.sent() == [("turn_off", "switch.slow_gate")]
    assert slow.most_at_once == 1
    assert slow._attr_is_on is False


async def test_a_slow_actuator_does_not_hold_up_the_others(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    slow = SlowSwitch(workshop, "switch.slow_gate")
    await workshop.add(slow)
    await workshop.start(system_entry(with_planer_gate("switch.slow_gate")))
    workshop.watts(PLANER_POWER, 1450)
    await workshop.pass_time(1.5)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(1.5)
    assert workshop.sent() == [
        ("turn_on", "switch.slow_gate"),
        ("open_cover", SAW_GATE),
        ("turn_on", COLLECTOR),
    ]
    slow.gate.set()
    await workshop.pass_time(3)
    assert workshop.state("binary_sensor.planer_collecting") == "on"


@pytest.mark.parametrize(
    "error",
    [
        HomeAssistantError("relay is not reachable"),
        ServiceValidationError("not today"),
        TimeoutError(),
        OSError("radio is gone"),
        ValueError(),
        RuntimeError("library bug"),
        KeyError("x"),
    ],
    ids=lambda error: type(error).__name__,
)
async def test_a_gate_whose_calls_fail_is_tried_again_and_reported(
    hass: HomeAssistant,
    workshop: Workshop,
    caplog: pytest.LogCaptureFixture,
    error: Exception,
) -> None:
    await workshop.start(system_entry())
    workshop.fails[SAW_GATE] = error
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(30)
    assert workshop.sent() == [("open_cover", SAW_GATE)] * 2
    assert "gate_not_moving" in workshop.attribute(ALARMS, "alarms")
    assert workshop.state(PHASE) == "opening"
    assert "Traceback" not in caplog.text
    # Repaired, it obeys the next target.
    workshop.fails.clear()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(25)
    workshop.calls.clear()
    await workshop.saw_runs()
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"


async def test_a_call_that_hangs_is_given_up_after_ten_seconds(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    await workshop.start(system_entry())
    workshop.hangs.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(9)
    assert workshop.sent() == [("open_cover", SAW_GATE)]
    await workshop.pass_time(4)
    assert workshop.sent() == [("open_cover", SAW_GATE)]
    await workshop.pass_time(20)
    assert "gate_not_moving" in workshop.attribute(ALARMS, "alarms")
    assert "Traceback" not in caplog.text


async def test_an_off_that_fails_is_tried_for_as_long_as_it_takes(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    """Slower and slower, with the gates kept open."""
    await workshop.start(system_entry())
    await workshop.saw_runs()
    workshop.fails[COLLECTOR] = HomeAssistantError("stuck")
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(120, 1)
    tries = workshop.sent()
    assert set(tries) == {("turn_off", COLLECTOR)}
    assert 4 <= len(tries) <= 10
    assert "collector_not_stopping" in workshop.attribute(ALARMS, "alarms")
    assert workshop.state(SAW_GATE) == "open"
    workshop.fails.clear()
    await workshop.pass_time(300, 5)
    assert workshop.state(COLLECTOR) == "off"
    assert workshop.attribute(ALARMS, "alarms") == []
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_cover", SAW_GATE)]
    assert "Traceback" not in caplog.text


async def test_a_collector_that_does_not_start_is_not_tried_again(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """A tripped motor is left alone."""
    await workshop.start(system_entry())
    workshop.fails[COLLECTOR] = HomeAssistantError("tripped")
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(60, 1)
    assert workshop.sent().count(("turn_on", COLLECTOR)) == 1
    assert "collector_not_starting" in workshop.attribute(ALARMS, "alarms")


async def test_an_actuator_of_a_domain_that_is_not_set_up(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    """It has a state, but nobody takes its commands."""
    hass.states.async_set("fan.extractor", "off")
    await workshop.start(system_entry(switch="fan.extractor"))
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(15)
    assert workshop.sent() == [("open_cover", SAW_GATE)]
    assert "collector_not_starting" in workshop.attribute(ALARMS, "alarms")
    assert "Traceback" not in caplog.text


# Our commands or a manual change ------------------------------------------------------


async def test_the_effect_of_our_own_call_is_no_hand(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    assert workshop.state("switch.dust_collector") == "on"
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(20)
    assert workshop.attribute(ALARMS, "alarms") == []
    assert workshop.state(COLLECTOR) == "off"


async def test_a_collector_switched_on_at_the_device_gets_an_open_gate(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    workshop.collector.by_hand(is_on=True)
    await workshop.pass_time(1)
    assert workshop.sent() == [("open_valve", SWEEP_GATE)]
    assert workshop.state("switch.dust_collector") == "on"
    workshop.collector.by_hand(is_on=False)
    await workshop.pass_time(20)
    assert workshop.sent() == [("close_valve", SWEEP_GATE)]


async def test_a_collector_switched_off_at_the_device_stays_off(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.saw_runs()
    await workshop.pass_time(15)
    workshop.collector.by_hand(is_on=False)
    await workshop.pass_time(60, 1)
    assert ("turn_on", COLLECTOR) not in workshop.sent()
    assert workshop.attribute(ALARMS, "alarms") == ["stopped_by_hand"]


async def test_a_gate_moved_at_its_actuator_is_left_there(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    workshop.planer_gate.by_hand(is_on=True)
    await workshop.pass_time(60, 2)
    assert workshop.sent() == []
    assert workshop.state("cover.planer_gate") == "open"


async def test_a_collector_that_comes_back_on_unasked_is_given_an_open_gate_and_stopped(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    workshop.collector.become(available=False)
    await workshop.pass_time(5)
    workshop.collector.by_hand(available=True, is_on=True)
    await workshop.pass_time(15)
    sent = workshop.sent()
    assert ("open_valve", SWEEP_GATE) in sent
    assert ("turn_off", COLLECTOR) in sent
    assert workshop.state(COLLECTOR) == "off"


async def test_a_command_that_waits_for_another_has_all_its_time_after_it(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    slow = SlowSwitch(workshop, "switch.slow_gate")
    await workshop.add(slow)
    await workshop.start(
        system_entry(with_planer_gate("switch.slow_gate"), confirm=2.0)
    )
    for service in ("open_cover", "close_cover"):
        await hass.services.async_call(
            "cover", service, {"entity_id": "cover.planer_gate"}, blocking=True
        )
        await workshop.pass_time(0.5)
    # Longer than both attempts to close would take, if they had been sent.
    await workshop.pass_time(7)
    assert workshop.sent() == [("turn_on", "switch.slow_gate")]
    assert workshop.attribute("binary_sensor.planer_gate_problem", "alarms") == []
    slow.gate.set()
    await workshop.pass_time(2)
    assert workshop.sent() == [("turn_off", "switch.slow_gate")]
    assert workshop.state("cover.planer_gate") == "closed"


async def test_what_an_automation_does_after_us_is_ours_too(
    hass: HomeAssistant,
) -> None:
    contexts = OwnContexts()
    ours = contexts.new()
    assert contexts.own(ours)
    assert contexts.own(Context(parent_id=ours.id))
    assert not contexts.own(Context())


async def test_contexts_are_not_kept_forever(hass: HomeAssistant) -> None:
    contexts = OwnContexts()
    first = contexts.new()
    for _ in range(300):
        last = contexts.new()
    assert not contexts.own(first)
    assert contexts.own(last)
    assert len(contexts._ids) == len(contexts._order) == 256


async def test_a_linked_device_that_fails_disturbs_nothing(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    parts = standard_parts()
    parts[3] = machine(
        "saw",
        "Table saw",
        gates=["saw_gate"],
        sensor=SAW_POWER,
        companions=["switch.lamp"],
    )
    await workshop.start(system_entry(parts))
    workshop.fails["switch.lamp"] = OSError("burnt out")
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(40, 1)
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    assert workshop.sent().count(("turn_on", "switch.lamp")) <= 2
    assert "Traceback" not in caplog.text
    assert workshop.state(PLANER_GATE) == "off"


@pytest.mark.parametrize("assumed", [False, True])
async def test_a_collector_that_never_reports_its_state_is_driven(
    hass: HomeAssistant, workshop: Workshop, assumed: bool
) -> None:
    """Available but unknown: started for a machine, and always turned off again."""
    workshop.collector.become(is_on=None, assumed_state=assumed)
    workshop.deaf.add(COLLECTOR)
    await workshop.load(system_entry())
    await workshop.pass_time(15, 1)
    workshop.calls.clear()
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(15, 1)
    assert ("turn_on", COLLECTOR) in workshop.sent()
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40, 1)
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_cover", SAW_GATE)]
    assert workshop.state(PHASE) == "idle"
    # Nobody is sent to a breaker for it.
    assert workshop.attribute(ALARMS, "alarms") == []
