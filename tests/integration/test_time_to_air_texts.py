"""A machine's time to air for its owner: entity, form, action, simulated week."""

from collections.abc import Iterator
import re
from unittest.mock import patch

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.core.statistics.time_to_air import (
    Chain,
    JudgedTimeToAir,
    TimeToAir,
    TimeToAirLimit,
    judge,
)
from custom_components.gatewright.entity import GatewrightEntity
from custom_components.gatewright.features.statistics.time_to_air_text import (
    TIME_TO_AIR,
    time_to_air_text,
)

from .test_card_texts import LANGUAGES, texts
from .test_languages import read
from .test_record_words import Noted, keys
from .workshop import SAW_GATE, SAW_POWER, Workshop, gate, machine, system_entry

SENSOR = "sensor.table_saw_time_to_air"
START = f"selector.{TIME_TO_AIR}.options."


def timing(
    limit: TimeToAirLimit, *, usual: float | None = 4.26, reporting: float | None = 2.0
) -> TimeToAir:
    """Return a time to air with a limit."""
    chain = Chain(
        reporting=reporting,
        confirmation=0.5,
        stroke=3.2,
        gate_id="gate",
        spin_up=3.0,
        start_delay=1.5,
        off_time=8.0,
    )
    return TimeToAir(
        latest=usual,
        usual=usual,
        runs=3,
        chain=chain,
        judged=JudgedTimeToAir(limit, 1.25),
    )


def every() -> Iterator[TimeToAir]:
    """Yield every possible text, in every variant."""
    for limit in TimeToAirLimit:
        for usual in (None, 4.26):
            yield timing(limit, usual=usual)
            if limit is not TimeToAirLimit.REPORTING:
                yield timing(limit, usual=usual, reporting=None)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_is_said_and_complete(language: str) -> None:
    words = Noted(language)
    for one in every():
        text = time_to_air_text(words, one, {"gate": "Saw {gate}"})
        assert "{" not in text.replace("Saw {gate}", "")
        assert text.endswith(".")
    assert time_to_air_text(words, None, {}).endswith(".")
    asked = {key for kind, key in words.asked if kind == TIME_TO_AIR}
    assert asked == keys(language, TIME_TO_AIR)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_limit_has_its_words_everywhere(language: str) -> None:
    limits = {limit.value for limit in TimeToAirLimit}
    cards = {
        key.removeprefix("slow.") for key in texts(language) if key.startswith("slow.")
    }
    place = "entity.sensor.time_to_air.state_attributes.limited_by.state."
    states = {
        path.removeprefix(place) for path in read(language) if path.startswith(place)
    }
    assert cards == states == limits


def test_what_an_owner_reads() -> None:
    words = Noted("en")
    assert time_to_air_text(
        words, timing(TimeToAirLimit.STROKE), {"gate": "Saw gate"}
    ) == (
        "Time to air is usually 4.3 s from the plug's first reading, 3.2 s at best from "
        "rest. The plug's interval of 2.0 s comes on top. The limit: Saw gate takes 3.2 s "
        "to open. A faster gate saves about 1.2 s, and so does an open idle position."
    )
    chain = Chain(reporting=10.0, stroke=2.0, spin_up=3.0)
    slow = TimeToAir(latest=None, usual=None, runs=0, chain=chain, judged=judge(chain))
    assert time_to_air_text(words, slow, {}) == (
        "Time to air hasn't been measured yet. Expect about 2.7 s from the plug's first "
        "reading, 2.7 s at best. The limit: the plug reports only every 10.0 s. Faster "
        "reports save up to 9.0 s."
    )


async def slow_saw(workshop: Workshop) -> MockConfigEntry:
    """Start a shop whose collector takes 5 s and waits for its gate; the saw runs."""
    entry = system_entry(
        [
            gate("saw_gate", "Saw gate", actuator=SAW_GATE, travel=5.0),
            machine(
                "saw",
                "Table saw",
                gates=["saw_gate"],
                sensor=SAW_POWER,
                companions=[],
                clearing=[],
            ),
        ],
        spin_up=5.0,
        hand_gates=[],
    )
    await workshop.start(entry)
    workshop.watts(SAW_POWER, 1450)
    await workshop.pass_time(6, 0.25)
    return entry


async def test_last_run_is_reported_while_it_goes_on(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    with patch.object(GatewrightEntity, "entity_registry_enabled_default", new=True):
        await slow_saw(workshop)
    # Certain after 1 s; gate and relay of this shop answer at once, and 0.8 of the 5 s.
    assert float(workshop.state(SENSOR)) == pytest.approx(5.0, abs=0.3)
    state = hass.states.get(SENSOR)
    assert state is not None
    assert state.attributes["limited_by"] == "spin_up"
    assert state.attributes["runs"] == 1
    assert state.attributes["median"] == pytest.approx(5.0, abs=0.3)
    assert state.attributes["at_best"] == pytest.approx(5.3, abs=0.05)
    assert state.attributes["unit_of_measurement"] == "s"


async def test_form_says_what_limits_it(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = await slow_saw(workshop)
    form = await entry.start_subentry_reconfigure_flow(hass, "saw")
    assert form["description_placeholders"] is not None
    said = form["description_placeholders"]["time_to_air"]
    assert re.match(r"Time to air is usually (4\.9|5\.\d) s", said)
    assert "The limit: the collector takes 5.0 s to reach full speed." in said


async def test_sensor_is_disabled_at_first(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    registered = er.async_get(hass).async_get(SENSOR)
    assert registered is not None
    assert registered.disabled_by is er.RegistryEntryDisabler.INTEGRATION


async def test_while_only_monitored_what_it_would_have_been_is_reported(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Nothing moves: the saw isn't served, and would have been."""
    entry = system_entry(watch_since=dt_util.utcnow().isoformat())
    with patch.object(GatewrightEntity, "entity_registry_enabled_default", new=True):
        await workshop.start(entry)
    workshop.watts(SAW_POWER, 1450)
    await workshop.pass_time(12, 0.25)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40, 1)
    state = hass.states.get(SENSOR)
    assert state is not None
    assert state.state == "unknown"
    assert state.attributes["runs"] == 0
    # Its gate is taken to need four fifths of 5 s, and is waited for; the spin-up is 0.
    assert state.attributes["simulated"] == pytest.approx(4.3, abs=0.1)
    assert workshop.sent() == []
