"""The manual: README.md and the pages in docs/, and their readability."""

from collections.abc import Iterator
from pathlib import Path
import re

ROOT = Path(__file__).parents[1]
GENERATED = "<!-- reference: begin -->"

_FENCE = re.compile(r"^```.*?^```", re.DOTALL | re.MULTILINE)
_TAG = re.compile(r"<[^>]+>")
_IMAGE = re.compile(r"!\[([^\]]*)\]\([^)]*\)")
_LINK = re.compile(r"\[([^\]]*)\]\([^)]*\)")
_ROW_OF_MARKS = re.compile(r"^\|[\s:|-]+\|$")
_BLOCK = re.compile(r"^\s*(?:[-*] |\d+\. |#+ |> |\|)")
_END = re.compile(r"(?<=[.!?])[\"”)*]*\s+(?=[\"“(*]*[A-Z0-9`$])")
_WORD = re.compile(r"\w")


def pages() -> dict[str, str]:
    """Return the text of each page by its path from the project's folder."""
    files = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
    return {
        str(file.relative_to(ROOT)): file.read_text(encoding="utf-8") for file in files
    }


def written_pages() -> dict[str, str]:
    """Return the same without what `scripts/reference` generates."""
    return {name: text.partition(GENERATED)[0] for name, text in pages().items()}


def without_examples(text: str) -> str:
    """Return a page without its fenced blocks."""
    return _FENCE.sub("", text)


def blocks(text: str) -> Iterator[str]:
    """Yield the headings, paragraphs, items and cells of a page, each on one line."""
    text = _IMAGE.sub(r"\1", without_examples(text))
    block: list[str] = []
    for line in [*text.splitlines(), ""]:
        if _ROW_OF_MARKS.match(line):
            continue
        if not line.strip() or _BLOCK.match(line):
            if block:
                yield " ".join(block)
            block = []
        if line.startswith("|"):
            yield from (cell.strip() for cell in line.strip("|").split(" | "))
        elif line.strip():
            block.append(line.strip())


def sentences(text: str) -> Iterator[list[str]]:
    """Yield the words of each visible sentence of a page.

    A heading, an item and a cell end their last sentence with or without a mark.
    """
    for block in blocks(text):
        plain = _TAG.sub(" ", _LINK.sub(r"\1", block))
        plain = re.sub(r"^(?:[-*>#]+|\d+\.)\s+", "", plain)
        for sentence in _END.split(plain):
            words = [word for word in sentence.split() if _WORD.search(word)]
            if words:
                yield words
