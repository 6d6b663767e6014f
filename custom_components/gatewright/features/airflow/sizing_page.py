"""The printable page of a sized shop: pipes, shopping list, fan and balance sheets."""

from ...texts.pages import render
from .data import Data
from .sizing_texts import NOTES, SizingTexts, shortfalls
from .units import AirUnits

_FITTINGS = ("hood", "friction", "elbows", "branch_entry")
"""The losses with a column of their own; the others share one."""

_SOLVED = 1 - 1e-4
"""The solver's tolerance for a flow or velocity, as a factor."""


def sizing_page(data: Data, units: AirUnits, when: str, texts: SizingTexts) -> str:
    """Return the page, for a thread to render; `when` is the time of computation."""
    units = units.marked(texts)
    return render(
        "sizing",
        texts,
        data=data,
        units=units,
        when=when,
        short=shortfalls(data, texts),
        stalled={one["name"] for one in data["sets"] if one["stalled"]},
        sheets=[
            {**one, "rows": [_row(row) for row in one["table"]]} for one in data["sets"]
        ],
        fittings=_FITTINGS,
        notes=NOTES if data["listed"] else NOTES[1:],
    )


def _row(row: Data) -> Data:
    """Return a sheet's row, with the losses that share a column, and its problem."""
    losses = dict(row["losses"])
    # A hose's friction has no column of its own here.
    losses["friction"] = losses.get("friction", 0.0) + losses.pop("hose", 0.0)
    return {
        **row,
        "losses": losses,
        "other": sum(v for kind, v in losses.items() if kind not in _FITTINGS),
        "slow": row["velocity"] < row["transport"] * _SOLVED,
        "starved": row["flow"] < row["required"] * _SOLVED,
    }
