"""The printable page of a sized shop: pipes, what to buy, the fan, the sheets."""

from collections.abc import Iterable, Mapping
from html import escape
from typing import Any

from .report_page import _STYLE, _bad, _table
from .sizing_words import SizingLine as Line, SizingNote, SizingWords, shortfalls
from .units import AirUnits

type Data = Mapping[str, Any]

_OWN_STYLE = """
.sheet { margin-top: 12px; break-inside: avoid }
.sheet td:first-child { white-space: nowrap }
"""

_FITTINGS = ("hood", "friction", "elbows", "branch_entry")
"""The losses that have a column of their own; all others share one."""


def sizing_page(data: Data, units: AirUnits, when: str, words: SizingWords) -> str:
    """Return the page; `when` says when it was computed."""
    name = data["system"]

    def section(title: Line, **gaps: str) -> str:
        return f"<h2>{words.html(title, **gaps)}</h2>"

    computed = words.html(
        Line.COMPUTED, when=when, margin=words.share(data["margin"] - 1.0)
    )
    body = [
        f"<h1>{words.html(Line.HEADING, name=name)}</h1>",
        f'<p class="sub">{computed}</p>',
        *_verdict(data, words),
        *_changes(data, units, words),
        section(Line.PIPES),
        _narrow(_pipes(data, units, words)),
        section(Line.MATERIAL),
        _materials(data, units, words),
        section(Line.THE_FAN),
        *_fan(data, units, words),
        section(Line.SHEETS),
        *(_sheet(data, one, units, words) for one in data["sets"]),
        section(Line.SOURCES),
        *(
            f'<p class="foot">{escape(words.note(note))}</p>'
            for note in SizingNote
            if note is not SizingNote.LISTED or data["listed"]
        ),
    ]
    return (
        f'<!DOCTYPE html><html lang="{words.html(Line.LANGUAGE)}">'
        '<head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{words.html(Line.TITLE, name=name)}</title>"
        f"<style>{_STYLE}{_OWN_STYLE}</style></head><body>{''.join(body)}</body></html>"
    )


def _narrow(table: str) -> str:
    """Return a table that a phone shows in its whole width."""
    return f'<div class="small">{table}</div>'


def _verdict(data: Data, words: SizingWords) -> Iterable[str]:
    verdict = words.html(Line(data["verdict"]))
    tone = "ok" if data["verdict"] == "enough" else "bad"
    yield f'<p><span class="{tone}">{verdict}</span></p>'
    if short := shortfalls(data, words):
        yield f"<ul>{''.join(f'<li>{escape(text)}</li>' for text in short)}</ul>"
    if data["not_placed"]:
        names = ", ".join(data["not_placed"])
        yield f"<p>{words.html(Line.LEFT_OUT, names=names)}</p>"


def _changes(data: Data, units: AirUnits, words: SizingWords) -> Iterable[str]:
    if not data["changes"]:
        return
    yield f"<h2>{words.html(Line.WHAT_HELPS)}</h2>"
    yield f"<p>{words.html(Line.STEPS)}</p>"
    steps = "".join(
        f"<li>{escape(words.change(change, units))}: {_reaches(change, words)}</li>"
        for change in data["changes"]
    )
    yield f"<ol>{steps}</ol>"


def _reaches(change: Data, words: SizingWords) -> str:
    return words.html(Line.REACHES, share=words.share(change["ratio"]))


def _pipes(data: Data, units: AirUnits, words: SizingWords) -> str:
    return _table(
        (
            (words.html(Line.PART), False),
            (words.html(Line.WIDTH, unit=units.width.sign), True),
            (words.html(Line.LENGTH, unit=units.length.sign), True),
        ),
        (
            (
                escape(words.place(segment["name"], data["listed"])),
                units.width.bare(segment["diameter"]),
                units.length.bare(segment["length"]),
            )
            for segment in data["segments"]
        ),
    )


def _materials(data: Data, units: AirUnits, words: SizingWords) -> str:
    rows = (words.item(item, units) for item in data["materials"])
    table = _table(
        ((words.html(Line.PART), False), (words.html(Line.AMOUNT), True)),
        ((escape(name), escape(amount)) for name, amount in rows),
    )
    waste = words.html(Line.WITH_WASTE, share=words.share(data["waste"]))
    return f'{_narrow(table)}<p class="foot">{waste}</p>'


def _fan(data: Data, units: AirUnits, words: SizingWords) -> Iterable[str]:
    yield f"<p>{words.html(Line.FAN_WORKS if data['fan'] else Line.FAN_NEEDED)}</p>"
    if not data["fan"]:
        must = (
            words.html(
                Line.FAN_MUST,
                pressure=units.pressure.text(point["pressure"]),
                flow=units.flow.text(point["flow"]),
            )
            for point in data["duty"]
            if point["governs"]
        )
        yield f"<ul>{''.join(f'<li>{text}</li>' for text in must)}</ul>"
    stalled = {one["name"] for one in data["sets"] if one["stalled"]}
    table = _table(
        (
            (words.html(Line.RUNNING), False),
            (words.html(Line.FLOW, unit=units.flow.sign), True),
            (words.html(Line.PRESSURE, unit=units.pressure.sign), True),
            (words.html(Line.SUCTION, unit=units.pressure.sign), True),
            ("", False),
        ),
        (
            (
                escape(point["name"]),
                units.flow.bare(point["flow"]),
                units.pressure.bare(point["pressure"]),
                units.pressure.bare(point["suction"]),
                _bad(words.html(Line.MAY_SURGE)) if point["name"] in stalled else "",
            )
            for point in data["duty"]
        ),
    )
    yield _narrow(table)
    if data["fans"]:
        yield f"<h3>{words.html(Line.CURVES)}</h3>"
        told = {
            "enough": Line.CURVE_DOES,
            "marginal": Line.CURVE_MARGINAL,
            "too_little": Line.CURVE_DOES_NOT,
        }
        lines = (
            words.html(
                told[fan["verdict"]],
                name=fan["name"],
                machines=fan["worst"],
                share=words.share(fan["ratio"]),
            )
            for fan in data["fans"]
        )
        yield f"<ul>{''.join(f'<li>{text}</li>' for text in lines)}</ul>"


def _sheet(data: Data, one: Data, units: AirUnits, words: SizingWords) -> str:
    """Return the sheet of one set, as engineers write it."""
    title = (
        words.html(Line.SHEET_WITH, machines=one["name"], bleed=one["bleed"])
        if one["bleed"]
        else words.html(Line.SHEET, machines=one["name"])
    )

    def rows() -> Iterable[tuple[str, ...]]:
        for row in one["table"]:
            losses = row["losses"]
            other = sum(v for kind, v in losses.items() if kind not in _FITTINGS)
            slow = row["velocity"] < row["transport"] * (1 - 1e-4)
            flow = units.flow.bare(row["flow"])
            velocity = units.velocity.bare(row["velocity"])
            starved = row["flow"] < row["required"] * (1 - 1e-4)
            yield (
                escape(words.place(row["segment"], data["listed"])),
                _bad(flow) if starved else flow,
                units.width.bare(row["diameter"]),
                _bad(velocity) if slow else velocity,
                units.pressure.bare(row["velocity_pressure"]),
                *(units.pressure.bare(losses.get(kind, 0.0)) for kind in _FITTINGS),
                units.pressure.bare(other),
                units.pressure.bare(row["static"]),
            )

    table = _table(
        (
            (words.html(Line.PART), False),
            (words.html(Line.FLOW, unit=units.flow.sign), True),
            (words.html(Line.WIDTH, unit=units.width.sign), True),
            (words.html(Line.VELOCITY, unit=units.velocity.sign), True),
            (words.html(Line.VELOCITY_PRESSURE, unit=units.pressure.sign), True),
            (words.html(Line.HOOD), True),
            (words.html(Line.FRICTION), True),
            (words.html(Line.ELBOWS), True),
            (words.html(Line.BRANCH), True),
            (words.html(Line.OTHER), True),
            (words.html(Line.STATIC), True),
        ),
        rows(),
    )
    return f'<div class="sheet"><h3>{title}</h3>{table}</div>'
