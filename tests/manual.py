"""The manual: README.md and the pages in docs/."""

from pathlib import Path

ROOT = Path(__file__).parents[1]
GENERATED = "<!-- reference: begin -->"


def pages() -> dict[str, str]:
    """Return the text of each page by its path from the project's folder."""
    files = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
    return {
        str(file.relative_to(ROOT)): file.read_text(encoding="utf-8") for file in files
    }


def written_pages() -> dict[str, str]:
    """Return the same without what `scripts/reference` makes from other texts."""
    return {name: text.partition(GENERATED)[0] for name, text in pages().items()}
