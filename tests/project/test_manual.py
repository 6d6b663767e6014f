"""The manual's links: every target exists, and README leads to every page."""

from collections.abc import Iterator
import re
from urllib.parse import unquote

import pytest

from tests.manual import ROOT, pages

PAGES = pages()
FENCE = re.compile(r"^```.*?^```", re.DOTALL | re.MULTILINE)
LINK = re.compile(r"\]\(([^)\s]+)\)|(?:src|srcset|href)=\"([^\"]+)\"")


def prose(page: str) -> str:
    """Return a page without its examples."""
    return FENCE.sub("", PAGES.get(page) or (ROOT / page).read_text("utf-8"))


def anchors(page: str) -> set[str]:
    """Return the anchors of a page: its headings, as the code forge writes them."""
    return {
        re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")
        for heading in re.findall(r"^#+ (.+)$", prose(page), re.MULTILINE)
    }


def links(page: str) -> Iterator[str]:
    """Yield a page's links."""
    for found in LINK.finditer(prose(page)):
        yield found[1] or found[2]


@pytest.mark.parametrize("page", PAGES)
def test_every_link_leads_somewhere(page: str) -> None:
    for link in links(page):
        if link.startswith(("https://", "http://")):
            continue
        path, _, anchor = unquote(link).partition("#")
        file = (ROOT / page).parent / path if path else ROOT / page
        assert file.exists(), link
        name = str(file.resolve().relative_to(ROOT.resolve()))
        if anchor:
            assert anchor in anchors(name), link


def test_readme_leads_to_every_page() -> None:
    assert {link.partition("#")[0] for link in links("README.md")} >= {
        page for page in PAGES if page != "README.md"
    }


@pytest.mark.parametrize("page", PAGES)
def test_a_page_has_one_title_and_says_what_it_is_for(page: str) -> None:
    titles = re.findall(r"^# (.+)$", prose(page), re.MULTILINE)
    assert len(titles) == 1
    _, opening, *_ = PAGES[page].split("\n\n")
    assert not opening.startswith(("#", "|", "-", "```", "<")), opening


def test_readme_begins_with_the_job_and_the_two_commands() -> None:
    """A reader with the checkout sees what it's for and how to try it without scrolling."""
    title, job = PAGES["README.md"].split("\n\n")[:2]
    assert title == "# Gatewright"
    assert job.startswith(
        "Gatewright runs your shop's dust collection from Home Assistant."
    )
    first = PAGES["README.md"].splitlines()[:45]
    commands = [line for line in first if line.startswith("scripts/")]
    assert [command.split()[0] for command in commands] == [
        "scripts/demo",
        "scripts/test",
    ]
    runs = (ROOT / ".ci/run").read_text(encoding="utf-8").splitlines()[-1]
    assert runs == "exec scripts/test"


@pytest.mark.parametrize("page", PAGES)
def test_every_row_of_a_table_has_its_cells(page: str) -> None:
    """A row with one too many silently loses it."""
    for table in re.findall(r"(?:^\|.*\n)+", prose(page), re.MULTILINE):
        rows = [len(re.findall(r"(?<!\\)\|", row)) for row in table.splitlines()]
        assert len(set(rows)) == 1, table


@pytest.mark.parametrize("page", PAGES)
def test_pictures_say_what_they_show(page: str) -> None:
    texts = re.findall(r"!\[([^\]]*)\]|<img [^>]*?alt=\"([^\"]*)\"", prose(page))
    assert len(texts) == len(re.findall(r"!\[|<img ", prose(page)))
    assert all(len((first or second).split()) >= 4 for first, second in texts)


def test_every_picture_is_shown() -> None:
    shown = {
        ((ROOT / page).parent / link).resolve()
        for page in PAGES
        for link in links(page)
        if link.endswith((".png", ".svg")) and "://" not in link
    }
    for folder in (".github/images", "docs/images"):
        assert {path.resolve() for path in (ROOT / folder).iterdir()} <= shown


WITHOUT_HANDS = {
    "docs/reference.md",
    "docs/plan-file.md",
    "docs/setup-file.md",
    "docs/history.md",
    "docs/old-names.md",
}
"""Pages without work in a machine: lists, files and figures."""


@pytest.mark.parametrize("page", sorted(PAGES.keys() - WITHOUT_HANDS - {"README.md"}))
def test_a_page_about_the_shop_puts_safety_first(page: str) -> None:
    """Each page is complete: whoever opens it directly reads this before the first heading."""
    before, _, _ = PAGES[page].partition("\n## ")
    assert "**Safety first.**" in before
