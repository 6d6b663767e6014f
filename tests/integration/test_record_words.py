"""The summary as text: each sentence, and a word for every code."""

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from itertools import product
import re
from typing import Any, override

from homeassistant.core import HomeAssistant
from homeassistant.helpers.translation import async_load_integrations
import pytest

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.maintenance.dust_exposure import LIMITS
from custom_components.gatewright.core.maintenance.maintenance import DueWorkKind
from custom_components.gatewright.core.statistics.not_collecting import (
    NotCollectingReason,
)
from custom_components.gatewright.features.statistics.summary_text import (
    LIMITS as LIMIT_WORDS,
    NEEDS,
    REASONS,
    SENTENCES,
    caution,
    summary_text,
)
from custom_components.gatewright.texts.texts import MONTHS, WEEKDAYS, Texts

from .test_card_texts import LANGUAGES, texts
from .test_languages import read

LISTS = {
    REASONS: set(NotCollectingReason),
    NEEDS: set(DueWorkKind),
    LIMIT_WORDS: {limit.limit_id for limit in LIMITS},
    "month": set(MONTHS),
    "month_short": set(MONTHS),
    "weekday": set(WEEKDAYS),
    "weekday_short": set(WEEKDAYS),
}
"""The lists of words, and the codes that need them."""

OURS = (*LISTS, SENTENCES, "writing")


class Noted(Texts):
    """Texts that record which of them were used."""

    def __init__(self, language: str) -> None:
        """Load a language's file."""
        super().__init__(
            {
                f"component.{DOMAIN}.{path}": text
                for path, text in read(language).items()
            }
        )
        self.asked: set[tuple[str, str]] = set()

    @override
    def __call__(self, kind: str, key: str, **values: str) -> str:
        self.asked.add((kind, key))
        return super().__call__(kind, key, **values)


def keys(language: str, kind: str) -> set[str]:
    """Return the keys of a list of texts."""
    start = f"selector.{kind}.options."
    return {
        path.removeprefix(start) for path in read(language) if path.startswith(start)
    }


@pytest.fixture(scope="module")
def english() -> Texts:
    """Return the English words."""
    return Noted("en")


def spent(run: float, collected_share: float | None, **more: Any) -> dict[str, Any]:
    return {
        "run_time": run,
        "collected_share": collected_share,
        "low_airflow_time": 0.0,
        "not_collecting": {},
        **more,
    }


NOTHING: Mapping[str, Any] = {
    "name": "Yard",
    "first_day": "2026-03-02",
    "last_day": "2026-03-08",
    "shop": spent(0.0, None),
    "before": spent(0.0, None),
    "machines": [],
    "collector": {
        "on_time": 0.0,
        "starts": 0,
        "energy_kwh": 0.0,
        "cost": 0.0,
        "currency": "EUR",
        "measured": False,
    },
    "bin": None,
    "dust": None,
    "alarms": [],
    "needs": [],
}

DAY = {"first_day": "2026-03-04", "last_day": "2026-03-04"}

LACKED = {
    "gate_stuck": 300.0,
    "start_block": 60.0,
    "starting": 59.0,
    "gate_moving": 20.0,
    "min_off_time": 10.0,
    "not_needed": 500.0,
    "unknown": 0.2,
}


def collector(**changed: Any) -> dict[str, Any]:
    """Return a collector's totals."""
    figures = {"on_time": 600.0, "starts": 7, "energy_kwh": 1.25, "measured": True}
    return {"collector": {**NOTHING["collector"], **figures, **changed}}


def saws(number: int, collected_share: float | None = 0.75) -> dict[str, Any]:
    """Return several machines, each of which ran a minute longer than the next."""
    return {
        "machines": [
            {"name": f"Saw {n}", **spent(60.0 * n, None if n == 5 else collected_share)}
            for n in range(number, -1, -1)
        ]
    }


def alarms(*times: int) -> dict[str, Any]:
    """Return alarms that came so many times."""
    return {"alarms": [{"title": f"G{n}", "times": n} for n in times]}


RICH: Mapping[str, Any] = {
    **NOTHING,
    **DAY,
    "shop": spent(3700.0, 0.2999, not_collecting=LACKED, low_airflow_time=120.0),
    "before": spent(60.0, 0.5),
    **saws(6),
    **collector(cost=2.5),
    "bin": {"share": 0.4, "full_on": "2026-04-01", "emptyings": 3},
    **alarms(4, 3, 2, 1),
    "needs": [{"kind": kind.value, "name": "B7"} for kind in DueWorkKind],
    "dust": {
        "day": "2026-03-01",
        "average": 0.25,
        "limits": [
            {"limit_id": "niosh", "limit": 1.0},
            {"limit_id": "eu_hardwood", "limit": 2.5},
        ],
    },
}
"""A day with everything."""


def test_nothing_is_reported_in_one_sentence(english: Texts) -> None:
    assert summary_text(english, NOTHING) == "Yard, March 2 to 8: no machine ran."


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        (
            {"shop": spent(3700.0, 0.9961)},
            "Yard, March 2 to 8: machines ran for 1 h 2 min, 99% of it with dust collection.",
        ),
        (
            {"shop": spent(3600.0, None), "before": spent(60.0, None)},
            "Yard, March 2 to 8: machines ran for 1 h. Before: 1 min.",
        ),
        (
            {"shop": spent(60.0, 1.0), "before": spent(30.0, 0.5)},
            "machines ran for 1 min, 100% of it with dust collection. Before: 30 s, "
            "50% with dust collection.",
        ),
        (
            {"shop": spent(900.0, 0.5, not_collecting=LACKED)},
            "Without dust collection: 5 min (gate stuck), 1 min (starts blocked), 59 s "
            "(collector starting), 30 s for other reasons.",
        ),
        (
            {"shop": spent(900.0, 1.0, low_airflow_time=120.0)},
            "Airflow was below the need for 2 min.",
        ),
        (
            saws(5),
            "Saw 5 5 min; Saw 4 4 min, 75%; Saw 3 3 min, 75%; Saw 2 2 min, 75%; "
            "and 1 more.",
        ),
        (collector(), "The collector ran for 10 min in 7 starts and used 1.2 kWh."),
        (
            collector(starts=1, energy_kwh=6.0, cost=2.4),
            "The collector ran for 10 min in 1 start and used 6.0 kWh (2.40 EUR).",
        ),
        (collector(energy_kwh=0.01), "The collector ran for 10 min in 7 starts."),
        (
            {"bin": {"share": 1.3, "full_on": None, "emptyings": 0}},
            "The bin is about 100% full.",
        ),
        (
            {"bin": {"share": 0.4, "full_on": "2026-04-01", "emptyings": 2}},
            "The bin is about 40% full and will be full around April 1. It was emptied "
            "twice.",
        ),
        (
            {"bin": {"share": None, "full_on": None, "emptyings": 1}},
            "The bin level is unknown. It was emptied once.",
        ),
        (
            {"bin": {"share": 0.4, "full_on": None, "emptyings": 3}},
            "It was emptied 3 times.",
        ),
        (
            {
                "alarms": [
                    {"title": f"Gate {n} does not move", "times": n}
                    for n in range(4, 0, -1)
                ]
            },
            "Alarms: Gate 4 does not move (4 times); Gate 3 does not move (3 times); "
            "Gate 2 does not move (2 times); and 1 more.",
        ),
        (
            {"alarms": [{"title": "Saw doesn't stop", "times": 1}]},
            "Alarms: Saw doesn't stop.",
        ),
        (
            {
                "needs": [
                    {"kind": "bin_full", "name": "Yard"},
                    {"kind": "service_due", "name": "Belt"},
                ]
            },
            "To do: empty the bin, Belt is due.",
        ),
        (
            {"dust": RICH["dust"]},
            "Dust on March 1, the dustiest day: 0.25 mg/m³ averaged over 8 h. NIOSH "
            "recommends at most 1, the EU allows 2.5 for hardwood. A low-cost",
        ),
    ],
)
def test_sentences(english: Texts, changed: dict[str, Any], expected: str) -> None:
    assert expected in summary_text(english, {**NOTHING, **changed})


SAID = {
    "en": (
        "Yard, Wednesday, March 4: machines ran for 1 h 2 min, 29% of it with dust "
        "collection. Before: 1 min, 50% with dust collection. Without dust "
        "collection: 5 min (gate stuck), 1 min (starts blocked), 59 s (collector "
        "starting), 30 s for other reasons. Airflow was below the need for 2 min. Saw "
        "6 6 min, 75%; Saw 5 5 min; Saw 4 4 min, 75%; Saw 3 3 min, 75%; and 2 more. "
        "The collector ran for 10 min in 7 starts and used 1.2 kWh (2.50 EUR). The "
        "bin is about 40% full and will be full around April 1. It was emptied 3 "
        "times. Alarms: G4 (4 times); G3 (3 times); G2 (2 times); and 1 more. To do: "
        "the bin is nearly full, empty the bin, clean the filter, replace the filter, "
        "B7 is due. Dust on March 1, the dustiest day: 0.25 mg/m³ averaged over 8 h. "
        "NIOSH recommends at most 1, the EU allows 2.5 for hardwood."
    ),
    "de": (
        "Yard, Mittwoch, 4. März: Die Maschinen liefen 1 h 2 min, davon 29 % mit "
        "Absaugung. Davor: 1 min, 50 % mit Absaugung. Ohne Absaugung: 5 min (Schieber "
        "klemmt), 1 min (Starts gesperrt), 59 s (Absauger lief an), 30 s aus anderen "
        "Gründen. 2 min lang war der Luftstrom unter dem Bedarf. Saw 6: 6 min, 75 % "
        "mit Absaugung; Saw 5: 5 min; Saw 4: 4 min, 75 % mit Absaugung; Saw 3: 3 min, "
        "75 % mit Absaugung; und 2 weitere. Der Absauger lief 10 min mit 7 Starts und "
        "brauchte 1,2 kWh (2,50 EUR). Der Behälter ist zu etwa 40 % voll und wird "
        "etwa am 1. April voll sein. Er wurde 3-mal geleert. Alarme: G4 (4-mal); G3 "
        "(3-mal); G2 (2-mal); und 1 weiterer. Zu erledigen: der Behälter ist fast "
        "voll, Behälter leeren, Filter reinigen, Filter ersetzen, B7 ist fällig. "
        "Staub am 1. März, dem staubigsten Tag: 0,25 mg/m³ im Mittel über 8 h. NIOSH "
        "empfiehlt höchstens 1, die EU erlaubt bei Hartholz 2,5."
    ),
    "fr": (
        "Yard, mercredi 4 mars : les machines ont tourné 1 h 2 min, dont 29 % avec "
        "aspiration. Avant : 1 min, 50 % avec aspiration. Sans aspiration : 5 min "
        "(vanne bloquée), 1 min (démarrages bloqués), 59 s (démarrage du "
        "dépoussiéreur), 30 s pour d'autres raisons. Débit inférieur au besoin "
        "pendant 2 min. Saw 6 : 6 min, 75 % avec aspiration ; Saw 5 : 5 min ; Saw 4 : "
        "4 min, 75 % avec aspiration ; Saw 3 : 3 min, 75 % avec aspiration ; et 2 "
        "autres. Le dépoussiéreur a tourné 10 min en 7 démarrages et a consommé 1,2 "
        "kWh (2,50 EUR). Le bac est rempli à environ 40 % et sera plein vers le 1er "
        "avril. Il a été vidé 3 fois. Alarmes : G4 (4 fois) ; G3 (3 fois) ; G2 (2 "
        "fois) ; et 1 autre. À faire : le bac est presque plein, vider le bac, "
        "nettoyer le filtre, remplacer le filtre, B7 : entretien à faire. Poussière "
        "le 1er mars, le jour le plus chargé : 0,25 mg/m³ en moyenne sur 8\N{NO-BREAK SPACE}h. Le "
        "NIOSH recommande au plus 1, l'UE autorise 2,5 pour le bois dur."
    ),
}
"""The day with everything, in every language."""


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_whole_day_in_every_language(language: str) -> None:
    words = Noted(language)
    said = re.sub(r" (?=[%:;])", "\N{NO-BREAK SPACE}", SAID[language])
    assert summary_text(words, RICH) == f"{said} {caution(words)}"
    assert caution(words) == texts(language)["record.caution"]


@pytest.mark.parametrize(
    ("language", "day", "week", "rich_week"),
    [
        (
            "en",
            "Yard, Wednesday, March 4: no machine ran.",
            "Yard, March 2 to 8: no machine ran.",
            "Yard, March 2 to 8: machines ran for 1 h 2 min, 29% of it with dust "
            "collection",
        ),
        (
            "de",
            "Yard, Mittwoch, 4. März: Es lief keine Maschine.",
            "Yard, 2. bis 8. März: Es lief keine Maschine.",
            "Yard, 2. bis 8. März: Die Maschinen liefen 1 h 2 min, davon 29\xa0% "
            "mit Absaugung",
        ),
        (
            "fr",
            "Yard, mercredi 4 mars\xa0: aucune machine n'a tourné.",
            "Yard, du 2 au 8 mars\xa0: aucune machine n'a tourné.",
            "Yard, du 2 au 8 mars\xa0: les machines ont tourné 1 h 2 min, dont 29\xa0% "
            "avec aspiration",
        ),
    ],
)
def test_days_and_weeks_in_every_language(
    language: str, day: str, week: str, rich_week: str
) -> None:
    words = Noted(language)
    assert summary_text(words, {**NOTHING, **DAY}) == day
    assert summary_text(words, NOTHING) == week
    reported = summary_text(
        words, {**RICH, "last_day": "2026-03-08", "first_day": "2026-03-02"}
    )
    assert reported.startswith(rich_week)
    # Only the days differ from those of the day.
    assert reported.split(": ", 1)[1] == summary_text(words, RICH).split(": ", 1)[1]


@pytest.mark.parametrize(
    ("language", "first", "last", "expected"),
    [
        ("en", date(2026, 3, 4), date(2026, 3, 4), "Wednesday, March 4"),
        ("en", date(2026, 3, 30), date(2026, 4, 5), "March 30 to April 5"),
        (
            "en",
            date(2026, 12, 28),
            date(2027, 1, 3),
            "December 28, 2026 to January 3, 2027",
        ),
        ("en", date(2026, 3, 4), date(2027, 3, 4), "March 4, 2026 to March 4, 2027"),
        ("de", date(2026, 3, 30), date(2026, 4, 5), "30. März bis 5. April"),
        (
            "de",
            date(2026, 12, 28),
            date(2027, 1, 3),
            "28. Dezember 2026 bis 3. Januar 2027",
        ),
        ("fr", date(2026, 3, 1), date(2026, 3, 1), "dimanche 1er mars"),
        ("fr", date(2026, 3, 1), date(2026, 3, 31), "du 1er au 31 mars"),
        ("fr", date(2026, 3, 30), date(2026, 4, 5), "du 30 mars au 5 avril"),
        (
            "fr",
            date(2026, 12, 28),
            date(2027, 1, 3),
            "du 28 décembre 2026 au 3 janvier 2027",
        ),
    ],
)
def test_days(language: str, first: date, last: date, expected: str) -> None:
    assert Noted(language).days(first, last) == expected


def test_nobody_reads_all_where_a_second_was_missing(english: Texts) -> None:
    assert [english.share(share) for share in (1.0, 0.9999, 0.29, 0.0)] == [
        *("100%", "99%", "29%", "0%")
    ]


def test_a_figure_without_decimals_stays_as_it_is() -> None:
    words = Noted("de")
    assert [words.decimal(figure) for figure in ("12", "0.5")] == ["12", "0,5"]


@pytest.mark.parametrize("language", LANGUAGES)
def test_there_is_a_word_for_everything(language: str) -> None:
    for kind, codes in LISTS.items():
        assert keys(language, kind) == codes, kind
    reported = texts(language).keys()
    assert {f"limit.{limit.limit_id}" for limit in LIMITS} <= reported
    assert {f"why.{reason}" for reason in NotCollectingReason} - reported == {
        "why.not_needed"
    }


def situations() -> Iterator[Mapping[str, Any]]:
    """Return a summary of every kind."""
    yield NOTHING
    yield RICH
    for run, before in product((None, 0.5), (None, 0.5)):
        yield {**NOTHING, "shop": spent(60.0, run), "before": spent(60.0, before)}
    yield {**NOTHING, "shop": spent(60.0, None)}
    yield {**NOTHING, "shop": spent(60.0, 0.5)}
    for starts, energy, cost in product((0, 1, 2), (0.0, 1.0), (0.0, 1.0)):
        yield {**NOTHING, **collector(starts=starts, energy_kwh=energy, cost=cost)}
    for full_on, emptyings in product((None, "2026-03-02"), range(4)):
        state = {"share": 0.5, "full_on": full_on, "emptyings": emptyings}
        yield {**NOTHING, "bin": state}
        yield {**NOTHING, "bin": {**state, "share": None, "full_on": None}}
    for count in (1, 4, 5, 6):
        yield {**NOTHING, **saws(count)}
        yield {**NOTHING, **alarms(*range(count, 0, -1))}
    for reason in NotCollectingReason:
        yield {**NOTHING, "shop": spent(60.0, 0.5, not_collecting={reason.value: 1.0})}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_is_said_and_has_all_that_it_asks_for(language: str) -> None:
    words = Noted(language)
    for found in situations():
        assert not re.search(r"[{}_]|\s\s", summary_text(words, found))
    for days in (0, 40, 400):
        words.days(date(2026, 3, 3), date(2026, 3, 3) + timedelta(days=days))
    words.short_day(date(2026, 3, 3))
    assert words.language == language
    for kind in (SENTENCES, "writing"):
        assert {key for asked, key in words.asked if asked == kind} == keys(
            language, kind
        )


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_day_of_a_year_has_its_words(language: str) -> None:
    words = Noted(language)
    days = [date(2026, 1, 1) + timedelta(days=n) for n in range(365)]
    for reported in (words.day, words.short_day):
        assert len({reported(day) for day in days}) == 365
    assert {kind for kind, _ in words.asked} == {
        *("writing", "month", "month_short", "weekday_short")
    }
    assert all(" " in words.days(day, day) for day in days)


WORD = re.compile(r"[^\W\d_]{2,}")


@pytest.mark.parametrize(
    ("language", "shared"),
    [
        ("de", {"April", "EU"}),
        ("fr", {"air", "machine", "machines", "on"}),
    ],
)
def test_no_english_is_left(language: str, shared: set[str]) -> None:
    """Apart from names, units and words that both languages share."""
    shared = shared | {
        "Yard",
        "Saw",
        "min",
        "kWh",
        "EUR",
        "mg",
        "m³",
        "NIOSH",
        "mode",
        "offline",
    }
    english, other = Noted("en"), Noted(language)
    for found in situations():
        there = {*WORD.findall(summary_text(english, found))}
        assert there & {*WORD.findall(summary_text(other, found))} <= shared


@pytest.mark.parametrize(
    ("language", "said"), [("de", "Starts gesperrt"), ("nl", "starts blocked")]
)
async def test_it_is_home_assistants_language_or_english(
    hass: HomeAssistant, language: str, said: str
) -> None:
    hass.config.language = language
    await async_load_integrations(hass, {DOMAIN})
    assert Texts.cached(hass)(REASONS, NotCollectingReason.START_BLOCK) == said
