"""Published tables, copied as data; each row names its source.

`status`: `read` in the source or a reprint of it, `memory` recalled from it.
"""

import csv
from pathlib import Path


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a table."""
    path = Path(__file__).with_name(f"{name}.csv")
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
