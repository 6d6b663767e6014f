"""What pickers offer, and what a sensor can report."""

from collections.abc import Iterator
from typing import Any

from homeassistant.const import EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest

from custom_components.gatewright.forms.entity_picker import (
    COLLECTOR_POWER,
    COLLECTOR_SWITCH,
    CONNECTED,
    GATE_ACTUATOR,
    GATE_POSITION,
    LINKED_DEVICE,
    MACHINE_SENSOR,
    EntityPicker,
    offer,
)
from custom_components.gatewright.forms.entity_usage import EntityUsage
from custom_components.gatewright.forms.sensor_description import (
    SensorReading,
    Signal,
    UnusableSensor,
    describe,
    unit_of,
)

from .flow_helpers import Hub, machine, sensed, system, without_engine


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def hub(hass: HomeAssistant) -> Hub:
    """Return a Home Assistant with something of everything."""
    hub = Hub(hass)
    hub.plug("Planer plug")
    hub.add(
        "switch.lock",
        "Child lock",
        device="Planer plug",
        category=EntityCategory.CONFIG,
    )
    hub.add(
        "binary_sensor.restart",
        "Restart needed",
        device="Planer plug",
        category=EntityCategory.DIAGNOSTIC,
    )
    hub.add(
        "sensor.diagnostic",
        "Jointer current",
        "0",
        unit="A",
        device="Jointer clamp",
        category=EntityCategory.DIAGNOSTIC,
    )
    hub.add("switch.dumb_plug", "Dumb plug", device="Dumb plug")
    hub.add("switch.own", "Own", device="Own", platform="gatewright")
    hub.add("sensor.no_class", "Lathe", "unknown", unit="W")
    hub.add("sensor.gone", "Saw power", "unavailable", unit="kW", device_class="power")
    hub.add("sensor.mode", "Mode", "idle", device_class="enum", options=["idle", "run"])
    hub.add("sensor.version", "Version", "v1.2")
    hub.add("sensor.dawn", "Dawn", "2026-05-01", device_class="timestamp")
    hub.add("input_number.helper", "Helper", "0", unit="W")
    hub.add("number.limit", "Limit", "20", unit="°C")
    hub.add("binary_sensor.plain", "Aux contact")
    hub.add("binary_sensor.running", "Saw", device_class="running")
    hub.add("binary_sensor.door", "Door", device_class="door")
    hub.add("binary_sensor.smoke", "Smoke", device_class="smoke")
    hub.add("binary_sensor.link", "Link", device_class="connectivity")
    hub.add("vacuum.robot", "Robot", "docked")
    hub.add("input_select.mode", "Mode", "off", options=["off", "work"])
    hub.add("select.mode", "Mode", "off", options=["off", "work"])
    hub.add("input_boolean.toggle", "Toggle")
    hub.add("fan.full", "Fan", supported_features=48)
    hub.add("fan.weak", "Weak fan", supported_features=16)
    hub.add("light.lamp", "Lamp")
    hub.add("cover.gate", "Gate", "open", supported_features=11)
    hub.add("cover.tilt", "Blind", "open", supported_features=16)
    hub.add("valve.gate", "Valve", "open", supported_features=3)
    return hub


@pytest.mark.parametrize(
    ("pick", "offered"),
    [
        (
            COLLECTOR_SWITCH,
            [
                "fan.full",
                "input_boolean.toggle",
                "switch.dumb_plug",
                "switch.planer_plug",
            ],
        ),
        (
            COLLECTOR_POWER,
            [
                "input_number.helper",
                "sensor.gone",
                "sensor.no_class",
                "sensor.planer_plug_power",
            ],
        ),
        (
            MACHINE_SENSOR,
            [
                "binary_sensor.plain",
                "binary_sensor.running",
                "input_boolean.toggle",
                "input_number.helper",
                "input_select.mode",
                "sensor.diagnostic",
                "sensor.gone",
                "sensor.mode",
                "sensor.no_class",
                "sensor.planer_plug_power",
                "switch.dumb_plug",
                "vacuum.robot",
            ],
        ),
        (
            GATE_ACTUATOR,
            [
                "cover.gate",
                "input_boolean.toggle",
                "switch.dumb_plug",
                "switch.planer_plug",
                "valve.gate",
            ],
        ),
        (GATE_POSITION, ["binary_sensor.door", "binary_sensor.plain"]),
        (
            CONNECTED,
            [
                "binary_sensor.door",
                "binary_sensor.link",
                "binary_sensor.plain",
                "input_boolean.toggle",
                "switch.dumb_plug",
                "switch.planer_plug",
            ],
        ),
        (
            LINKED_DEVICE,
            [
                "fan.full",
                "input_boolean.toggle",
                "light.lamp",
                "switch.dumb_plug",
                "switch.planer_plug",
            ],
        ),
    ],
)
async def test_what_is_offered(
    hass: HomeAssistant, hub: Hub, pick: EntityPicker, offered: list[str]
) -> None:
    assert offer(hass, pick, EntityUsage(hass)) == offered
    # An earlier choice is never hidden, whatever became of it.
    assert "sensor.lost" in offer(hass, pick, EntityUsage(hass), ["sensor.lost"])


async def test_a_metering_plugs_relay_is_no_gate(hass: HomeAssistant, hub: Hub) -> None:
    registry = er.async_get(hass)
    power = registry.async_get("sensor.planer_plug_power")
    assert power
    entry = system(hass, parts={"m1": machine("Planer", **sensed(power.id))})
    claims = EntityUsage(hass, entry, "new")
    assert "switch.planer_plug" not in offer(hass, GATE_ACTUATOR, claims)
    # A strip of several outlets doesn't show which one is measured.
    hub.add("switch.second", "Second outlet", device="Planer plug")
    assert "switch.planer_plug" in offer(hass, GATE_ACTUATOR, claims)


async def test_the_meter_of_a_strip_may_be_a_machines(
    hass: HomeAssistant, hub: Hub
) -> None:
    entry = system(hass, switch="switch.planer_plug")
    assert "sensor.planer_plug_power" not in offer(
        hass, MACHINE_SENSOR, EntityUsage(hass, entry, "new")
    )
    hub.add("switch.second", "Second outlet", device="Planer plug")
    assert "sensor.planer_plug_power" in offer(
        hass, MACHINE_SENSOR, EntityUsage(hass, entry, "new")
    )


@pytest.mark.parametrize(
    ("entity_id", "reported"),
    [
        ("sensor.planer_plug_power", SensorReading("W")),
        ("sensor.gone", SensorReading("W")),
        ("sensor.diagnostic", SensorReading("A")),
        ("input_number.helper", SensorReading("W")),
        (
            "sensor.planer_plug_energy",
            UnusableSensor("wrong_unit", "Planer plug energy (kWh)"),
        ),
        ("number.limit", UnusableSensor("wrong_unit", "Limit (°C)")),
        ("sensor.dawn", UnusableSensor("no_unit", "Dawn")),
        ("sensor.nowhere", UnusableSensor("entity_missing", "sensor.nowhere")),
        ("cover.gate", UnusableSensor("not_usable", "Gate")),
        ("binary_sensor.plain", Signal(("on",), ("on", "off"))),
        ("input_select.mode", Signal((), ("off", "work"))),
        ("sensor.mode", Signal((), ("idle", "run"))),
        ("sensor.version", Signal((), ("v1.2",))),
        (
            "vacuum.robot",
            Signal(
                ("cleaning",),
                ("cleaning", "docked", "idle", "paused", "returning", "error"),
            ),
        ),
    ],
)
async def test_what_sensors_tell(
    hass: HomeAssistant, hub: Hub, entity_id: str, reported: Any
) -> None:
    assert describe(hass, entity_id) == reported


async def test_units_of_sensors_that_do_not_show_them(
    hass: HomeAssistant, hub: Hub
) -> None:
    hass.states.async_set("sensor.planer_plug_power", "unavailable")
    assert unit_of(hass, "sensor.planer_plug_power") == "W"
    hass.states.async_remove("sensor.planer_plug_power")
    assert unit_of(hass, "sensor.planer_plug_power") == "W"
    assert unit_of(hass, "sensor.nowhere") is None
