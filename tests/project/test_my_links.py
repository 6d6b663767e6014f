"""Links that open a page of the reader's own Home Assistant."""

from pathlib import Path
import re
from urllib.parse import parse_qs, urlsplit

ROOT = Path(__file__).parents[2]
BLUEPRINTS = ROOT / "blueprints/automation/gatewright"
HOST = "my.home-assistant.io"


def links(*pages: Path) -> list[tuple[str, dict[str, str]]]:
    """Return the linked pages, with their parameters."""
    found = []
    for page in pages:
        for url in re.findall(rf"https://{HOST}/redirect/[^)\s]+", page.read_text()):
            parts = urlsplit(url)
            query = {key: value[0] for key, value in parse_qs(parts.query).items()}
            found.append((parts.path.removeprefix("/redirect/").strip("/"), query))
    return found


def test_every_blueprint_can_be_imported_with_one_press() -> None:
    imported = [
        query["blueprint_url"]
        for page, query in links(ROOT / "docs/automations.md")
        if page == "blueprint_import"
    ]
    names = sorted(path.name for path in BLUEPRINTS.glob("*.yaml"))
    assert sorted(Path(url).name for url in imported) == names
    for url in imported:
        inside = url.partition("/blob/main/")[2]
        assert (ROOT / inside).is_file(), url


def test_the_store_and_the_set_up_are_opened_from_the_readme() -> None:
    opened = dict(links(ROOT / "README.md"))
    assert opened["hacs_repository"] == {
        "owner": "gatewright",
        "repository": "gatewright",
        "category": "integration",
    }
    assert opened["config_flow_start"] == {"domain": "gatewright"}


def test_a_button_shows_what_it_opens() -> None:
    for page in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
        shown = re.findall(
            rf"https://{HOST}/badges/(\w+)\.svg\)\]\(https://{HOST}/redirect/(\w+)/",
            page.read_text(),
        )
        assert all(badge == opened for badge, opened in shown), page
