"""A summary in words: each sentence, and a word for everything that can be."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import pytest

from custom_components.gatewright.record.words import (
    LIMITS as LIMIT_WORDS,
    NEEDS,
    REASONS,
    days_in_words,
    in_words,
    percent,
)
from custom_components.gatewright.shop.record.reasons import NoAir
from custom_components.gatewright.shop.upkeep.exposure import LIMITS
from custom_components.gatewright.shop.upkeep.keeper import NeedKind

from .test_card_texts import LANGUAGES, texts


def spent(run: float, coverage: float | None, **more: Any) -> dict[str, Any]:
    return {
        "run_time": run,
        "coverage": coverage,
        "too_little_air": 0.0,
        "without": {},
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


def test_nothing_is_told_in_one_sentence() -> None:
    assert in_words(NOTHING) == "Yard, March 2 to 8: no machine ran."


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        (
            {"shop": spent(3700.0, 0.9961)},
            "Yard, March 2 to 8: machines ran for 1 h 2 min, 99% of it with air.",
        ),
        (
            {"shop": spent(3600.0, None), "before": spent(60.0, None)},
            "Yard, March 2 to 8: machines ran for 1 h (before: 1 min).",
        ),
        (
            {"shop": spent(60.0, 1.0), "before": spent(30.0, 0.5)},
            "machines ran for 1 min, 100% of it with air (before: 30 s, 50%).",
        ),
        (
            {
                "shop": spent(
                    900.0,
                    0.5,
                    without={
                        "gate_stuck": 300.0,
                        "lockout": 60.0,
                        "starting": 59.0,
                        "gate_moving": 20.0,
                        "motor_resting": 10.0,
                        "not_needed": 500.0,
                        "unknown": 0.2,
                    },
                )
            },
            "Without air: 5 min (gate stuck), 1 min (locked out), 59 s (collector "
            "starting), 30 s for other reasons.",
        ),
        (
            {"shop": spent(900.0, 1.0, too_little_air=120.0)},
            "For 2 min the air was less than the machine asks for.",
        ),
        (
            {
                "machines": [
                    {"name": f"Saw {n}", **spent(60.0 * n, None if n == 5 else 0.75)}
                    for n in range(5, -1, -1)
                ]
            },
            "Saw 5 5 min; Saw 4 4 min, 75%; Saw 3 3 min, 75%; Saw 2 2 min, 75%; "
            "and 1 more.",
        ),
        (
            {
                "collector": {
                    **NOTHING["collector"],
                    "on_time": 600.0,
                    "starts": 7,
                    "energy_kwh": 1.25,
                    "measured": True,
                }
            },
            "The collector ran for 10 min in 7 starts and took 1.2 kWh.",
        ),
        (
            {"bin": {"share": 1.3, "full_on": None, "emptyings": 0}},
            "The bin is about 100% full.",
        ),
        (
            {"bin": {"share": 0.4, "full_on": "2026-04-01", "emptyings": 2}},
            "The bin is about 40% full and will be full about April 1; it was emptied "
            "twice.",
        ),
        (
            {"bin": {"share": 0.4, "full_on": None, "emptyings": 3}},
            "it was emptied 3 times.",
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
            {"alarms": [{"title": "Saw does not stop", "times": 1}]},
            "Alarms: Saw does not stop.",
        ),
        (
            {
                "needs": [
                    {"kind": "bin_full", "name": "Yard"},
                    {"kind": "service_due", "name": "Belt"},
                ]
            },
            "To see to: empty the bin, Belt is due.",
        ),
    ],
)
def test_sentences(changed: dict[str, Any], expected: str) -> None:
    assert expected in in_words({**NOTHING, **changed})


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [
        (date(2026, 3, 4), date(2026, 3, 4), "Wednesday, March 4"),
        (date(2026, 3, 30), date(2026, 4, 5), "March 30 to April 5"),
        (
            date(2026, 12, 28),
            date(2027, 1, 3),
            "December 28, 2026 to January 3, 2027",
        ),
    ],
)
def test_days(first: date, last: date, expected: str) -> None:
    assert days_in_words(first, last) == expected


def test_nobody_reads_all_where_a_second_was_missing() -> None:
    assert [percent(share) for share in (1.0, 0.9999, 0.29, 0.0)] == [
        *("100%", "99%", "29%", "0%")
    ]


def test_there_is_a_word_for_everything() -> None:
    limits = {limit.limit_id for limit in LIMITS}
    assert REASONS.keys() == set(NoAir)
    assert NEEDS.keys() == set(NeedKind)
    assert LIMIT_WORDS.keys() == limits
    for language in LANGUAGES:
        told = texts(language).keys()
        assert {f"limit.{limit_id}" for limit_id in limits} <= told
        reasons = {f"why.{reason}" for reason in NoAir}
        assert reasons - told == {"why.not_needed"}
