"""What Gatewright costs a small computer, in counts and ratios: see `benchmarks/footprint.py`."""

import asyncio
from collections.abc import Iterator
import logging
from pathlib import Path
import re

import pytest

from benchmarks.busy_hour import simulate
from benchmarks.footprint import (
    ALL_CARDS,
    FIRST_VIEW,
    MOST_MEMORY,
    MOST_OF_CARDS,
    MOST_REWRITES,
    PAGE,
    Hours,
    automations,
    compressed,
    full_past,
    held,
    loaded,
    rewrites,
    set_up,
)

MACHINES, CUTS = 4, 12
MOST_OBJECTS = 105
"""Of ours behind a machine and its gate; 124 once."""


@pytest.fixture(scope="module", autouse=True)
def quiet() -> Iterator[None]:
    """Keep no log: what pytest captures of it would count as held."""
    logging.disable(logging.WARNING)
    yield
    logging.disable(logging.NOTSET)


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Hours:
    """Let a small shop work for the same hour five times."""
    one, two, three, four, five = (
        str(tmp_path_factory.mktemp("hub")) for _ in range(5)
    )
    first = simulate(one, MACHINES, CUTS)
    full_past(Path(two) / ".storage", Path(one) / ".storage")
    return Hours(
        first,
        simulate(two, MACHINES, CUTS),
        simulate(three, MACHINES, CUTS, instead=automations),
        simulate(four, MACHINES, CUTS, replayed=first.switched, called=True),
        simulate(five, MACHINES, CUTS, replayed=first.switched),
    )


def test_whole_files_are_written_seldom(worked: Hours) -> None:
    """Even with 2,000 runs and a year of days."""
    for hour in (worked.first, worked.later):
        assert rewrites(hour) <= MOST_REWRITES
        # What is appended is small beside Home Assistant's own writes.
        assert 0 < hour.appended < worked.without.handed / 25


def test_a_full_past_costs_no_more_than_an_empty_one(worked: Hours) -> None:
    assert worked.later.appended < 1.2 * worked.first.appended
    assert worked.ratio(worked.later) < 1.1 * worked.ratio(worked.first)


def test_bytes_beyond_what_the_calls_take(worked: Hours) -> None:
    """Whoever controls by services pays for the calls; the goal counts them too."""
    assert worked.called.switched == worked.first.switched
    assert worked.without.handed < worked.called.handed
    for hour in (worked.first, worked.later):
        assert hour.handed < 1.27 * worked.called.handed


def test_the_automations_beside_it_switch_as_much(worked: Hours) -> None:
    """Otherwise they would be no measure."""
    starts = [
        [part for _, part, on in hour.switched if on == "on"]
        for hour in (worked.first, worked.instead)
    ]
    assert {*starts[0]} == {*starts[1]}
    assert worked.instead.recorded > 0


def test_no_step_of_a_set_up_holds_everything_up() -> None:
    """Of processor time, relative to the whole; it was once more than two fifths."""
    steps, took = asyncio.run(set_up(150))
    assert 0.0 < steps.longest < 0.1 * took


def test_what_a_machine_holds() -> None:
    """Its objects are counted because every full collection of garbage looks at them all."""
    each = asyncio.run(held(100))
    assert each.memory <= MOST_MEMORY
    assert 0 < each.own <= MOST_OBJECTS
    # Most of them are the registry's and the states' of its entities.
    assert each.own < 0.33 * each.others


def test_a_page_loads_no_more_of_the_cards_than_it_shows() -> None:
    """Before the plan's editor, which comes with its view."""
    for language in ("en", "de", "fr"):
        page = compressed(PAGE, language)
        first = compressed(FIRST_VIEW, language)
        assert page < first < compressed(ALL_CARDS, language)
        assert first <= MOST_OF_CARDS
    modules = loaded(*ALL_CARDS)
    assert len(modules) > 20
    assert not [module for module in modules if module.parent.name == "plan"]
    # What a card imports late is counted with it.
    late = re.findall(
        r"import\([\"`]\./([\w-]+\.js)", "".join(m.read_text("utf-8") for m in modules)
    )
    assert {*late} == {*ALL_CARDS} - {*PAGE}
