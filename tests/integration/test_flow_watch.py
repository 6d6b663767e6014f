"""The collector's safety inputs: detectors, bin, compressed air and filter."""

from collections.abc import Iterator
from typing import Any

from homeassistant.const import EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.forms.entity_picker import GATE_ACTUATOR, offer
from custom_components.gatewright.forms.entity_usage import EntityUsage

from .flow_helpers import Form, Hub, gate, machine, system, without_engine
from .flow_shops import stored

WATCH = {
    "emergency",
    "bin_full",
    "bin_answer",
    "air_supply",
    "air_supply_low",
    "filter_pressure",
    "filter_limit",
}


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def hub(hass: HomeAssistant) -> Hub:
    """Return a Home Assistant with detectors, switches and sensors of all kinds."""
    hub = Hub(hass)
    hub.add("switch.collector", "Collector relay", device="Collector relay")
    hub.add("binary_sensor.smoke", "Smoke", device="Smoke", device_class="smoke")
    hub.add("binary_sensor.duct_heat", "Duct heat", device_class="heat")
    hub.add("binary_sensor.spark", "Spark detector")
    hub.add("binary_sensor.door", "Shop door", device_class="door")
    hub.add("binary_sensor.motion", "Motion", device_class="motion")
    hub.add("binary_sensor.bin", "Bin level", device_class="occupancy")
    hub.add("binary_sensor.low_air", "Low air", device_class="problem")
    hub.add(
        "binary_sensor.fault",
        "Sensor fault",
        device="Smoke",
        category=EntityCategory.DIAGNOSTIC,
    )
    hub.add("input_boolean.drill", "Fire drill")
    hub.add("sensor.line", "Line pressure", "6.2", unit="bar", device="Line")
    hub.add("sensor.filter", "Filter pressure", "410", unit="Pa", device="Filter")
    hub.add(
        "sensor.weather",
        "Weather",
        "1013",
        unit="hPa",
        device_class="atmospheric_pressure",
    )
    hub.add("sensor.room", "Room", "21", unit="°C")
    hub.add("sensor.bare", "Bare", "3")
    hub.add("input_number.trial", "Trial pressure", "90", unit="psi")
    hub.add("binary_sensor.own", "Own", device="Own", platform="gatewright")
    hub.add("sensor.own", "Own", "1", unit="Pa", device="Own", platform="gatewright")
    return hub


@pytest.fixture
def entry(hass: HomeAssistant, hub: Hub) -> MockConfigEntry:
    """Return a system without safety inputs."""
    return system(hass, switch=stored(hass, "switch.collector"), later="kept")


def _watch(entry: MockConfigEntry) -> dict[str, Any]:
    return {key: value for key, value in entry.data.items() if key in WATCH}


async def test_what_is_offered(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).change()
    assert form.offered("emergency") == [
        "binary_sensor.duct_heat",
        "binary_sensor.smoke",
        "binary_sensor.spark",
        "input_boolean.drill",
    ]
    assert form.offered("bin_full") == [
        "binary_sensor.bin",
        "binary_sensor.low_air",
        "binary_sensor.spark",
        "input_boolean.drill",
    ]
    assert form.offered("air_supply") == [
        "binary_sensor.low_air",
        "binary_sensor.spark",
        "input_boolean.drill",
        "input_number.trial",
        "sensor.filter",
        "sensor.line",
    ]
    assert form.offered("filter_pressure") == [
        "input_number.trial",
        "sensor.filter",
        "sensor.line",
    ]


async def test_everything_watched(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).change()
    await form.send(
        emergency=[
            "binary_sensor.smoke",
            "binary_sensor.spark",
            "binary_sensor.smoke",
        ],
        bin_full="binary_sensor.bin",
        bin_answer="finish",
        air_supply="sensor.line",
        air_supply_low=4.5,
        filter_pressure="sensor.filter",
        filter_limit=800,
    )
    assert form.saved
    assert _watch(entry) == {
        "emergency": [stored(hass, "binary_sensor.smoke"), "binary_sensor.spark"],
        "bin_full": "binary_sensor.bin",
        "bin_answer": "finish",
        "air_supply": stored(hass, "sensor.line"),
        "air_supply_low": 450_000.0,
        "filter_pressure": stored(hass, "sensor.filter"),
        "filter_limit": 800.0,
    }
    assert entry.data["later"] == "kept"

    form = await Form(hass, entry).change()
    assert {key: form.values[key] for key in WATCH} == {
        "emergency": ["binary_sensor.smoke", "binary_sensor.spark"],
        "bin_full": "binary_sensor.bin",
        "bin_answer": "finish",
        "air_supply": "sensor.line",
        "air_supply_low": 4.5,
        "filter_pressure": "sensor.filter",
        "filter_limit": 800.0,
    }
    before = dict(entry.data)
    await form.send()
    assert entry.data == before
    # Removed again, nothing is left over: neither answer nor limits.
    form = await Form(hass, entry).change()
    await form.send(emergency=[], bin_full=None, air_supply=None, filter_pressure=None)
    assert form.saved
    assert _watch(entry) == {}


async def test_usual_answer_and_limits(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    assert form.values["bin_answer"] == "warn"
    assert form.unit("air_supply_low") == "bar"
    assert form.unit("filter_limit") == "Pa"
    assert form.help("air_supply_low").endswith("Leave empty for 4 bar.")
    assert form.help("filter_limit").endswith("Leave empty for 1000 Pa.")
    await form.send(
        bin_full="binary_sensor.bin",
        air_supply="sensor.line",
        filter_pressure="sensor.filter",
    )
    data = _watch(entry)
    assert data["bin_answer"] == "warn"
    assert data["air_supply_low"] == 400_000.0
    assert data["filter_limit"] == 1000.0


async def test_us_units(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    hass.config.units = US_CUSTOMARY_SYSTEM
    form = await Form(hass, entry).change()
    assert form.unit("air_supply_low") == "psi"
    assert form.unit("filter_limit") == "inH₂O"
    assert form.help("air_supply_low").endswith("Leave empty for 58 psi.")
    assert form.help("filter_limit").endswith("Leave empty for 4.01 inH₂O.")
    await form.send(
        air_supply="sensor.line",
        air_supply_low=70,
        filter_pressure="sensor.filter",
        filter_limit=3,
    )
    # 1 psi is 6894.757 Pa, 1 in of water is 249.089 Pa.
    assert entry.data["air_supply_low"] == pytest.approx(482_633, rel=1e-6)
    assert entry.data["filter_limit"] == pytest.approx(747.27, rel=1e-4)
    form = await Form(hass, entry).change()
    assert form.values["air_supply_low"] == 70.0
    assert form.values["filter_limit"] == 3.0
    await form.send(air_supply_low=None, filter_limit=2)
    assert entry.data["air_supply_low"] == 400_000.0
    # The default isn't round in psi; left as shown, it stays what it is.
    form = await Form(hass, entry).change()
    assert form.values["air_supply_low"] == 58.02
    await form.send(run_on=5)
    assert entry.data["air_supply_low"] == 400_000.0
    form = await Form(hass, entry).change()
    await form.send(air_supply_low=500, filter_limit=0)
    assert form.codes == {"bad_air_supply_low", "bad_filter_limit"}
    assert form.said["bad_air_supply_low"] == ("Enter 5–250 psi.")
    assert form.said["bad_filter_limit"].endswith("Enter 0.05–40 inH₂O.")


async def test_a_signal_of_low_air_needs_no_limit(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    await form.send(air_supply="binary_sensor.low_air", air_supply_low=4)
    assert form.codes == {"air_limit_without_pressure"}
    await form.send(air_supply_low=None)
    assert _watch(entry) == {"air_supply": "binary_sensor.low_air"}
    form = await Form(hass, entry).change()
    await form.send(air_supply="input_number.trial", air_supply_low=5)
    assert entry.data["air_supply_low"] == 500_000.0
    # The leftover limit goes with its sensor.
    form = await Form(hass, entry).change()
    await form.send(air_supply="input_boolean.drill")
    assert _watch(entry) == {"air_supply": "input_boolean.drill"}


_LINE = {"air_supply": "sensor.line"}


@pytest.mark.parametrize(
    ("typed", "code", "mended"),
    [
        ({"emergency": ["sensor.line"]}, "not_usable", {"emergency": []}),
        ({"emergency": ["binary_sensor.own"]}, "own_entity", {"emergency": []}),
        ({"bin_full": "binary_sensor.lost"}, "entity_missing", {"bin_full": None}),
        ({"bin_full": "binary_sensor.own"}, "own_entity", {"bin_full": None}),
        (
            {"bin_answer": "refuse"},
            "answer_without_bin",
            {"bin_full": "binary_sensor.bin"},
        ),
        ({"air_supply": "sensor.room"}, "not_pressure", _LINE),
        ({"air_supply": "sensor.bare"}, "no_pressure_unit", _LINE),
        ({"air_supply": "switch.collector"}, "not_usable", _LINE),
        ({"air_supply": "sensor.own"}, "own_entity", _LINE),
        ({"air_supply": "0123456789abcdef0123456789abcdef"}, "entity_missing", _LINE),
        ({**_LINE, "air_supply_low": 45}, "bad_air_supply_low", {"air_supply_low": 4}),
        ({"filter_pressure": "sensor.room"}, "not_pressure", {"filter_pressure": None}),
        (
            {"filter_pressure": "binary_sensor.low_air"},
            "not_usable",
            {"filter_pressure": None},
        ),
        (
            {"filter_limit": 900},
            "filter_limit_without_pressure",
            {"filter_pressure": "sensor.filter"},
        ),
        (
            {**_LINE, "filter_pressure": "sensor.line"},
            "picked_twice",
            {"filter_pressure": "sensor.filter"},
        ),
        (
            {"emergency": ["binary_sensor.spark"], "bin_full": "binary_sensor.spark"},
            "picked_twice",
            {"bin_full": None},
        ),
        ({"bin_full": "binary_sensor.hose"}, "already_used", {"bin_full": None}),
    ],
)
async def test_mistakes_and_recovery(
    hass: HomeAssistant,
    hub: Hub,
    typed: dict[str, Any],
    code: str,
    mended: dict[str, Any],
) -> None:
    hub.add("binary_sensor.hose", "Hose contact")
    entry = system(
        hass,
        switch=stored(hass, "switch.collector"),
        parts={
            "g1": gate("Hose gate", "cover.hose"),
            "m1": machine("Sander", "g1", attached="binary_sensor.hose"),
        },
    )
    before = dict(entry.data)
    form = await Form(hass, entry).change()
    await form.send(**typed)
    assert form.codes == {code}
    for field, value in typed.items():
        if field in form.fields:
            assert form.values[field] == value
    # Only a valid page is stored.
    refused = typed.keys() & form.fields.keys()
    assert all(entry.data.get(field) == before.get(field) for field in refused)
    await form.send(**mended)
    assert form.saved


async def test_errors_name_what_is_wrong(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    await form.send(air_supply="sensor.room", filter_pressure="sensor.bare")
    assert form.codes == {"not_pressure", "no_pressure_unit"}
    assert "Room (°C)" in form.said["not_pressure"]
    assert "Bare" in form.said["no_pressure_unit"]


async def test_two_systems_may_watch_the_same(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    shared = {
        "emergency": ["binary_sensor.smoke"],
        "bin_full": "binary_sensor.bin",
        "air_supply": "sensor.line",
    }
    form = await Form(hass, entry).change()
    await form.send(**shared)
    hass.states.async_set("fan.west", "off", {"supported_features": 48})
    other = system(hass, "West wing", "fan.west")
    form = await Form(hass, other).change()
    assert "binary_sensor.smoke" in form.offered("emergency")
    assert "sensor.line" in form.offered("air_supply")
    await form.send(**shared)
    assert form.saved
    assert _watch(other) == _watch(entry)


async def test_what_is_watched_is_not_offered_to_machines(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    await form.send(bin_full="input_boolean.drill")
    form = await Form(hass, entry).part("machine")
    assert "input_boolean.drill" not in form.offered("sensor")
    await form.send(name="Bench", companions=["input_boolean.drill"])
    assert form.codes == {"already_used"}
    assert form.said["already_used"] == (
        "Already used in this system: Fire drill (Dust collector)."
    )


async def test_the_relay_beside_a_bin_switch_may_be_a_gate(
    hass: HomeAssistant, hub: Hub
) -> None:
    """One small controller may move a gate and report a full bin."""
    hub.add("switch.node", "Sweep gate relay", device="Node")
    hub.add("binary_sensor.node", "Node input", device="Node")
    entry = system(hass, bin_full=stored(hass, "binary_sensor.node"))
    claims = EntityUsage(hass, entry, "new")
    assert "switch.node" in offer(hass, GATE_ACTUATOR, claims)


async def test_unavailable_and_removed_entities_on_reopening(
    hass: HomeAssistant, hub: Hub
) -> None:
    hub.add("sensor.gone", "Gone", "unavailable")
    smoke = stored(hass, "binary_sensor.smoke")
    entry = system(
        hass,
        switch=stored(hass, "switch.collector"),
        emergency=[smoke, "binary_sensor.late"],
        bin_full="binary_sensor.late_bin",
        bin_answer="refuse",
        air_supply="sensor.gone",
        air_supply_low=450_000.0,
        filter_pressure=stored(hass, "sensor.filter"),
        filter_limit=700.0,
    )
    before = dict(entry.data)
    form = await Form(hass, entry).change()
    assert form.values["emergency"] == ["binary_sensor.smoke", "binary_sensor.late"]
    assert "binary_sensor.late" in form.offered("emergency")
    assert form.values["bin_full"] == "binary_sensor.late_bin"
    assert "binary_sensor.late_bin" in form.offered("bin_full")
    assert form.values["air_supply"] == "sensor.gone"
    assert "sensor.gone" in form.offered("air_supply")
    await form.send(run_on=3)
    assert form.saved
    assert entry.data == before

    er.async_get(hass).async_remove("binary_sensor.smoke")
    er.async_get(hass).async_remove("sensor.filter")
    form = await Form(hass, entry).change()
    assert form.values["emergency"] == ["binary_sensor.late"]
    assert "filter_pressure" not in form.values
    assert form.values["filter_limit"] == 700.0
    await form.send(filter_pressure="sensor.line", emergency=["binary_sensor.late"])
    assert form.saved
    assert entry.data["emergency"] == ["binary_sensor.late"]
    assert entry.data["filter_limit"] == 700.0


async def test_a_renamed_detector_shows_by_its_new_id(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    await form.send(emergency=["binary_sensor.smoke"])
    er.async_get(hass).async_update_entity(
        "binary_sensor.smoke", new_entity_id="binary_sensor.ceiling"
    )
    hass.states.async_set("binary_sensor.ceiling", "off")
    form = await Form(hass, entry).change()
    assert form.values["emergency"] == ["binary_sensor.ceiling"]
