"""The printable page of a system's airflow, from its assessment."""

from collections.abc import Iterator

from ...core.airflow import Verdict
from ...texts.pages import render
from .data import Data
from .ducts import AirShop
from .report_drawing import drawing
from .report_first import (
    best_changes,
    change_text,
    diagnosis,
    groups,
    ports,
    short_of_air,
)
from .report_plot import plot
from .report_texts import MARKS, NOTES, ReportTexts
from .units import AirUnits

_LETTERS = 80
"""The most letters that the names above the pairs may have side by side."""

_LIMITS, _GAINS = 6, 4
"""The most losses and changes on a machine's card."""


def page(
    shop: AirShop, data: Data, units: AirUnits, when: str, texts: ReportTexts
) -> str:
    """Return the page, for a thread to render; `when` is the time of computation."""
    units = units.marked(texts)
    return render(
        "airflow_report",
        texts,
        data=data,
        units=units,
        when=when,
        tiles=list(_tiles(data)),
        most=max((row["flow"] for row in data["combinations"]), default=0.0),
        groups=list(groups(data, texts)),
        ports=list(ports(data, units, texts)),
        changes=best_changes(data, units, texts),
        short=bool(short_of_air(data)),
        diagnosis=diagnosis(data, units, texts),
        plot=plot(data, units),
        drawing=drawing(shop, data, units),
        pairs=_pairs(data, texts),
        combinations=sorted(
            data["combinations"],
            key=lambda row: row["main_velocity"] - row["main_needed"],
        ),
        cards=[_card(machine, units, texts) for machine in data["machines"]],
        marks=MARKS,
        notes=NOTES,
    )


def _tiles(data: Data) -> Iterator[Data]:
    """Yield how many machines, pairs and combinations are good enough."""
    asked = [machine for machine in data["machines"] if machine["required"]]
    for rows, key, line in (
        (asked, "verdict", "enough_alone"),
        (data["pairs"], "verdict", "enough_together"),
        (data["combinations"], "main_verdict", "main_keeps_moving"),
    ):
        marginal = sum(row[key] == Verdict.MARGINAL for row in rows)
        good = marginal + sum(row[key] == Verdict.ENOUGH for row in rows)
        counts = {"count": good, "total": len(rows), "marginal": marginal}
        if rows:
            yield {
                "line": line,
                "marginal": marginal,
                "counts": {name: str(count) for name, count in counts.items()},
            }


def _pairs(data: Data, texts: ReportTexts) -> Data:
    """Return a cell for each pair of machines; only below the diagonal."""
    names = [machine["name"] for machine in data["machines"]]
    cells = {}
    for pair in data["pairs"]:
        shares = [m["flow"] / m["required"] for m in pair["machines"] if m["required"]]
        worst = min(shares, default=None)
        cells[frozenset(machine["name"] for machine in pair["machines"])] = {
            "verdict": pair["verdict"],
            "share": "–" if worst is None else texts.nearest_share(min(worst, 9.99)),
            "slow": not pair["main_ok"],
        }
    # A column is as wide as the longest word of its name, and a page has limits.
    letters = sum(max(map(len, name.split()), default=0) for name in names[:-1])
    return {
        "names": names[:-1],
        "style": "grid tall" if letters > _LETTERS else "grid",
        "rows": [
            (one, [cells[frozenset((one, other))] for other in names[:row]])
            for row, one in enumerate(names)
            if row
        ],
    }


def _card(machine: Data, units: AirUnits, texts: ReportTexts) -> Data:
    """Return where a machine loses suction, and what would help."""
    helps = [
        texts.line(
            "open_as_well",
            gates=", ".join(option["gates"]),
            velocity=units.velocity.text(option["main_velocity"]),
        )
        for option in machine["relief"][:1]
    ]
    helps += [
        texts.line(
            "help_but_slow" if gain["slows"] else "help",
            change=change_text(gain, units, texts),
            gain=texts.nearest_share(gain["gain"], "+"),
            ducts=", ".join(gain["slows"]),
        )
        for gain in machine["what_if"][:_GAINS]
    ]
    limits = machine["limits"][:_LIMITS]
    return {
        "machine": machine,
        "limits": [(_place(limit, texts), limit["share"]) for limit in limits],
        "helps": helps,
    }


def _place(limit: Data, texts: ReportTexts) -> str:
    loss = texts.of("loss", limit["kind"])
    if not limit["element"]:
        return loss
    return texts.line("loss_at", loss=loss, element=limit["element"])
