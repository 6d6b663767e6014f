"""The one writer of tables to download."""

from collections.abc import Iterable
import csv

type Cell = str | float
type Row = tuple[Cell, ...]

_SPACE = " \t\r\n\u00a0"
_FORMULA = frozenset("=+-@\uff1d\uff0b\uff0d\uff20")
"""What the formulas of spreadsheets begin with."""


class _Lines(list[str]):
    """Collects what a writer of rows writes."""

    def write(self, text: str, /) -> None:
        self.append(text)


def csv_text(rows: Iterable[Row]) -> str:
    """Return rows as comma-separated values (RFC 4180: CRLF, doubled quotes).

    A text that a spreadsheet would take for a formula, as a name may be, is kept text
    by an apostrophe before it; a number is left as it is.
    """
    lines = _Lines()
    csv.writer(lines).writerows(map(_inert, row) for row in rows)
    return "".join(lines)


def _inert(cell: Cell) -> Cell:
    # Spreadsheets look past leading space; a full-width sign counts for some of them.
    if isinstance(cell, str) and cell.lstrip(_SPACE)[:1] in _FORMULA:
        return f"'{cell}"
    return cell
