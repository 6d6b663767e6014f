"""The sizing page in every language: every text is used, and no English is left."""

from copy import deepcopy
import re

from homeassistant.core import HomeAssistant
import pytest

from custom_components.gatewright.core.airflow.sizing import ItemKind, RemedyKind
from custom_components.gatewright.features.airflow.actions import SERVICE_SIZE_DUCTS
from custom_components.gatewright.features.airflow.data import Data
from custom_components.gatewright.features.airflow.sizing_page import sizing_page
from custom_components.gatewright.features.airflow.sizing_texts import (
    NOTES,
    SizingTexts,
    sizing_text,
)
from custom_components.gatewright.features.airflow.units import CUSTOMARY, METRIC

from .air_shop import FAN, ducted_parts
from .test_air_report_texts import WRITING, Asked, Read
from .test_languages import LANGUAGES, read
from .workshop import Workshop, system_entry

EVERY = ["en", *LANGUAGES]
WHEN = "2026-11-24 09:00"
NAME = re.compile(r"Ж\d*")
CODES = {
    "item": [kind.value for kind in ItemKind],
    "change": [kind.value for kind in RemedyKind],
    "note": list(NOTES),
}


def texts(language: str) -> dict[str, str]:
    """Return the page's texts in a language, by their keys."""
    return {
        f"component.gatewright.{path}": text
        for path, text in read(language).items()
        if path.startswith("selector.sizing_")
        or path.removeprefix("selector.writing.options.") in WRITING
    }


@pytest.fixture
async def sized(hass: HomeAssistant, workshop: Workshop) -> Data:
    """Return a sized shop without words in its names."""
    parts = ducted_parts()
    for number, part in enumerate(parts):
        part["title"] = f"Ж{number}"
    await workshop.start(system_entry(parts, title="Ж", **FAN))
    found: Data = await hass.services.async_call(
        "gatewright",
        SERVICE_SIZE_DUCTS,
        {"config_entry_id": "system"},
        blocking=True,
        return_response=True,
    )  # type: ignore[assignment]
    return found


def variants(sized: Data) -> list[Data]:
    """Return shops that together have every possible finding."""
    short = deepcopy(sized)
    short |= {"verdict": "too_little", "not_placed": ["Ж"], "fan": False}
    for number, one in enumerate(short["sets"]):
        one |= {
            "verdict": "too_little",
            "rule": "flow" if number == 2 else "velocity",
            "bleed": "Ж" if number else "",
            "element": short["segments"][0]["name"] if number == 1 else "Ж99",
            "stalled": True,
        }
    for point in short["duty"]:
        point["governs"] = True
    short["changes"] = [
        {
            "change": kind.value,
            "elements": ["Ж"],
            "widths": {"Ж": 0.125} if kind is RemedyKind.LARGER_PORT else {},
            "flow": 0.4,
            "pressure": 2500.0,
            "ratio": 0.9,
        }
        for kind in RemedyKind
    ]
    short["fans"] = [
        {"name": "Ж", "ratio": 0.9, "verdict": verdict, "worst": "Ж", "stalled": []}
        for verdict in ("enough", "marginal", "too_little")
    ]
    short["materials"] = [
        {
            "item": kind.value,
            "diameter": 0.16,
            "other": 0.125,
            "angle": 45.0,
            "radius": 1.5,
            "count": 3,
            "length": 7.5 if kind in (ItemKind.PIPE, ItemKind.HOSE) else 0.0,
            "piece": 3.0,
        }
        for kind in ItemKind
    ]
    listed = deepcopy(sized)
    listed |= {"verdict": "marginal", "listed": True, "fan": True}
    listed["segments"][0]["name"] = "main 1"
    well = deepcopy(sized)
    well |= {"verdict": "enough", "changes": []}
    for one in well["sets"]:
        one["verdict"] = "enough"
    return [short, listed, well]


def all_texts(sized: Data, words: SizingTexts) -> list[str]:
    """Return all texts, as pages and as lines."""
    shops = variants(sized)
    pages = [Read(sizing_page(shop, METRIC, WHEN, words)).text for shop in shops]
    return [*pages, *(sizing_text(shop, CUSTOMARY, words) for shop in shops)]


@pytest.mark.parametrize("language", EVERY)
def test_every_code_has_its_text_and_every_text_a_code(language: str) -> None:
    """The page's lines aren't codes: each is requested by name, see below."""
    named = {
        key.removeprefix("component.gatewright.selector.")
        for key in texts(language)
        if ".writing." not in key and ".sizing_line." not in key
    }
    assert named == {
        f"sizing_{kind}.options.{code}"
        for kind, codes in CODES.items()
        for code in codes
    }


async def test_every_text_is_used(sized: Data) -> None:
    known = Asked(texts("en"))
    all_texts(sized, SizingTexts(known))
    assert known.asked == known.keys()


async def test_nothing_is_said_that_is_no_text(sized: Data) -> None:
    """With every text in brackets, only names, units and figures are outside."""
    marked = {key: f"⟦<u>&{text}⟧" for key, text in texts("en").items()}
    for text in all_texts(sized, SizingTexts(marked)):
        left = text
        while (less := re.sub(r"⟦[^⟦⟧]*⟧", "", left)) != left:
            left = less
        for units in (METRIC, CUSTOMARY):
            for unit in (units.width, units.length, units.flow, units.pressure):
                left = re.sub(rf"(?<=\d) {re.escape(unit.sign)}(?!\w)", "", left)
        assert re.findall(r"[^\W\d_]+", NAME.sub("", left)) == []


@pytest.mark.parametrize("language", LANGUAGES)
async def test_nothing_is_left_in_english(sized: Data, language: str) -> None:
    english, other = texts("en"), texts(language)
    same = {key for key, text in english.items() if other[key] == text}
    # Names of machines as they are, and a place that holds nothing but figures.
    assert {key.rpartition(".")[2] for key in same} <= {"sheet", "pipe_line", "pieces"}
    for page in all_texts(sized, SizingTexts(other)):
        assert "static pressure" not in page
        assert "{" not in page


async def test_a_page_escapes_names(sized: Data) -> None:
    shop = deepcopy(sized)
    shop["system"] = "<b>Ж</b>"
    shop["sets"][0]["name"] = "<i>Ж</i>"
    html = sizing_page(shop, METRIC, WHEN, SizingTexts(texts("en")))
    assert "<b>Ж" not in html
    assert "<i>Ж" not in html
