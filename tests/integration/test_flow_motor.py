"""The rating of a collector's motor, and the limits that it sets."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.core.control.motor_rating import LARGEST_KILOWATTS

from .flow_helpers import TEXTS, Form, Hub, system, without_engine

SECTION = TEXTS["options"]["step"]["motor"]


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def entry(hass: HomeAssistant) -> MockConfigEntry:
    """Return a system whose motor has no limits yet."""
    Hub(hass).add("switch.collector", "Collector relay")
    return system(hass)


async def _change(
    hass: HomeAssistant, entry: MockConfigEntry, **typed: Any
) -> dict[str, Any]:
    """Change a collector; return what is stored about its motor."""
    if typed.get("motor_poles"):
        typed = {"motor_phases": "three", **typed}
    form = await Form(hass, entry).change()
    await form.send(**typed)
    assert form.saved
    return {
        key: value
        for key, value in entry.data.items()
        if key in ("motor_rating", "motor_poles", "rest_time", "starts_per_hour")
    }


# The figures of Table 2-3 of NEMA MG 10-2001, as in the tests of the table itself.
async def test_a_rating_fills_empty_limits(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    assert await _change(hass, entry, motor_rating=2.2, motor_poles="2") == {
        "motor_rating": 2200.0,
        "motor_poles": 2,
        "rest_time": 80.0,
        "starts_per_hour": 9.9,
    }
    form = await Form(hass, entry).change()
    assert form.unit("motor_rating") == "kW"
    assert form.values["motor_rating"] == 2.2
    assert form.values["motor_poles"] == "2"
    assert form.values["rest_time"] == 80.0
    assert form.values["starts_per_hour"] == 9.9


async def test_usual_limits_follow_the_rating_and_typed_ones_stay(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await _change(hass, entry, motor_rating=2.2, motor_poles="2")
    data = await _change(hass, entry, motor_poles="4")
    assert (data["rest_time"], data["starts_per_hour"]) == (40.0, 19.8)
    data = await _change(hass, entry, starts_per_hour=6, motor_rating=4)
    assert (data["rest_time"], data["starts_per_hour"]) == (44.0, 6.0)
    data = await _change(hass, entry, motor_rating=7.5, rest_time=60)
    assert (data["rest_time"], data["starts_per_hour"]) == (60.0, 6.0)
    # Emptied limits are filled again, even with the same rating.
    data = await _change(hass, entry, rest_time=None, starts_per_hour=None)
    assert (data["rest_time"], data["starts_per_hour"]) == (46.0, 12.5)
    # A rest that nobody wants is one that somebody typed.
    data = await _change(hass, entry, rest_time=0)
    data = await _change(hass, entry, motor_poles="6")
    assert (data["rest_time"], data["starts_per_hour"]) == (0.0, 14.2)
    # Without the rating its limits are gone.
    data = await _change(hass, entry, motor_rating=None, motor_poles=None)
    assert data == {"rest_time": 0.0}
    # The owner's own figures need no rating, and survive it.
    await _change(hass, entry, rest_time=90, starts_per_hour=4)
    await _change(hass, entry, motor_rating=4, motor_poles="4")
    data = await _change(hass, entry, motor_rating=None, motor_poles=None)
    assert data == {"rest_time": 90.0, "starts_per_hour": 4.0}


async def test_horsepower_where_home_assistant_uses_us_units(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    hass.config.units = US_CUSTOMARY_SYSTEM
    form = await Form(hass, entry).change()
    assert form.unit("motor_rating") == "hp"
    data = await _change(hass, entry, motor_rating=7.5, motor_poles="2")
    assert data["motor_rating"] == pytest.approx(7.5 * 745.7)
    assert (data["rest_time"], data["starts_per_hour"]) == (88.0, 7.0)
    form = await Form(hass, entry).change()
    assert form.values["motor_rating"] == 7.5
    data = await _change(hass, entry, motor_rating=50)
    assert (data["rest_time"], data["starts_per_hour"]) == (145.0, 3.4)


async def test_what_is_rounded_for_the_form_is_not_stored_so(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await _change(hass, entry, motor_rating=5.5, motor_poles="4")
    hass.config.units = US_CUSTOMARY_SYSTEM
    form = await Form(hass, entry).change()
    assert form.values["motor_rating"] == 7.376
    assert (await _change(hass, entry, rest_time=50))["motor_rating"] == 5500.0


@pytest.mark.parametrize(
    ("typed", "errors", "said"),
    [
        (
            {"motor_rating": 3},
            "motor_poles_missing",
            "A rating needs the poles.",
        ),
        (
            {"motor_poles": "4"},
            "motor_rating_missing",
            "Poles need a rating.",
        ),
        (
            {"motor_rating": 3, "motor_poles": "4"},
            "motor_phases_missing",
            "A rating needs the motor type.",
        ),
        (
            {"motor_rating": 3, "motor_phases": "single", "motor_poles": "4"},
            "motor_single_phase",
            "The table doesn't cover single-phase motors. Clear rating and poles, and "
            "enter the maker's limits.",
        ),
        (
            {"wheel_weight": 5},
            "half_of_wheel",
            "Enter the impeller's diameter and weight, or neither.",
        ),
        (
            {"motor_rating": 2200, "motor_phases": "three", "motor_poles": "2"},
            "bad_motor_rating",
            "Enter 0.1–37 kW.",
        ),
        (
            {"motor_rating": 0, "motor_phases": "three", "motor_poles": "2"},
            "bad_motor_rating",
            "Enter 0.1–37 kW.",
        ),
        (
            {"motor_rating": float("nan"), "motor_phases": "three", "motor_poles": "2"},
            "bad_motor_rating",
            "Enter 0.1–37 kW.",
        ),
    ],
)
async def test_mistakes_and_recovery(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    typed: dict[str, Any],
    errors: str,
    said: str,
) -> None:
    before = dict(entry.data)
    form = await Form(hass, entry).change()
    await form.send(**typed)
    assert form.codes == {errors}
    assert form.said[errors] == said
    for field, value in typed.items():
        assert form.values[field] == pytest.approx(value, nan_ok=True)
    # The limits wait for a rating that can be used.
    assert form.values["rest_time"] == 0.0
    assert "starts_per_hour" not in form.values
    assert entry.data == before
    await form.send(
        motor_rating=0.55, motor_phases="three", motor_poles="2", wheel_weight=None
    )
    assert form.saved
    # A motor below 1 hp takes the row of 1 hp.
    assert (entry.data["rest_time"], entry.data["starts_per_hour"]) == (75.0, 15.0)


@pytest.mark.parametrize("poles", ["2", "4", "6"])
async def test_every_rating_that_the_form_takes_is_in_the_table(
    hass: HomeAssistant, entry: MockConfigEntry, poles: str
) -> None:
    for customary in (False, True):
        if customary:
            hass.config.units = US_CUSTOMARY_SYSTEM
        form = await Form(hass, entry).change()
        config = form.fields["motor_rating"].config
        for rating in (config["min"], config["max"]):
            data = await _change(hass, entry, motor_rating=rating, motor_poles=poles)
            assert 3.4 <= data["starts_per_hour"] <= 34
    assert data["motor_rating"] == pytest.approx(LARGEST_KILOWATTS * 1000)


def test_the_source_and_its_bounds_are_reported() -> None:
    reported = SECTION["data_description"]["motor_rating"]
    assert "NEMA MG 10-2001, Table 2-3" in reported
    assert "three-phase from 1 hp" in reported
    reported = SECTION["data_description"]["motor_phases"]
    assert "Single-phase motors aren't in the table" in reported
    reported = SECTION["data_description"]["wheel_diameter"]
    assert "Leave empty to ignore its inertia" in reported


async def test_a_heavy_impeller_allows_fewer_starts(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """14 lb of 12 in on 3 hp with 2 poles: B over WK2 is 3.5 / 1.75, not column A's 9.9."""
    light = await _change(hass, entry, motor_rating=2.2, motor_poles="2")
    assert light["starts_per_hour"] == 9.9
    heavy = await _change(hass, entry, wheel_diameter=304.8, wheel_weight=6.350)
    assert (heavy["rest_time"], heavy["starts_per_hour"]) == (80.0, 2.0)
    form = await Form(hass, entry).change()
    assert (form.unit("wheel_diameter"), form.unit("wheel_weight")) == ("mm", "kg")
    assert entry.data["wheel_weight"] == 6.35
    # One of a kind that could not be started once an hour: that is for its owner.
    huge = await _change(hass, entry, wheel_diameter=900, wheel_weight=80)
    assert huge["starts_per_hour"] == 1.0


async def test_a_single_phase_motor_takes_its_makers_figures(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    data = await _change(
        hass, entry, motor_phases="single", rest_time=120, starts_per_hour=4
    )
    assert data == {"rest_time": 120.0, "starts_per_hour": 4.0}
    assert entry.data["motor_phases"] == "single"
    form = await Form(hass, entry).change()
    assert form.values["motor_phases"] == "single"


async def test_a_rating_from_before_the_choice_is_a_three_phase_one(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """As stored by version 0.1.0."""
    hass.config_entries.async_update_entry(
        entry,
        data={
            **entry.data,
            "motor_rating": 2200.0,
            "motor_poles": 2,
            "rest_time": 80.0,
            "starts_per_hour": 9.9,
        },
    )
    form = await Form(hass, entry).change()
    assert form.values["motor_phases"] == "three"
    await form.send()
    assert form.saved
    assert entry.data["starts_per_hour"] == 9.9


def test_the_speeds_that_tell_the_poles() -> None:
    """A motor turns a little slower than its field, which makes 120 f / p turns a minute."""
    for poles, text in TEXTS["selector"]["motor_poles"]["options"].items():
        at_50, at_60 = (120 * hertz // int(poles) for hertz in (50, 60))
        assert text == f"{poles} (just below {at_50} or {at_60} rpm)"
