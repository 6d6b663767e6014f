"""Changing the collector of a system."""

from collections.abc import Iterator

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest

from .flow_helpers import Form, Hub, gate, machine, sensed, system, without_engine


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def hub(hass: HomeAssistant) -> Hub:
    """Return a Home Assistant with two relays that could switch a collector."""
    hub = Hub(hass)
    hub.add("switch.collector", "Collector relay", device="Collector relay")
    hub.add("switch.spare", "Spare relay", device="Spare relay")
    hub.add("sensor.power", "Collector power", "0", unit="kW", device_class="power")
    hub.damper("Planer gate actuator")
    return hub


def _stored(hass: HomeAssistant, entity_id: str) -> str:
    entity = er.async_get(hass).async_get(entity_id)
    assert entity
    return entity.id


async def test_change_everything(hass: HomeAssistant, hub: Hub) -> None:
    entry = system(
        hass,
        switch=_stored(hass, "switch.collector"),
        parts={"g1": gate("Planer gate", _stored(hass, "cover.planer_gate_actuator"))},
        later="kept",
    )
    form = await Form(hass, entry).change()
    assert form.values == {
        "name": "Dust collector",
        "switch": "switch.collector",
        "hide_wrapped": True,
        "watch_only": False,
        "run_on": 3.0,
        "coast": 10.0,
        "start_delay": 0.0,
        "confirm": 10.0,
        "rest_time": 0.0,
        "hand_gates": [],
        "emergency": [],
        "bin_answer": "warn",
        "discharge": "return",
        "speed_control": False,
        "relief": False,
        "transport_run_on": False,
        "together_alarm": False,
        "phones": [],
        "phone_topics": ["alarms", "bin", "summary"],
        "phone_summary_at": "18:00:00",
        "phone_critical": False,
        "phone_buttons": True,
    }
    await form.send(
        name="Big collector",
        switch="switch.spare",
        power="sensor.power",
        hide_wrapped=False,
        run_on=5,
        coast=20,
        start_delay=1,
        confirm=15,
        rest_time=60,
        starts_per_hour=6,
        hand_gates=["g1"],
    )
    assert form.saved
    assert entry.title == "Big collector"
    assert entry.unique_id == _stored(hass, "switch.spare")
    assert entry.data == {
        "switch": _stored(hass, "switch.spare"),
        "power": "sensor.power",
        "hide_wrapped": False,
        "run_on": 5.0,
        "coast": 20.0,
        "start_delay": 1.0,
        "confirm": 15.0,
        "rest_time": 60.0,
        "starts_per_hour": 6.0,
        "hand_gates": ["g1"],
        "later": "kept",
    }
    # A chosen start stays until another is chosen.
    form = await Form(hass, entry).change()
    assert form.fields["start_when"].config["options"] == ["gate_opening", "gate_open"]
    await form.send(start_when="gate_opening", spin_up=2.5)
    assert form.saved
    assert entry.data["start_when"] == "gate_opening"
    assert entry.data["spin_up"] == 2.5
    form = await Form(hass, entry).change()
    assert form.values["start_when"] == "gate_opening"
    assert "(–)" in form.help("spin_up")
    await form.send(start_when="gate_open", spin_up=None)
    assert entry.data["start_when"] == "gate_open"
    assert "spin_up" not in entry.data
    # Emptied fields return to the defaults.
    form = await Form(hass, entry).change()
    await form.send(power=None, run_on=None, starts_per_hour=None, hand_gates=[])
    assert form.saved
    assert entry.data["run_on"] == 3.0
    assert entry.data["coast"] == 20.0
    assert entry.data["hand_gates"] == []
    assert not entry.data.keys() & {"power", "starts_per_hour"}


async def test_mistakes_are_reported_at_once_and_nothing_is_lost(
    hass: HomeAssistant, hub: Hub
) -> None:
    entry = system(hass, switch=_stored(hass, "switch.collector"))
    system(hass, "West wing", _stored(hass, "switch.spare"))
    form = await Form(hass, entry).change()
    assert form.offered("switch") == ["switch.collector"]
    assert "hand_gates" not in form.fields
    typed = {
        "name": "West wing",
        "switch": "switch.spare",
        "power": "sensor.nowhere",
        "run_on": -1,
        "coast": 5000,
        "start_delay": float("nan"),
        "confirm": 0,
        "spin_up": 61,
        "rest_time": 1e9,
        "starts_per_hour": 0,
        "hide_wrapped": False,
    }
    await form.send(**typed)
    assert form.errors == {
        "name": "name_used",
        "switch": "used_elsewhere",
        "power": "entity_missing",
        "run_on": "bad_run_on",
        "coast": "bad_coast",
        "start_delay": "bad_start_delay",
        "confirm": "bad_confirm",
        "spin_up": "bad_spin_up",
        "rest_time": "bad_rest_time",
        "starts_per_hour": "bad_starts_per_hour",
    }
    assert form.said["bad_run_on"] == "Enter 0–600 s."
    assert form.said["bad_starts_per_hour"] == "Enter 1–120."
    for field, value in typed.items():
        assert form.values[field] == pytest.approx(value, nan_ok=True)
    await form.send(
        name="East wing",
        switch="switch.collector",
        power="sensor.power",
        run_on=4,
        coast=10,
        start_delay=0,
        confirm=10,
        spin_up=3,
        rest_time=0,
        starts_per_hour=None,
    )
    assert form.saved
    assert entry.title == "East wing"
    assert entry.data["run_on"] == 4.0


async def test_unavailable_and_removed_entities_on_reopening(
    hass: HomeAssistant, hub: Hub
) -> None:
    hub.add("fan.old", "Old fan", "unavailable")
    entry = system(hass, switch="fan.old", power="sensor.not_there_yet")
    form = await Form(hass, entry).change()
    assert form.values["switch"] == "fan.old"
    assert form.values["power"] == "sensor.not_there_yet"
    assert "fan.old" in form.offered("switch")
    assert "sensor.not_there_yet" in form.offered("power")
    await form.send(run_on=8)
    assert form.saved
    assert entry.data["switch"] == "fan.old"
    assert entry.data["power"] == "sensor.not_there_yet"

    # A new fan that is not there, or cannot be switched, is another matter.
    hub.add("fan.weak", "Weak fan", "on", supported_features=1)
    form = await Form(hass, entry).change()
    await form.send(switch="fan.gone")
    assert form.errors == {"switch": "entity_missing"}
    await form.send(switch="fan.weak")
    assert form.errors == {"switch": "no_on_off"}
    await form.send(switch="switch.spare")
    assert form.saved

    er.async_get(hass).async_remove("switch.spare")
    form = await Form(hass, entry).change()
    assert "switch" not in form.values
    await form.send(switch="switch.collector")
    assert form.saved
    assert entry.data["switch"] == _stored(hass, "switch.collector")


async def test_a_renamed_entity_shows_by_its_new_id(
    hass: HomeAssistant, hub: Hub
) -> None:
    entry = system(hass, switch=_stored(hass, "switch.collector"))
    er.async_get(hass).async_update_entity(
        "switch.collector", new_entity_id="switch.dust"
    )
    hub.hass.states.async_set("switch.dust", "off")
    form = await Form(hass, entry).change()
    assert form.values["switch"] == "switch.dust"


async def test_own_parts_are_not_offered(hass: HomeAssistant, hub: Hub) -> None:
    hub.add("switch.lamp", "Bench lamp")
    entry = system(
        hass,
        switch=_stored(hass, "switch.collector"),
        parts={
            "g1": gate("Planer gate", "switch.spare"),
            "m1": machine(
                "Planer", "g1", **sensed("sensor.power"), attached="switch.lamp"
            ),
        },
    )
    form = await Form(hass, entry).change()
    assert form.offered("switch") == ["switch.collector"]
    assert form.offered("power") == []
    await form.send(switch="switch.lamp", power="sensor.power")
    assert form.errors == {"switch": "already_used", "power": "already_used"}
    assert form.said["already_used"] == (
        "Already used in this system: Bench lamp (Planer), Collector power (Planer)."
    )
    await form.send(switch="switch.collector", power=None)
    assert form.saved


async def test_a_hand_gate_removed_meanwhile(hass: HomeAssistant, hub: Hub) -> None:
    entry = system(
        hass,
        switch=_stored(hass, "switch.collector"),
        parts={
            "g1": gate("Planer gate", "cover.planer_gate_actuator"),
            "g2": gate("Bench gate", "cover.bench_gate"),
        },
        hand_gates=["g1", "gone"],
    )
    form = await Form(hass, entry).change()
    assert form.values["hand_gates"] == ["g1"]
    hass.config_entries.async_remove_subentry(entry, "g1")
    await form.send()
    assert form.codes == {"unknown_gate"}
    await form.send(hand_gates=["g2"])
    assert form.saved
    assert entry.data["hand_gates"] == ["g2"]


async def test_reconfigure_asks_what_the_collector_is(
    hass: HomeAssistant, hub: Hub
) -> None:
    """A short page; everything else is among the settings, and stays."""
    entry = system(hass, switch=_stored(hass, "switch.collector"), run_on=7.0)
    form = await Form(hass, entry).reconfigure()
    assert form.fields.keys() == {"name", "switch", "power", "hide_wrapped"}
    await form.send(name="", power="sensor.power")
    assert form.errors == {"name": "name_missing"}
    await form.send(name="Big collector")
    assert form.ended == "reconfigure_successful"
    assert entry.title == "Big collector"
    assert (entry.data["power"], entry.data["run_on"]) == ("sensor.power", 7.0)
