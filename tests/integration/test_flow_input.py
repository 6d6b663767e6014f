"""Impossible input in forms, and what happens with it."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers.selector import NumberSelector
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from .flow_helpers import Form, Hub, gate, machine, sensed, system, without_engine

INFINITE = float("inf")
NO_NUMBER = float("nan")


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def entry(hass: HomeAssistant) -> MockConfigEntry:
    """Return a system with a gate and a machine."""
    hub = Hub(hass)
    hub.damper("Planer gate actuator")
    hub.plug("Planer plug")
    return system(
        hass,
        parts={
            "g1": gate("Planer gate", "cover.planer_gate_actuator"),
            "m1": machine("Planer", "g1", **sensed("sensor.planer_plug_power")),
        },
    )


def numbers(form: Form) -> list[str]:
    """Return the number fields of a form."""
    return [
        name for name, field in form.fields.items() if isinstance(field, NumberSelector)
    ]


@pytest.mark.parametrize(
    ("kind", "part_id"),
    [(None, None), ("gate", "g1"), ("machine", "m1"), ("duct", None)],
)
@pytest.mark.parametrize("bad", [INFINITE, -INFINITE, NO_NUMBER, 1e300])
async def test_every_number_of_every_form_is_finite_and_in_range(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    kind: str | None,
    part_id: str | None,
    bad: float,
) -> None:
    """JSON's 1e400 arrives as infinite: each field alone, then all at once."""
    form = Form(hass, entry)
    await (form.change() if kind is None else form.part(kind, part_id))
    fields = numbers(form)
    assert fields
    needed = {"name": "Far end", "diameter": 100, "length": 1} if kind == "duct" else {}
    for name in fields:
        await form.send(**{**needed, name: bad})
        # What it depends on may be missing as well.
        assert form.errors, name
        form = Form(hass, entry)
        await (form.change() if kind is None else form.part(kind, part_id))
    await form.send(**{**needed, **dict.fromkeys(fields, bad)})
    assert form.errors


@pytest.mark.parametrize(
    "points",
    [
        ["0 2500", "inf 100"],
        ["0 2500", "1e400 100"],
        ["0 nan", "2400 500"],
        ["0 2500", "2400 1e400"],
        ["0 -inf", "2400 500"],
        ["0 2500", "2400 900000"],
        ["0 2500", "1e9 500"],
    ],
)
async def test_points_of_a_fan_are_finite_and_in_range(
    hass: HomeAssistant, entry: MockConfigEntry, points: list[str]
) -> None:
    before = dict(entry.data)
    form = await Form(hass, entry).change()
    await form.send(fan_points=points)
    assert form.codes == {"fan_point_range"}
    assert "m³/h" in form.said["fan_point_range"]
    assert dict(entry.data) == before


@pytest.mark.parametrize(
    ("name", "error"),
    [
        ("n" * 101, "name_too_long"),
        ("Planer\u202ereward", "name_marks"),
        ("Pla\u200bner two", "name_marks"),
        ("Planer\x07bell", "name_marks"),
        ("\u2067Planer three", "name_marks"),
    ],
)
@pytest.mark.parametrize("kind", [None, "gate", "machine", "duct"])
async def test_names_are_short_and_without_marks_nobody_sees(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    kind: str | None,
    name: str,
    error: str,
) -> None:
    form = Form(hass, entry)
    part_id = {"gate": "g1", "machine": "m1"}.get(kind or "")
    await (form.change() if kind is None else form.part(kind, part_id))
    needed = {"diameter": 100, "length": 1} if kind == "duct" else {}
    await form.send(name=name, **needed)
    assert form.errors == {"name": error}
    await form.send(name="A" * 100, **needed)
    assert not form.result.get("errors")


async def test_what_is_chosen_or_typed_twice_counts_once(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    await form.send(
        hand_gates=["g1", "g1"],
        fan_points=["0 2500", "2400 500", "0 2500"],
    )
    assert form.saved
    assert entry.data["hand_gates"] == ["g1"]
    assert len(entry.data["fan_points"]) == 2
    part: Any = await Form(hass, entry).part("machine", "m1")
    await part.send(gates=["g1", "g1"])
    assert entry.subentries["m1"].data["gates"] == ["g1"]


async def test_a_stored_value_that_cannot_be_read_can_be_mended_in_the_form(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    bad = {"run_on": None, "fan_points": [[0.0, None]], "services": 5, "coast": "long"}
    hass.config_entries.async_update_entry(entry, data={**entry.data, **bad})
    form = await Form(hass, entry).change()
    assert form.values["run_on"] == 3
    await form.send(run_on=7, fan_points=["0 2500", "2400 500"], services=None)
    assert form.saved
    assert entry.data["run_on"] == 7
    assert entry.data["coast"] == 10
    assert len(entry.data["fan_points"]) == 2
    assert "services" not in entry.data
