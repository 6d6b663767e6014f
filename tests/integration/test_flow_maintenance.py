"""The maintenance part of the collector's form: bin, filter, services, room."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.core.maintenance.config import CleaningKind
from custom_components.gatewright.core.stored.system import StoredSystem
from custom_components.gatewright.core.stored.table import unreadable_in
from custom_components.gatewright.forms.flow.maintenance import MAINTENANCE

from .flow_helpers import Form, Hub, machine, system, without_engine
from .flow_shops import stored

FIELDS = {field.key for group in MAINTENANCE for field in group.fields}


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def hub(hass: HomeAssistant) -> Hub:
    """Return a Home Assistant with devices for bin, filter and room."""
    hub = Hub(hass)
    hub.add("switch.collector", "Collector relay", device="Collector relay")
    hub.add("sensor.collector_power", "Collector power", "0", unit="W")
    hub.add("binary_sensor.bin", "Bin full", device_class="occupancy")
    hub.add("sensor.depth", "Bin depth", "550", unit="mm", device_class="distance")
    hub.add("sensor.level", "Bin level", "10", unit="%")
    hub.add("sensor.filter", "Filter pressure", "410", unit="Pa", device="Filter")
    hub.add("switch.shaker", "Shaker", device="Shaker")
    hub.add("switch.lamp", "Lamp", device="Lamp")
    hub.add(
        "fan.cleaner", "Air cleaner", "off", device="Cleaner", supported_features=48
    )
    hub.add("sensor.dust", "Dust", "12", unit="µg/m³", device_class="pm25")
    hub.add("sensor.room", "Room", "21", unit="°C")
    return hub


@pytest.fixture
def entry(hass: HomeAssistant, hub: Hub) -> MockConfigEntry:
    """Return a system without maintenance."""
    return system(
        hass,
        parts={"saw": machine("Saw", companions=["switch.lamp"])},
        switch=stored(hass, "switch.collector"),
        later="kept",
    )


def looked_after(entry: MockConfigEntry) -> dict[str, Any]:
    return {key: value for key, value in entry.data.items() if key in FIELDS}


async def test_nothing_asked_nothing_stored(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    await form.send()
    assert form.saved
    assert looked_after(entry) == {}
    plan = StoredSystem.from_data(entry.data).maintenance()
    assert (plan.bin, plan.filter, plan.room) == (None, None, None)
    assert plan.services == ()


async def test_everything(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).change()
    assert "sensor.depth" in form.offered("bin_level")
    assert "sensor.level" in form.offered("bin_level")
    assert "sensor.room" not in form.offered("bin_level")
    assert form.offered("particles") == ["sensor.dust"]
    assert "switch.lamp" not in form.offered("cleaning")
    await form.send(
        power="sensor.collector_power",
        filter_pressure="sensor.filter",
        bin_volume=180,
        bin_level="sensor.depth",
        bin_empty_reading=600,
        bin_full_reading=80,
        bin_warn=75,
        bin_usual=90,
        filter_hours=25,
        filter_life=1200,
        filter_worn=450,
        cleaning="switch.shaker",
        cleaning_kind="pulse",
        cleaning_wait=8,
        cleaning_time=0.5,
        cleaning_times=6,
        cleaning_pause=2,
        cleaning_hours=0.5,
        cleaning_above=800,
        cleaning_running=True,
        services=[
            "Belt 200",
            "Bearings: 1000 h",
            "Guards 90 days",
            "Relay 5000 starts",
        ],
        energy_price=0.31,
        room_cleaner="fan.cleaner",
        room_volume=70,
        room_flow=900,
        room_changes=4,
        particles="sensor.dust",
        particles_clean=35,
    )
    assert form.saved
    assert entry.data["later"] == "kept"
    plan = StoredSystem.from_data(entry.data).maintenance()
    assert unreadable_in(StoredSystem, entry.data) == []
    assert plan.bin is not None
    assert plan.bin.volume == pytest.approx(0.18)
    assert (plan.bin.empty_reading, plan.bin.full_reading) == (600, 80)
    assert (plan.bin.warn_share, plan.bin.usual_share) == (0.75, 0.9)
    assert plan.filter is not None
    assert plan.filter.clean_after == 25 * 3600
    assert plan.filter.replace_after == 1200 * 3600
    assert (plan.filter.clean_at, plan.filter.replace_at) == (1000, 450)
    cleaning = plan.filter.cleaning
    assert cleaning is not None
    assert cleaning.kind is CleaningKind.PULSE
    assert (cleaning.wait, cleaning.duration, cleaning.pause) == (8, 0.5, 2)
    assert (cleaning.times, cleaning.every, cleaning.above) == (6, 1800, 800)
    assert cleaning.while_running
    assert [(s.service_id, s.after, s.starts, s.days) for s in plan.services] == [
        ("belt", 200 * 3600, None, None),
        ("bearings", 1000 * 3600, None, None),
        ("guards", None, None, 90),
        ("relay", None, 5000, None),
    ]
    assert plan.room is not None
    assert (plan.room.volume, plan.room.changes) == (70, 4)
    assert plan.room.flow == pytest.approx(0.25)
    assert plan.room.clean_below == pytest.approx(0.035)

    # Opened again and saved unchanged, it stays as it is.
    before = dict(entry.data)
    form = await Form(hass, entry).change()
    assert form.values["services"] == [
        "Belt 200 h",
        "Bearings 1000 h",
        "Guards 90 days",
        "Relay 5000 starts",
    ]
    assert form.values["particles_clean"] == 35
    assert form.values["room_flow"] == 900
    await form.send()
    assert entry.data == before
    # A part's dependents go with it.
    form = await Form(hass, entry).change()
    await form.send(
        power=None,
        filter_pressure=None,
        bin_volume=None,
        bin_level=None,
        cleaning=None,
        room_cleaner=None,
        particles=None,
        services=None,
    )
    assert form.saved
    assert looked_after(entry) == {"filter_hours": 25.0, "filter_life": 1200.0}


@pytest.mark.parametrize(
    ("language", "typed", "shown"),
    [
        (
            "de",
            ["Riemen 200 Stunden", "Feuerlöscher 365 Tage", "Relais 5000 Starts"],
            ["Riemen 200 h", "Feuerlöscher 365 Tage", "Relais 5000 Starts"],
        ),
        (
            "fr-CA",
            ["Courroie 200 heures", "Extincteur 365 jours", "Relais 5000 démarrages"],
            ["Courroie 200 h", "Extincteur 365 jours", "Relais 5000 démarrages"],
        ),
        # A language that is none of ours, with words of others.
        (
            "nl",
            ["Riem 200 std.", "Blusser 365 Tage", "Relais 5000 starts"],
            ["Riem 200 h", "Blusser 365 days", "Relais 5000 starts"],
        ),
    ],
)
async def test_services_are_typed_and_shown_in_the_language(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    language: str,
    typed: list[str],
    shown: list[str],
) -> None:
    hass.config.language = language
    form = await Form(hass, entry).change()
    await form.send(services=typed)
    assert form.saved
    services = StoredSystem.from_data(entry.data).maintenance().services
    assert [(s.after, s.starts, s.days) for s in services] == [
        (200 * 3600, None, None),
        (None, None, 365),
        (None, 5000, None),
    ]
    assert (await Form(hass, entry).change()).values["services"] == shown


async def test_us_units(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    hass.config.units = US_CUSTOMARY_SYSTEM
    form = await Form(hass, entry).change()
    assert form.unit("bin_volume") == "gal"
    assert form.unit("room_volume") == "ft³"
    assert form.help("room_volume") == "Leave empty for 2120 ft³."
    await form.send(bin_volume=55, room_cleaner="fan.cleaner", room_volume=5000)
    assert entry.data["bin_volume"] == pytest.approx(0.2082, rel=1e-3)
    assert entry.data["room_volume"] == pytest.approx(141.58, rel=1e-3)
    form = await Form(hass, entry).change()
    assert form.values["bin_volume"] == 55


@pytest.mark.parametrize(
    ("typed", "section", "code"),
    [
        ({"bin_level": "sensor.depth"}, "bin", "level_readings_missing"),
        (
            {
                "bin_level": "sensor.depth",
                "bin_empty_reading": 5,
                "bin_full_reading": 5,
            },
            "bin",
            "level_readings_same",
        ),
        ({"bin_empty_reading": 600}, "bin", "level_missing"),
        ({"bin_warn": 70}, "bin", "bin_missing"),
        ({"bin_volume": 0}, "bin", "bad_bin_volume"),
        ({"bin_volume": 100, "bin_warn": 5}, "bin", "bad_bin_warn"),
        ({"filter_hours": 0}, "filter", "bad_filter_hours"),
        ({"filter_worn": 400}, "filter", "worn_without_pressure"),
        ({"cleaning_time": 10}, "filter_cleaning", "cleaning_missing"),
        (
            {"cleaning": "switch.shaker", "cleaning_above": 700},
            "filter_cleaning",
            "above_without_pressure",
        ),
        ({"cleaning": "switch.lamp"}, "filter_cleaning", "already_used"),
        ({"cleaning": "switch.collector"}, "filter_cleaning", "picked_twice"),
        ({"energy_price": 0.3}, "service", "price_without_power"),
        ({"services": ["Belt"]}, "service", "service_unreadable"),
        ({"services": ["Belt 0 h"]}, "service", "service_out_of_range"),
        ({"services": ["Guards 1.5 days"]}, "service", "service_out_of_range"),
        ({"services": ["Belt 20 h", "belt 30 h"]}, "service", "service_twice"),
        ({"room_changes": 3}, "room", "room_cleaner_missing"),
        ({"particles_clean": 30}, "room", "particles_missing"),
        ({"particles": "sensor.room"}, "room", "not_particles"),
        ({"room_cleaner": "switch.lamp"}, "room", "already_used"),
    ],
)
async def test_mistakes(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    typed: dict[str, Any],
    section: str,
    code: str,
) -> None:
    before = dict(entry.data)
    form = await Form(hass, entry).change()
    await form.send(**typed)
    assert form.codes == {code}
    assert "{" not in form.said[code]
    assert entry.data == before


async def test_a_renamed_service_begins_anew_and_a_changed_one_goes_on(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    await form.send(services=["V-belt, drive 200 h"])
    (first,) = entry.data["services"]
    form = await Form(hass, entry).change()
    await form.send(services=["v-belt, drive 300 h", " ", "Filter bags 365 d"])
    assert [item["id"] for item in entry.data["services"]] == [
        first["id"],
        "filter_bags",
    ]


async def test_a_service_has_a_name_that_can_be_read(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    await form.send(services=["Bel\u202et, drive 200 h"])
    assert form.errors
    assert "services" not in entry.data
