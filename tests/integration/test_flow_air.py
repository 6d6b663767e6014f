"""The airflow part of the collector's form."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.core.airflow import INLETS
from custom_components.gatewright.features.airflow.ducts import USUAL_INLET

from .flow_helpers import Form, Hub, system, without_engine
from .flow_shops import stored

BEFORE = {"switch", "run_on", "coast", "start_delay", "confirm", "rest_time"}
BEFORE |= {"hand_gates", "hide_wrapped"}


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def entry(hass: HomeAssistant) -> MockConfigEntry:
    """Return a system whose Home Assistant has drives and pressure sensors."""
    hub = Hub(hass)
    hub.add("fan.collector", "Collector", device="Drive", supported_features=49)
    hub.add("fan.stepless", "Weak fan", supported_features=48)
    hub.add("number.hertz", "Drive frequency", "50", unit="Hz", max=60)
    hub.add("sensor.static", "Static pressure", "-900", unit="Pa")
    hub.add("sensor.room", "Room", "21", unit="°C")
    return system(hass, switch=stored(hass, "fan.collector"))


def _air(entry: MockConfigEntry) -> dict[str, Any]:
    return {key: value for key, value in entry.data.items() if key not in BEFORE}


async def test_a_curve_and_all_the_rest(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    assert form.offered("drive") == [
        "fan.collector",
        "number.hertz",
    ]
    assert form.offered("suction") == ["sensor.static"]
    assert "1699 1993" in form.help("fan_points")
    assert "m³/h Pa" in form.help("fan_points")
    assert "20 °C" in form.help("temperature")
    await form.send(
        fan_points=["2400 500", "0 2500", " 1200;2200 ", ""],
        inlet_diameter=200,
        separator_flow=1800,
        separator_loss=500,
        filter_flow=1800,
        filter_loss=300,
        discharge="outside",
        stack_diameter=250,
        stack_length=3,
        carried="chips",
        temperature=15,
        altitude=400,
        suction="sensor.static",
        drive="fan.collector",
        drive_floor=50,
        speed_control=True,
        relief=True,
        transport_run_on=True,
        together_alarm=True,
    )
    assert form.saved
    assert _air(entry) == {
        "fan_points": [[0.0, 2500.0], [0.333333333, 2200.0], [0.666666667, 500.0]],
        "inlet_diameter": 0.2,
        "separator_flow": 0.5,
        "separator_loss": 500.0,
        "filter_flow": 0.5,
        "filter_loss": 300.0,
        "discharge": "outside",
        "stack_diameter": 0.25,
        "stack_length": 3.0,
        "carried": "chips",
        "temperature": 15.0,
        "altitude": 400.0,
        "suction": "sensor.static",
        "drive": stored(hass, "fan.collector"),
        "drive_floor": 50.0,
        "drive_ceiling": 100.0,
        "speed_control": True,
        "relief": True,
        "transport_run_on": True,
        "together_alarm": True,
    }
    # Saving unchanged values changes nothing.
    before = dict(entry.data)
    form = await Form(hass, entry).change()
    assert form.values["fan_points"] == ["0 2500", "1200 2200", "2400 500"]
    await form.send()
    assert form.saved
    assert entry.data == before


async def test_what_stands_before_the_inlet(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    other = next(kind for kind in INLETS if kind != USUAL_INLET)
    await form.send(inlet=other)
    assert entry.data["inlet"] == other
    form = await Form(hass, entry).change()
    await form.send(inlet=USUAL_INLET)
    assert "inlet" not in entry.data


async def test_with_us_units(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    hass.config.units = US_CUSTOMARY_SYSTEM
    form = await Form(hass, entry).change()
    assert form.unit("free_flow") == "ft³/min"
    assert form.unit("max_suction") == "inH₂O"
    assert form.unit("temperature") == "°F"
    assert form.unit("altitude") == "ft"
    assert "68 °F" in form.help("temperature")
    await form.send(free_flow=1000, max_suction=10, temperature=50)
    assert _air(entry) == {
        "free_flow": 0.471947443,
        "max_suction": 2490.88908,
        "temperature": 10.0,
    }
    form = await Form(hass, entry).change()
    assert form.values["free_flow"] == 1000
    assert form.values["temperature"] == 50


async def test_mistakes(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).change()
    await form.send(
        fan_points=["0 2500", "1200"],
        free_flow=1700,
        separator_loss=100,
        filter_flow=1,
        stack_length=2,
        temperature=99,
        suction="sensor.room",
        drive="fan.stepless",
        drive_floor=90,
        drive_ceiling=80,
    )
    assert form.errors == {
        "fan_points": "fan_point_unreadable",
        "max_suction": "half_of_pair",
        "separator_flow": "half_of_pair",
        "filter_flow": "bad_filter_flow",
        "filter_loss": "half_of_pair",
        "temperature": "bad_temperature",
        "discharge": "stack_without_outside",
        "suction": "not_pressure",
        "drive": "no_speed",
        "drive_floor": "floor_over_ceiling",
    }
    assert form.said["fan_point_unreadable"].endswith(" 1200.")
    await form.send(
        fan_points=["0 2500", "1200 2600"],
        free_flow=None,
        separator_loss=None,
        filter_flow=None,
        discharge="outside",
        temperature=None,
        suction=None,
        drive=None,
        drive_floor=None,
        drive_ceiling=None,
        speed_control=True,
    )
    assert form.errors == {
        "fan_points": "fan_curve_odd",
        "stack_diameter": "stack_diameter_missing",
        "drive": "drive_missing",
        "base": "fan_missing",
    }
    await form.send(fan_points=None, stack_length=None, discharge="return")
    assert form.errors == {"drive": "drive_missing", "base": "fan_missing"}
    await form.send(speed_control=False)
    assert form.saved
    assert _air(entry) == {}


async def test_a_number_can_be_the_drive_but_of_one_system_only(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    await form.send(drive="number.hertz")
    assert _air(entry) == {
        "drive": "number.hertz",
        "drive_floor": 40.0,
        "drive_ceiling": 100.0,
    }
    Hub(hass).add("switch.spare", "Spare relay")
    other = system(hass, "West wing", "switch.spare")
    form = await Form(hass, other).change()
    await form.send(drive="number.hertz")
    assert form.codes == {"used_elsewhere"}
