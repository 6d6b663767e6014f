"""Services, energy and the room's air, and reports of work done."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import issue_registry as ir
import pytest

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.repairs import async_create_fix_flow

from .maintenance_shop import (
    BELT,
    CLEANER,
    HOUR,
    PROBLEM,
    SERVICES,
    WORK,
    alarms,
    on,
    saw,
)
from .workshop import (
    SAW_POWER,
    FakeSwitch,
    Workshop,
    change_system,
    system_entry,
)


async def test_services_by_hours_and_by_days(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.freezer.move_to("2026-10-20 08:00:00+00:00")
    await workshop.start(system_entry(services=SERVICES))
    assert workshop.state(BELT) == "1.0"
    assert workshop.state("sensor.dust_collector_guards_left") == "30"
    await saw(workshop, 1.1)
    assert workshop.state(BELT) == "0.0"
    assert alarms(workshop) == ["service_due"]
    assert workshop.attribute(PROBLEM, "messages") == ["Belt is due at Dust collector"]
    await hass.services.async_call(
        DOMAIN, "mark_serviced", {"entity_id": BELT, "service": "belt"}, blocking=True
    )
    await hass.async_block_till_done()
    assert alarms(workshop) == []
    assert workshop.state(BELT) == "1.0"
    # Thirty days on, over a change of the clock and the end of a month.
    await workshop.pass_time(30 * 24 * HOUR, 6 * HOUR)
    assert workshop.state("sensor.dust_collector_guards_left") == "0"
    assert alarms(workshop) == ["service_due"]
    await workshop.call("press", "button.dust_collector_guards_done")
    assert alarms(workshop) == []
    with pytest.raises(ServiceValidationError) as refused:
        await hass.services.async_call(
            DOMAIN,
            "mark_serviced",
            {"entity_id": BELT, "service": "Bags"},
            blocking=True,
        )
    assert refused.value.translation_key == "no_such_service"


async def test_energy_and_its_cost(workshop: Workshop) -> None:
    power = "sensor.collector_power"
    workshop.watts(power, 0)
    await workshop.start(system_entry(power=power, energy_price=0.4))
    await workshop.saw_runs()
    workshop.watts(power, 1500)
    await workshop.pass_time(2 * HOUR, 60)
    assert float(workshop.state("sensor.dust_collector_energy")) == pytest.approx(
        3.0, abs=0.03
    )
    assert float(workshop.state("sensor.dust_collector_energy_cost")) == pytest.approx(
        1.2, abs=0.02
    )
    assert workshop.attribute("sensor.dust_collector_energy_cost", "device_class") == (
        "monetary"
    )


async def test_the_air_cleaner_runs_on_until_the_air_is_changed(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    cleaner = FakeSwitch(workshop, CLEANER)
    await workshop.add(cleaner)
    # 60 m3 changed once by 0.5 m3/s: two minutes.
    entry = system_entry(
        room_cleaner=CLEANER, room_volume=60.0, room_flow=0.5, room_changes=1.0
    )
    await workshop.start(entry)
    assert not on(cleaner)
    await workshop.saw_runs()
    await workshop.pass_time(5)
    assert on(cleaner)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(60, 1)
    assert on(cleaner)
    await workshop.pass_time(90, 1)
    assert not on(cleaner)
    # Turned on by hand it's the owner's, and turned off by hand it stays off.
    cleaner.by_hand(is_on=True)
    await workshop.pass_time(200, 5)
    assert on(cleaner)
    cleaner.by_hand(is_on=False)
    await workshop.saw_runs()
    await workshop.pass_time(15)
    assert on(cleaner)
    cleaner.by_hand(is_on=False)
    await workshop.pass_time(20, 1)
    assert not on(cleaner)
    workshop.watts(SAW_POWER, 3)


async def test_the_air_cleaner_stops_when_the_particles_are_few_and_in_a_fire_shutdown(
    workshop: Workshop,
) -> None:
    cleaner = FakeSwitch(workshop, CLEANER)
    await workshop.add(cleaner)
    workshop.put("sensor.dust", "20", {"unit_of_measurement": "µg/m³"})
    workshop.put("binary_sensor.smoke", "off")
    entry = system_entry(
        room_cleaner=CLEANER,
        particles="sensor.dust",
        particles_clean=0.05,
        emergency=["binary_sensor.smoke"],
    )
    await workshop.start(entry)
    await workshop.saw_runs()
    workshop.put("sensor.dust", "400")
    await workshop.pass_time(30, 1)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(600, 5)
    assert on(cleaner)
    workshop.put("sensor.dust", "30")
    await workshop.pass_time(90, 1)
    assert not on(cleaner)
    await workshop.saw_runs()
    await workshop.pass_time(5)
    assert on(cleaner)
    workshop.put("binary_sensor.smoke", "on")
    await workshop.pass_time(2)
    assert not on(cleaner)
    workshop.watts(SAW_POWER, 3)


async def test_what_was_entered_is_taken_up_while_it_runs(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await saw(workshop, 0.5)
    change_system(hass, entry, filter_hours=20.0, bin_volume=0.1)
    await hass.async_block_till_done()
    assert workshop.state(WORK) == "nothing"
    assert workshop.state("sensor.dust_collector_bin_level") == "0"
    assert workshop.state("button.dust_collector_bin_emptied") == "unknown"


@pytest.mark.parametrize(
    ("settings", "kind"),
    [
        ({"filter_hours": 0.5}, "filter_clean_due"),
        ({"filter_life": 0.5}, "filter_replace_due"),
        ({"services": [{"id": "belt", "name": "Belt", "hours": 0.5}]}, "service_due"),
    ],
)
async def test_each_repair_is_the_word_that_it_was_done(
    hass: HomeAssistant, workshop: Workshop, settings: dict[str, Any], kind: str
) -> None:
    await workshop.start(system_entry(**settings))
    await saw(workshop, 0.6)
    assert alarms(workshop) == [kind]
    registry = ir.async_get(hass)
    ((domain, issue_id),) = [key for key in registry.issues if key[0] == DOMAIN]
    issue = registry.issues[domain, issue_id]
    assert issue.translation_key == f"alarm_{kind}"
    assert issue.is_fixable
    flow: Any = await async_create_fix_flow(hass, issue_id, issue.data)
    flow.hass = hass
    await flow.async_step_confirm({})
    await hass.async_block_till_done()
    assert alarms(workshop) == []
    assert (domain, issue_id) not in registry.issues


async def test_actions_for_the_filter_and_for_all_that_is_due(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    async def act(action: str, **data: Any) -> None:
        await hass.services.async_call(
            DOMAIN, action, {"entity_id": PROBLEM, **data}, blocking=True
        )
        await hass.async_block_till_done()

    entry = system_entry(services=SERVICES)
    await workshop.start(entry)
    for action in ("mark_filter_cleaned", "mark_filter_replaced"):
        with pytest.raises(ServiceValidationError) as refused:
            await act(action)
        assert refused.value.translation_key == "filter_not_looked_after"
    with pytest.raises(ServiceValidationError) as refused:
        await act("mark_serviced")
    assert refused.value.translation_key == "no_service_due"
    change_system(hass, entry, filter_hours=1.0)
    await hass.async_block_till_done()
    await saw(workshop, 1.1)
    assert set(alarms(workshop)) == {"service_due", "filter_clean_due"}
    await act("mark_filter_cleaned")
    await act("mark_serviced")
    assert alarms(workshop) == []


async def test_a_changed_interval_is_taken_up(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry(services=SERVICES)
    await workshop.start(entry)
    await saw(workshop, 0.5)
    for interval, state, unit in (
        ({"hours": 10.0}, "9.5", "h"),
        ({"days": 60}, "60", "d"),
        ({"starts": 100}, "99", None),
    ):
        change_system(
            hass, entry, services=[{"id": "belt", "name": "Belt", **interval}]
        )
        await hass.async_block_till_done()
        assert workshop.state(BELT) == state
        assert workshop.attribute(BELT, "unit_of_measurement") == unit
    assert hass.states.get("sensor.dust_collector_guards_left") is None
