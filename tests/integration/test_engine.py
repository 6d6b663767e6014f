"""The main job, in Home Assistant."""

from homeassistant.core import HomeAssistant

from .workshop import (
    COLLECTOR,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    system_entry,
)


async def test_machine_is_served_and_everything_returns_to_rest(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    assert workshop.state("sensor.dust_collector_phase") == "idle"
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(1.5)
    assert workshop.calls == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    await workshop.pass_time(20)
    workshop.watts(SAW_POWER, 4)
    await workshop.pass_time(30)
    assert workshop.calls[2:] == [("turn_off", COLLECTOR), ("close_cover", SAW_GATE)]
    assert workshop.state("sensor.dust_collector_phase") == "idle"
    assert PLANER_POWER
