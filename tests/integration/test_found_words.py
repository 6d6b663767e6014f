"""The results of calibration are whole sentences, whatever was found."""

from dataclasses import replace
import re

from homeassistant.core import HomeAssistant
import pytest

from custom_components.gatewright.core.calibration.hold_time import (
    Costs,
    HoldLimit,
    NoProposal,
    WaitProposal,
    propose_wait,
)
from custom_components.gatewright.core.calibration.learner import Learned, learn
from custom_components.gatewright.core.units import DAY, HOUR
from custom_components.gatewright.features.calibration.evaluation import (
    Found,
    advice_of,
)
from custom_components.gatewright.features.calibration.history import NoHistory
from custom_components.gatewright.features.calibration.learning_texts import (
    LearningTexts,
    picture,
)
from custom_components.gatewright.texts.figures import quantity, rough_duration

from .recorded import saw_trace


@pytest.fixture
async def words(hass: HomeAssistant) -> LearningTexts:
    """Return the English texts."""
    return await LearningTexts.load(hass)


def found(unit: str = "W") -> Found:
    """Return the result from a saw's history."""
    trace = saw_trace()
    factor = 1.0 if unit == "W" else 1 / 230
    history = [(at, None if v is None else v * factor) for at, v in trace.history]
    learned = learn(history, unit, trace.until)
    return Found(unit=unit, learned=learned, advice=advice_of(learned))


def test_amperes_are_given_in_amperes(words: LearningTexts) -> None:
    reported = words.found(found("A"))
    assert "Running from 0." in reported
    assert not re.search(r"\d W", reported)
    assert "{" not in reported


def test_a_plug_that_reports_on_change_is_described_so(words: LearningTexts) -> None:
    seen = found()
    assert seen.learned is not None
    assert seen.learned.pace is not None
    uneven = replace(seen.learned.pace, shortest=0.5, on_change=True)
    reported = words.found(replace(seen, learned=replace(seen.learned, pace=uneven)))
    assert "reports changes, up to every 0.5 s" in reported


def test_a_refusal_shows_what_there_is(words: LearningTexts) -> None:
    learned = learn([(600.0 * n, 3.0) for n in range(99)], "W", 60_000.0)
    reported = words.found(Found(unit="W", learned=learned))
    assert "never changed" in reported
    assert "█" in reported
    line = words.overview([("Saw", Found(unit="W", learned=learned))])
    assert line.startswith("**Saw:** no suggestion")
    assert words.found(Found(unit="W", nothing=NoHistory.EXCLUDED)) == words.of(
        NoHistory.EXCLUDED
    )
    # Nothing was evaluated: no text.
    assert words.found(Found(unit="W")) == ""
    assert words.overview([("Saw", Found(unit="W"))]) == ""
    assert words.found(Found(unit="W", learned=Learned())) == ""
    assert advice_of(Learned()) == ()


def test_machines_of_which_the_same_is_missing_share_a_line(
    words: LearningTexts,
) -> None:
    def seen(seconds: float) -> Found:
        return Found(unit="W", learned=learn([(0.0, 3.0)], "W", seconds))

    reported = words.overview(
        [
            ("Lathe", seen(30.4)),
            ("Saw", found()),
            ("Planer", Found(unit="W", nothing=NoHistory.EXCLUDED)),
            ("Jointer", seen(40.4)),
        ]
    ).split("\n\n")
    assert [line.partition(":**")[0] for line in reported] == [
        "**Saw",
        "**Lathe, Jointer",
        "**Planer",
    ]
    assert "the defaults apply" in reported[1]
    assert "Only 40 s" in reported[1]
    assert "the default applies" in reported[2]


def test_a_hold_is_reported_with_what_kept_it_from_being_cheaper(
    words: LearningTexts,
) -> None:
    cuts = [(40.0 * n, 40.0 * n + 5.0) for n in range(200)]
    proposal = propose_wait(
        cuts, 24 * HOUR, Costs(starts_per_hour=6.0), present=5.0, least=60.0
    )
    assert isinstance(proposal, WaitProposal)
    reported = words.wait(proposal)
    assert reported.startswith(f"**A wait of {proposal.best.wait:g} s**")
    assert "kWh" not in reported
    limited = words.wait(replace(proposal, limited=HoldLimit.ALLOWANCE))
    assert words.of(HoldLimit.ALLOWANCE) in limited
    assert words.wait(NoProposal.TOO_FEW_PAUSES) == words.of(NoProposal.TOO_FEW_PAUSES)


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.5, "0.5 s"),
        (40.3, "40 s"),
        (90, "90 s"),
        (600, "10 min"),
        (8e3, "2 h"),
        (2e5, "2 d"),
    ],
)
def test_a_time_is_said_as_a_person_does(seconds: float, said: str) -> None:
    assert rough_duration(seconds) == said


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [(1234.5, "W", "1234 W"), (2.46, "W", "2.5 W"), (12.34, "A", "12.3 A")],
)
def test_a_level_is_said_with_three_figures(value: float, unit: str, said: str) -> None:
    assert quantity(value, unit) == said


def test_the_picture_has_the_highest_values_on_top_and_marks_the_runs() -> None:
    learned = found().learned
    assert learned is not None
    lines = picture(learned.picture, "W").splitlines()
    assert "▶" in lines[0]
    assert "·" in lines[-1]
    assert len({line.index("▶") for line in lines if "▶" in line}) == 1
    assert max(len(line) for line in lines) <= 45


@pytest.mark.parametrize(("language", "said"), [("de", "7 d"), ("fr", "7 j")])
async def test_days_are_written_as_the_language_does(
    hass: HomeAssistant, language: str, said: str
) -> None:
    hass.config.language = language
    words = await LearningTexts.load(hass)
    seen = learn([(600.0 * n, 3.0) for n in range(7 * 24 * 6)], "W", 7 * DAY)
    assert words.time(7 * DAY) == said
    # Beside the bars of the picture as well.
    assert f"█ {said:>6}" in words.found(Found(unit="W", learned=seen))
