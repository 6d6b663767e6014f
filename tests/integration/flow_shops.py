"""The shops of the forms' tests."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from pytest_homeassistant_custom_component.common import MockConfigEntry

from .flow_helpers import Form, Hub, gate, machine, sensed, system


def stored(hass: HomeAssistant, entity_id: str) -> str:
    """Return the stored reference of a registered entity."""
    entity = er.async_get(hass).async_get(entity_id)
    assert entity
    return entity.id


def gate_id(form: Form, name: str) -> str:
    """Return the id of a gate that a form offers."""
    options = form.fields["gates"].config["options"]
    return str(next(option["value"] for option in options if option["label"] == name))


def new_shop(hass: HomeAssistant) -> Hub:
    """Return a workshop with plugs at the machines and motors at the gates."""
    hub = Hub(hass)
    hub.add("switch.collector", "Collector relay", device="Collector relay")
    hub.add(
        "sensor.collector_power",
        "Collector relay power",
        "0",
        unit="W",
        device="Collector relay",
    )
    for name in ("Planer plug", "Miter saw plug"):
        hub.plug(name)
    for name in ("Planer gate actuator", "Miter saw gate actuator"):
        hub.damper(name)
    hub.add("switch.sweep", "Floor sweep gate solenoid", device="Sweep solenoid")
    hub.add("binary_sensor.sweep_open", "Sweep open", device="Sweep solenoid")
    hub.add("binary_sensor.sweep_shut", "Sweep shut", "on", device="Sweep solenoid")
    hub.add("binary_sensor.lathe", "Lathe gate contact", device_class="opening")
    return hub


def machine_hub(hass: HomeAssistant) -> Hub:
    """Return a Home Assistant with readings, signals and switches."""
    hub = Hub(hass)
    hub.add("switch.collector", "Collector relay", device="Collector relay")
    hub.plug("Planer plug")
    hub.plug("Jointer plug")
    hub.add("sensor.lathe", "Lathe clamp current", "0", unit="mA")
    hub.add("sensor.heater", "Heater power", "0", unit="kW", device_class="power")
    hub.add("binary_sensor.saw", "Band saw running", device_class="running")
    hub.add("vacuum.robot", "Shop robot", "docked")
    hub.add(
        "sensor.router",
        "Router state",
        "idle",
        device_class="enum",
        options=["idle", "cut"],
    )
    hub.add("binary_sensor.docked", "Sander hose contact", "on", device_class="plug")
    hub.add("switch.cleaner", "Air cleaner")
    hub.add("light.bench", "Bench light")
    hub.add("fan.weak", "Weak fan", supported_features=1)
    return hub


def machine_system(hass: HomeAssistant) -> MockConfigEntry:
    """Return a system with three gates, a planer and a miter saw."""
    return system(
        hass,
        switch=stored(hass, "switch.collector"),
        parts={
            "g1": gate("Planer gate", "cover.planer"),
            "g2": gate("Saw gate", "cover.saw"),
            "g3": gate("Rear gate", "cover.rear"),
            "m1": machine(
                "Planer",
                "g1",
                **sensed(stored(hass, "sensor.planer_plug_power")),
                kind="planer",
            ),
            "m2": machine(
                "Miter saw",
                "g2",
                "gone",
                **sensed("sensor.heater"),
                kind="miter_saw",
                hold=15.0,
                clearing=[
                    {"gates": ["g3"], "duration": 5.0},
                    {"gates": ["g1", "gone"], "duration": 8.0},
                    {"gates": ["g2"], "duration": 3.0},
                ],
                companions=["switch.cleaner"],
                attached="binary_sensor.docked",
                request_limit=90.0,
                later="kept",
            ),
        },
    )


async def describe_collector(hass: HomeAssistant, **typed: Any) -> Form:
    """Open the forms for a new system, and answer the first page."""
    form = await Form(hass).start()
    return await form.send(
        **{"name": "Dust collector", "switch": "switch.collector"} | typed
    )
