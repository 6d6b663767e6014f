"""One choice that sets the values for a kind of workshop."""

from collections.abc import Iterator

from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.forms.flow.presets import PRESETS, Workshop

from .flow_helpers import TEXTS, Form, gate, machine, sensed, system, without_engine


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def entry(hass: HomeAssistant) -> MockConfigEntry:
    """Return a system with two machines and a pickup, one of them changed by its owner."""
    return system(
        hass,
        parts={
            "m1": machine("Planer", kind="planer", **sensed("sensor.planer")),
            "m2": machine(
                "Miter saw",
                kind="miter_saw",
                **sensed("sensor.saw", hold=40.0, run_limit=600.0),
            ),
            "m3": machine("Floor sweep", kind="floor_sweep", request_limit=600.0),
        },
    )


async def test_the_likely_preset_is_chosen_at_first(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change("presets")
    assert form.values == {"preset": "single"}
    parts = {"g1": gate("Planer gate", "cover.planer")}
    other = system(hass, "Other", "switch.other", parts=parts)
    form = await Form(hass, other).change("presets")
    assert form.values == {"preset": "small"}


async def _take(hass: HomeAssistant, entry: MockConfigEntry, preset: str) -> None:
    form = await Form(hass, entry).change("presets")
    assert form.fields["preset"].config["options"] == list(Workshop)
    await form.send(preset=preset)
    assert form.saved


@pytest.mark.parametrize(
    ("preset", "delay", "life", "holds", "run_limits", "request_limit"),
    [
        ("single", 5.0, None, [15.0, 40.0], [None, 600.0], 600.0),
        ("small", 5.0, 1000.0, [0.0, 40.0], [None, 600.0], 600.0),
        ("school", 10.0, 1000.0, [0.0, 40.0], [1800.0, 600.0], 300.0),
    ],
)
async def test_what_a_preset_sets(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    preset: str,
    delay: float,
    life: float | None,
    holds: list[float],
    run_limits: list[float | None],
    request_limit: float,
) -> None:
    await _take(hass, entry, preset)
    assert entry.data["run_on"] == delay
    assert entry.data["filter_hours"] == 20.0
    assert entry.data.get("filter_life") == life
    machines = [entry.subentries[part].data for part in ("m1", "m2")]
    assert [data["hold"] for data in machines] == holds
    assert [data.get("run_limit") for data in machines] == run_limits
    sweep = entry.subentries["m3"].data
    assert sweep["request_limit"] == request_limit
    assert "run_limit" not in sweep


async def test_what_the_owner_changed_stays(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).change()
    await form.send(run_on=4, filter_hours=7)
    await _take(hass, entry, "school")
    assert (entry.data["run_on"], entry.data["filter_hours"]) == (4.0, 7.0)
    # All of it can be changed as always.
    form = await Form(hass, entry).change()
    await form.send(filter_life=None)
    assert "filter_life" not in entry.data


def test_the_texts_name_what_is_set() -> None:
    text = TEXTS["options"]["step"]["presets"]["description"]
    lines = [line for line in text.splitlines() if line.startswith("- ")]
    for line, preset in zip(lines, PRESETS.values(), strict=True):
        assert f"shut-off delay {preset.system['run_on']:g} s" in line
    assert f"cuts {PRESETS[Workshop.SINGLE].sensed['hold']:g} s" in lines[0]
    school = PRESETS[Workshop.SCHOOL]
    assert f"after {school.sensed['run_limit'] / 60:g} min" in lines[2]
    assert f"after {school.by_hand['request_limit'] / 60:g} min" in lines[2]
