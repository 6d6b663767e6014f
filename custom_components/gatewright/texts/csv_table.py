"""The only writer of downloadable tables."""

from collections.abc import Iterable
import csv

type Cell = str | float
type Row = tuple[Cell, ...]

_SPACE = " \t\r\n\u00a0"
_FORMULA = frozenset("=+-@\uff1d\uff0b\uff0d\uff20")
"""The characters that begin a spreadsheet's formula."""


class _Lines(list[str]):
    """Collects the lines of a CSV writer."""

    def write(self, text: str, /) -> None:
        self.append(text)


def csv_text(rows: Iterable[Row]) -> str:
    """Return rows as comma-separated values (RFC 4180: CRLF, doubled quotes).

    An apostrophe keeps a text, such as a name, from becoming a formula; numbers are
    unchanged.
    """
    lines = _Lines()
    csv.writer(lines).writerows(map(_inert, row) for row in rows)
    return "".join(lines)


def _inert(cell: Cell) -> Cell:
    # Spreadsheets ignore leading space, and some accept full-width signs.
    if isinstance(cell, str) and cell.lstrip(_SPACE)[:1] in _FORMULA:
        return f"'{cell}"
    return cell
