"""The airflow report in every language: every text is used, and no English is left."""

from collections import defaultdict
from copy import deepcopy
from dataclasses import replace
from html.parser import HTMLParser
import re
from typing import Any, override

from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.gatewright.core.airflow import (
    MATERIALS_CARRIED,
    AirflowFinding,
    ChangeKind,
    PipeSort,
    StepKind,
)
from custom_components.gatewright.features.airflow.assessment import assessment
from custom_components.gatewright.features.airflow.data import Data
from custom_components.gatewright.features.airflow.ducts import AirShop
from custom_components.gatewright.features.airflow.report_page import page
from custom_components.gatewright.features.airflow.report_texts import (
    MARKS,
    NOTES,
    ReportTexts,
)
from custom_components.gatewright.features.airflow.units import METRIC

from .air_shop import FAN, ducted_parts
from .test_languages import LANGUAGES, PLACEHOLDER, read
from .workshop import Workshop, change_part, system_entry

EVERY = ["en", *LANGUAGES]
PAGE = "/api/gatewright/system/airflow"
WHEN = "2026-11-24 09:00"

CODES = {
    "loss": [kind.value for kind in StepKind if kind is not StepKind.FAN],
    "change": [*(kind.value for kind in ChangeKind), "wider_hose", "wider_port"],
    "material": list(MATERIALS_CARRIED),
    "finding": [
        finding.value
        for finding in AirflowFinding
        if finding not in (AirflowFinding.AS_EXPECTED, AirflowFinding.UNDECIDED)
    ],
    "note": list(NOTES),
}
"""The codes with texts, by their list."""

WRITING = {"language", "percent", "decimal"}
"""The texts that the page shares with others."""

NAME = re.compile(r"Ж\d*")
"""The name of everything in this shop: letters of a foreign alphabet."""


def texts(language: str) -> dict[str, str]:
    """Return the report's texts in a language, by their keys."""
    return {
        f"component.gatewright.{path}": text
        for path, text in read(language).items()
        if path.startswith("selector.report_")
        or path.removeprefix("selector.writing.options.") in WRITING
    }


class Asked(dict[str, str]):
    """Texts that record which of them were used."""

    def __init__(self, known: dict[str, str]) -> None:
        """Take the texts."""
        super().__init__(known)
        self.asked: set[str] = set()

    @override
    def get(self, key: str, default: Any = None) -> Any:
        self.asked.add(key)
        return super().get(key, default)


class Read(HTMLParser):
    """A page as a person reads it, and its structure."""

    def __init__(self, html: str) -> None:
        """Read a page."""
        super().__init__()
        self.language: str | None = None
        self.said: list[str] = []
        self.tags: list[str] = []
        self.feed(html)

    @override
    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        reported = dict(attrs)
        self.language = reported.pop("lang", self.language)
        if (label := reported.pop("aria-label", None)) is not None:
            self.said.append(label)
        self.tags.append(f"{tag} {reported}")

    @override
    def handle_endtag(self, tag: str) -> None:
        self.tags.append(f"/{tag}")

    @override
    def handle_data(self, data: str) -> None:
        if self.tags[-1] != "style {}":
            self.said.append(data)

    @property
    def text(self) -> str:
        """Return all visible text."""
        return "\n".join(self.said)


@pytest.fixture
async def shop(hass: HomeAssistant, workshop: Workshop) -> AirShop:
    """Return a shop without words in its names."""
    parts = ducted_parts()
    for number, part in enumerate(parts):
        part["title"] = f"Ж{number}"
    entry = system_entry(parts, title="Ж", **FAN)
    await workshop.start(entry)
    found: AirShop = entry.runtime_data.air.shop
    return found


VERDICTS = ("enough", "marginal", "too_little")


def crowded(shop: AirShop) -> Data:
    """Return an assessment with nearly every possible finding."""
    data = deepcopy(assessment(shop, speed=0.8))
    data["not_placed"] = ["Ж"]
    data["filter_loading"] = 2.4
    data["outside"] = True
    losses = list(CODES["loss"])
    changes = [
        (kind, piece)
        for kind in ChangeKind
        for piece in (PipeSort if kind is ChangeKind.WIDER else [PipeSort.PIPE])
    ]
    for number, machine in enumerate(data["machines"]):
        machine["material"] = CODES["material"][number]
        machine["required"] = number
        machine["enough"] = number == 1
        machine["verdict"] = VERDICTS[number % 3]
        machine["marginal"] = ["Ж"]
        machine["set_verdict"] = VERDICTS[number % 3]
        port = {
            "diameter": 0.1,
            "required": 0.3,
            "possible": 0.2,
            "most": 0.25,
            "larger": 0.15 if number else None,
            "count": 2,
            "hopeless": number == 1,
            "weak_fan": False,
        }
        machine["ports"] = [port, {**port, "weak_fan": True}][: 1 + number // 2]
        machine["limits"] = [
            {"kind": kind, "element": "Ж" if number else "", "share": 0.2}
            for kind in losses[6 * number : 6 * number + 6]
        ]
        machine["what_if"] = [
            {
                "change": kind,
                "piece": piece,
                "element": "Ж" if number else "",
                "value": 0.2,
                "gain": 0.1,
                "lift": 0.1,
                "slows": ["Ж"] * (number == 2),
            }
            for kind, piece in changes[4 * number : 4 * number + 4]
        ]
        machine["relief"] = [
            {"gates": ["Ж"], "main_velocity": 20.0, "restored": number == 2}
        ]
        machine["slow"] = ["Ж"] * number
        machine["stalled"] = number == 1
    for machine, found in zip(data["machines"], ("enough", "too_little"), strict=False):
        machine["main_verdict"] = found
    data["fan"]["surge_below"] = 0.1
    data["calibration"] = {
        "when": WHEN,
        "fan": {"scale": 0.9, "error": 0.05},
        "branches": [{"name": "Ж", "scale": 1.2, "error": 0.1}],
        "error_before": 0.15,
        "error_after": 0.02,
    }
    data["diagnosis"] = {
        "finding": "undecided",
        "suspects": [
            {
                "finding": finding,
                "part": "Ж" if number else "",
                "likelihood": 0.5,
                "lost": 0.1,
            }
            for number, finding in enumerate(CODES["finding"])
        ],
        "checks": [
            {"do": do, "gates": ["Ж"], "part": "Ж", "expected": [1.0, 2.0]}
            for do in ("clean_filter", "open_gates", "read_port")
        ],
    }
    for pair in data["pairs"]:
        pair["main_ok"] = False
        pair["verdict"] = "marginal"
    kinds = ("machine", "pair", "purge", "seen")
    for row, kind in zip(data["combinations"], kinds, strict=False):
        row["kind"] = kind
        row["main_ok"] = kind == "pair"
        row["main_verdict"] = VERDICTS[len(kind) % 3]
    return data


def lonely(shop: AirShop) -> Data:
    """Return an assessment of one machine at full speed, and a duct without one."""
    data = deepcopy(assessment(shop))
    data["pairs"] = []
    data["machines"] = data["machines"][:1]
    data["machines"][0] |= {
        "material": "heavy",
        "required": 2.0,
        "enough": False,
        "verdict": "enough",
        "set_verdict": "enough",
    }
    data["machines"][0]["what_if"] = []
    for row in data["combinations"]:
        row["main_verdict"] = "enough"
    data["ducts"][-1]["slowest"] = None
    return data


def helpless(shop: AirShop) -> Data:
    """Return an assessment of one machine that has not enough, and nothing helps."""
    data = lonely(shop)
    data["machines"][0] |= {"verdict": "too_little", "set_verdict": "too_little"}
    data["machines"][0]["relief"] = []
    return data


def pages(shop: AirShop, words: ReportTexts) -> list[str]:
    """Return pages that together use every text."""
    return [
        page(shop, of(shop), METRIC, WHEN, words) for of in (crowded, lonely, helpless)
    ]


@pytest.mark.parametrize("language", EVERY)
def test_every_code_has_its_text_and_every_text_a_code(language: str) -> None:
    """The page's lines aren't codes: each is requested by name, see below."""
    lists = defaultdict(list)
    for key in texts(language):
        _, _, name, _, code = key.removeprefix("component.").split(".")
        lists[name].append(code)
    assert set(lists.pop("writing")) == WRITING
    assert len(lists.pop("report_line")) > 80
    assert {name: set(codes) for name, codes in lists.items()} == {
        f"report_{kind}": set(codes) for kind, codes in CODES.items()
    }


async def test_every_text_is_used(shop: AirShop) -> None:
    """So the pages below would reveal a text left in English."""
    known = Asked(texts("en"))
    pages(shop, ReportTexts(known))
    assert known.asked == known.keys()


async def test_nothing_is_said_that_is_no_text(shop: AirShop) -> None:
    """With every text in brackets, only names, units and figures are outside.

    The brackets contain what would be a tag: a text is never taken for one.
    """
    marked = {key: f"⟦<u>&{text}⟧" for key, text in texts("en").items()}
    for html in pages(shop, ReportTexts(marked)):
        assert "<u>" not in html
        left = Read(html).text
        assert "⟦<u>&" in left
        while (less := re.sub(r"⟦[^⟦⟧]*⟧", "", left)) != left:
            left = less
        for unit in (METRIC.velocity, METRIC.width, METRIC.length):
            left = re.sub(rf"(?<=\d) {unit.sign}(?!\w)", "", left)
        assert re.findall(r"[^\W\d_]+", NAME.sub("", left)) == []


def pieces(text: str) -> list[str]:
    """Return the pieces between a text's placeholders, if they contain words."""
    found = (piece.strip(" .,:;()°%") for piece in re.split(r"\{\w+\}", text))
    return [piece for piece in found if re.search(r"[^\W\d_]{2}", piece)]


def left_in_english(html: str, language: str) -> list[str]:
    """Return the pieces of English texts on a page in another language.

    Except for words that are the same in that language, such as a unit or "Machine".
    """
    own = texts(language)
    same = "\n".join(own.values())
    said = Read(html).text
    return [
        piece
        for key, text in texts("en").items()
        if not key.endswith(".writing.options.language")
        for piece in pieces(text)
        if piece not in same and re.search(rf"(?<!\w){re.escape(piece)}(?!\w)", said)
    ]


@pytest.mark.parametrize("language", LANGUAGES)
async def test_no_english_is_left(shop: AirShop, language: str) -> None:
    for html in pages(shop, ReportTexts(texts(language))):
        assert left_in_english(html, language) == []


@pytest.mark.parametrize("language", LANGUAGES)
async def test_english_that_is_left_would_be_found(
    shop: AirShop, language: str
) -> None:
    """Each text alone, unless it's the same in that language."""
    own, english = texts(language), texts("en")
    same = "\n".join(own.values())
    asked = [
        key
        for key, text in english.items()
        if any(piece not in same for piece in pieces(text))
        and not key.endswith(".writing.options.language")
    ]
    assert len(asked) > 75
    for key in asked:
        words = ReportTexts(own | {key: english[key]})
        found = [left_in_english(html, language) for html in pages(shop, words)]
        assert any(found), key


@pytest.mark.parametrize("language", LANGUAGES)
async def test_the_page_is_built_alike_in_every_language(
    shop: AirShop, language: str
) -> None:
    english = pages(shop, ReportTexts(texts("en")))
    other = pages(shop, ReportTexts(texts(language)))
    for one, two in zip(english, other, strict=True):
        assert Read(two).tags == Read(one).tags
        # No placeholder of any text is left open.
        assert PLACEHOLDER.findall(Read(two).text) == []


@pytest.mark.parametrize("language", EVERY)
async def test_sources_keep_their_names(shop: AirShop, language: str) -> None:
    html = Read(pages(shop, ReportTexts(texts(language)))[0]).text
    for name in (
        "UFC 3-410-04N",
        "7-4.1",
        "7-4.5",
        "VS-95",
        "ACGIH Industrial Ventilation (2009)",
        "OSHA 3157",
    ):
        assert name in html, name


@pytest.mark.parametrize("language", EVERY)
def test_a_mark_behind_a_figure_is_explained(language: str) -> None:
    words = ReportTexts(texts(language))
    for note in ("memory", "practice"):
        assert words.note(note).startswith(f"{MARKS[note]} ")


@pytest.mark.parametrize("language", [*EVERY, "es"])
async def test_the_page_and_the_table_in_home_assistant(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_client: ClientSessionGenerator,
    language: str,
) -> None:
    """The page is in Home Assistant's language, else English; the table isn't translated."""
    assert await async_setup_component(hass, "http", {})
    entry: MockConfigEntry = system_entry(ducted_parts(), **FAN)
    await workshop.start(entry)
    change_part(hass, entry, "planer", title="Planer <20 in> {name}")
    await workshop.settle()
    client = await hass_client()

    async def fetch(address: str) -> str:
        return await (await client.get(address)).text()

    hass.config.language = "en"
    english = await fetch(PAGE), await fetch(f"{PAGE}.csv")
    hass.config.language = language
    html, table = await fetch(PAGE), await fetch(f"{PAGE}.csv")
    known = "en" if language == "es" else language
    reported = Read(html)
    assert reported.language == known
    assert ReportTexts(texts(known)).line("criteria") in reported.text
    assert "Planer <20 in> {name}" in reported.said
    assert reported.tags == Read(english[0]).tags
    assert (html == english[0]) is (known == "en")
    assert table == english[1]


def drawn(html: str) -> tuple[float, list[tuple[float, float, str]]]:
    """Return the drawing's width, and its texts with their places."""
    width = re.search(r'<svg viewBox="0 0 (\d+) ', html)
    assert width is not None
    written = re.findall(r'<text[^>]* x="(\d+)" y="(\d+)"[^>]*>([^<]+)</text>', html)
    return float(width[1]), [(float(x), float(y), text) for x, y, text in written]


async def test_long_names_have_room_in_the_drawing(shop: AirShop) -> None:
    """German machines have names of 20 letters, and their ducts are named after them."""
    words = ReportTexts(texts("de"))
    short, _ = drawn(page(shop, assessment(shop), METRIC, WHEN, words))
    long = "Abrichthobelmaschine und Langlochbohrmaschine"
    shop = replace(shop, names={key: f"{long} {key}" for key in shop.names})
    width, written = drawn(page(shop, assessment(shop), METRIC, WHEN, words))
    assert width > short
    names = [(x, y, text) for x, y, text in written if long in text]
    assert len(names) == 6
    # The main, what goes straight on, and a pickup at its end are on one row.
    for x, y, text in names:
        end = x + 6.0 * len(text)
        assert end < width, text
        beside = [other for other, at, _ in names if other > x and abs(at - y) < 20]
        assert all(end < other for other in beside), text


async def test_long_names_are_upright_above_the_pairs(shop: AirShop) -> None:
    """Where they would not fit beside each other on a sheet."""

    def grid(name: str) -> str:
        data = deepcopy(assessment(shop))
        named = {m["name"]: f"{name} {n}" for n, m in enumerate(data["machines"])}
        for machine in (
            *data["machines"],
            *(machine for pair in data["pairs"] for machine in pair["machines"]),
        ):
            machine["name"] = named[machine["name"]]
        html = page(shop, data, METRIC, WHEN, ReportTexts(texts("de")))
        found = re.search(r'<table class="(grid[^"]*)">', html)
        assert found is not None
        return found[1]

    assert grid("Abrichthobelmaschine") == "grid"
    assert grid("Abrichthobelmaschinenabsaughaube mit Bürste") == "grid"
    assert grid("Abrichthobelmaschinenabsaughaubenschlauchanschluss") == "grid tall"
