"""The first page of the airflow report says what to do first, and nothing that is no use."""

from dataclasses import replace
import json
from typing import Any

import pytest

from custom_components.gatewright.core.airflow import DuctSystem
from custom_components.gatewright.features.airflow.assessment import assessment
from custom_components.gatewright.features.airflow.ducts import AirShop
from custom_components.gatewright.features.airflow.report_first import (
    best_changes,
    groups,
    ports,
)
from custom_components.gatewright.features.airflow.report_page import page
from custom_components.gatewright.features.airflow.report_texts import ReportTexts
from custom_components.gatewright.features.airflow.units import (
    CUSTOMARY,
    METRIC,
    AirUnits,
)
from tests.airflow.invented_shops import BENCH, LONG_MAIN, ONE_MACHINE, UNDERSIZED
from tests.manual import ROOT

from .invented_air_shop import air_shop

WHEN = "2026-11-24 09:00"


def texts(language: str = "en") -> ReportTexts:
    """Return the page's texts as Home Assistant would give them."""
    path = ROOT / f"custom_components/gatewright/translations/{language}.json"
    lists: dict[str, Any] = json.loads(path.read_text("utf-8"))["selector"]
    return ReportTexts(
        {
            f"component.gatewright.selector.{name}.options.{key}": text
            for name, found in lists.items()
            for key, text in found.get("options", {}).items()
        }
    )


def shop(system: DuctSystem, **changes: Any) -> AirShop:
    """Return an invented shop, with changes."""
    return replace(air_shop(system), **changes)


def first(system: DuctSystem, units: AirUnits = CUSTOMARY) -> list[str]:
    """Return what is advised, ports and fan before the changes."""
    data = assessment(shop(system))
    return [*ports(data, units, texts()), *best_changes(data, units, texts())]


def test_where_all_is_well_nothing_is_advised() -> None:
    data = assessment(shop(ONE_MACHINE))
    assert [group["line"] for group in groups(data, texts())] == ["fine"]
    assert first(ONE_MACHINE) == []
    html = page(shop(ONE_MACHINE), data, CUSTOMARY, WHEN, texts())
    assert texts().line("no_need") in html
    assert texts().line("no_changes") not in html


def test_a_fan_that_is_too_weak_is_said_and_no_pipe_sold_for_it() -> None:
    """785 and 700 cfm are not to be had from a fan of 650 cfm in free air."""
    found = first(UNDERSIZED)
    assert found[:2] == [
        "planer needs 785 cfm. With any port and pipe, this fan moves 595 cfm at most.",
        "band saw needs 700 cfm. With any port and pipe, this fan moves 595 cfm at most.",
    ]
    assert found[2:]
    for line in found[2:]:
        assert line.endswith(" at jointer")


def test_a_bleed_gate_is_first_where_there_is_air_to_spare() -> None:
    """It costs nothing; pipes for machines that it helps are not named."""
    assert first(BENCH) == [
        "Also open bench (bleed gate): fast enough at saw, sander",
        "Also open saw (bleed gate): fast enough at bench",
    ]


def test_a_main_that_is_too_wide_is_said_to_be() -> None:
    found = first(LONG_MAIN)
    assert found[0].startswith("saw, jointer: the main is too wide")
    assert not any("bleed gate" in line for line in found)
    assert "jointer: a wider hose (5 in): +27% airflow at jointer" in found


def test_the_wheel_is_the_last_thing_to_change() -> None:
    """A planer with nothing to gain in its pipes: what is left needs the maker's word."""
    short = replace(
        LONG_MAIN,
        pickups=tuple(
            replace(p, required=1.1 * p.required) if p.id == "planer" else p
            for p in LONG_MAIN.pickups
            if p.id == "planer"
        ),
    )
    found = first(short)
    assert "if its maker allows it" in found[-1]
    assert all("maker" not in line for line in found[:-1])


@pytest.mark.parametrize(
    ("units", "language", "figures"),
    [
        (CUSTOMARY, "en", [">2630<", "6 in × 45.0 ft"]),
        (METRIC, "en", [">13.4<", "152 mm × 13.7 m"]),
        (METRIC, "de", [">13,4<", "152 mm × 13,7 m", "1,20 kg/m³"]),
        (METRIC, "fr", [">13,4<", "1,5 s"]),
    ],
)
def test_figures_are_written_as_they_are_meant(
    units: AirUnits, language: str, figures: list[str]
) -> None:
    """No more digits than the figures have, and the language's decimal mark."""
    one = shop(LONG_MAIN)
    html = page(one, assessment(one), units, WHEN, texts(language))
    for figure in figures:
        assert figure in html, figure
    # By hand: 517 cfm in a 6 in main is 2,633 ft/min, 13.4 m/s.
    assert ">2633<" not in html
    assert (">13.4<" in html) is (units is METRIC and language == "en")


def test_the_flow_at_the_fan_is_the_fans() -> None:
    """What leaks in at closed gates goes through the fan as well."""
    one = shop(LONG_MAIN)
    data = assessment(one)
    planer = next(m for m in data["machines"] if m["name"] == "planer")
    assert planer["flow_at_fan"] > 1.01 * planer["flow"]
    html = page(one, data, CUSTOMARY, WHEN, texts())
    at_fan = CUSTOMARY.flow.text(planer["flow_at_fan"])
    pressure = CUSTOMARY.pressure.text(planer["fan_pressure"])
    assert f"{at_fan} at {pressure} at the fan" in html


def test_makeup_dust_collection_is_requested_where_the_air_leaves() -> None:
    one = shop(LONG_MAIN)
    inside = page(one, assessment(one), CUSTOMARY, WHEN, texts())
    assert "backdraft" not in inside
    out = shop(LONG_MAIN, outside=True)
    data = assessment(out)
    most = CUSTOMARY.flow.text(max(row["flow"] for row in data["combinations"]))
    outside = page(out, data, CUSTOMARY, WHEN, texts())
    assert f"Up to {most} is blown outdoors" in outside
    assert "backdraft" in outside


def test_a_loaded_filter_is_said_to_be() -> None:
    one = shop(LONG_MAIN)
    clean = page(one, assessment(one), CUSTOMARY, WHEN, texts())
    assert "counts as loaded" not in clean
    loaded = replace(one, network=one.network.adjusted(loading=2.4))
    html = page(loaded, assessment(loaded), CUSTOMARY, WHEN, texts())
    assert "The filter counts as loaded: 2.4 times its clean loss." in html
