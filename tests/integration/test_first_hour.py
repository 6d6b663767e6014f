"""The first hour stays short: pages, fields, and texts in every language."""

from homeassistant.core import HomeAssistant
import pytest

from benchmarks.first_hour import (
    Count,
    largest_page,
    missing_texts,
    oldest_release,
    pages,
    smallest_shop,
)
from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.forms.flow.collector import COLLECTOR
from custom_components.gatewright.forms.flow.duct import DUCT, DUCT_PAGES
from custom_components.gatewright.forms.flow.gate import GATE, GATE_PAGES
from custom_components.gatewright.forms.flow.machine import MACHINE, MACHINE_PAGES
from custom_components.gatewright.forms.flow.settings_pages import PAGES
from custom_components.gatewright.forms.form import Form

from .flow_helpers import without_engine


def test_no_page_has_more_than_ten_fields() -> None:
    assert {
        name: count for name, form in pages() if (count := len(list(form.fields))) > 10
    } == {}
    name, most = largest_page()
    assert most == max(len(list(form.fields)) for _, form in pages())
    assert name in {name for name, _ in pages()}


@pytest.mark.parametrize(
    ("form", "cut"),
    [
        (COLLECTOR, [page.form for page in PAGES.values()]),
        (MACHINE, list(MACHINE_PAGES.values())),
        (GATE, list(GATE_PAGES.values())),
        (DUCT, list(DUCT_PAGES.values())),
    ],
)
def test_every_field_is_on_a_page_that_keeps_what_it_decides(
    form: Form, cut: list[Form]
) -> None:
    assert {field.key for page in cut for field in page.fields} == {
        field.key for field in form.fields
    }
    assert set().union(*(page.owned for page in cut)) == form.owned


async def test_the_smallest_shop_takes_four_pages_and_eight_fields(
    hass: HomeAssistant,
) -> None:
    with without_engine(hass):
        road = await smallest_shop(hass)
    assert (road.pages, road.shown) == (4, 8)
    [entry] = hass.config_entries.async_entries(DOMAIN)
    assert {part.title for part in entry.subentries.values()} == {
        "Planer",
        "Planer gate",
    }


def test_the_languages_are_complete_and_the_oldest_release_is_named() -> None:
    assert missing_texts() == 0
    assert oldest_release()


def test_a_missed_goal_is_reported() -> None:
    assert Count("fields", 10, 10).kept
    assert not Count("fields", 11, 10).kept
