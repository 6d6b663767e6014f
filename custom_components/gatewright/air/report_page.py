"""The printable page of a system's airflow, from its assessment."""

from collections.abc import Iterable, Mapping
from functools import reduce
from html import escape
from typing import Any

from ..airflow import Verdict
from . import report_first
from .ducts import AirShop
from .report_drawing import drawing
from .report_plot import plot
from .report_words import AIR_WORDS, MARKS, Line, Note, Words
from .units import AirUnits

type Data = Mapping[str, Any]

_LETTERS = 80
"""How many letters the names beside each other above the pairs may have at most."""

_STYLE = """
@page { size: A4; margin: 14mm }
* { box-sizing: border-box }
body { font: 13px/1.45 system-ui, sans-serif; color: #1c2226; background: #fff;
  max-width: 190mm; margin: 0 auto; padding: 8mm 4mm }
h1 { font-size: 25px; margin: 0 } h2 { font-size: 16px; margin: 24px 0 6px;
  border-bottom: 2px solid #1c2226; padding-bottom: 2px } h3 { font-size: 13px;
  margin: 0 0 2px } p { margin: 4px 0 } .sub { color: #566068 }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums }
th { text-align: left; font-weight: 600; color: #566068; font-size: 11px }
td, th { padding: 3px 5px; border-bottom: 1px solid #dde2e5; vertical-align: top }
td:first-child { hyphens: auto } .n { text-align: right } tr { break-inside: avoid }
.ok { color: #17643a; font-weight: 600 } .fair { color: #7a5300; font-weight: 600 } .bad { color: #a3211a; font-weight: 600 }
.verdict { display: flex; gap: 10px; margin: 12px 0 4px }
.verdict div { flex: 1; border: 1px solid #c9d0d4; border-radius: 6px; padding: 8px 10px }
.verdict b { font-size: 21px; display: block }
svg { width: 100%; height: auto; margin-top: 4px } svg text { font-size: 10.5px; fill: #566068 }
svg .name { font-weight: 600; fill: #1c2226; font-size: 11.5px } svg text.bad { fill: #a3211a; font-weight: 600 }
.duct { stroke: #7b93a3; fill: none; stroke-linecap: round } .duct.slow { stroke: #c2554e; stroke-dasharray: 10 8; stroke-linecap: butt }
.collector { fill: #e9eef1; stroke: #1c2226; stroke-width: 1.5 } .gate { fill: #fff; stroke: #1c2226; stroke-width: 2 }
.cards { display: grid; grid-template-columns: 1fr 1fr; gap: 10px }
.small { font-size: 11px; align-items: start } .small td { padding: 2px 4px } .small td:last-child { white-space: nowrap }
.card { border: 1px solid #c9d0d4; border-radius: 6px; padding: 8px 10px; break-inside: avoid }
.bar { display: grid; grid-template-columns: 1fr 70px 34px; gap: 6px; align-items: center; font-size: 11.5px }
.bar i { display: block; height: 8px; background: #7b93a3; border-radius: 2px; print-color-adjust: exact; -webkit-print-color-adjust: exact }
.card ul { margin: 2px 0; padding-left: 16px; font-size: 11.5px }
.grid td, .grid th { text-align: center; font-size: 11px; padding: 3px } .grid td { padding: 3px 1px } .grid br + .bad { font-size: 9.5px } .grid th:first-child { text-align: left; white-space: nowrap }
.grid thead th { vertical-align: bottom } .tall thead span { writing-mode: vertical-rl; transform: rotate(180deg) } .note { border-left: 4px solid #b98900; padding: 6px 10px; background: #fbf6e6; break-inside: avoid; print-color-adjust: exact; -webkit-print-color-adjust: exact }
.break { break-before: page } .group { margin: 6px 0 } .group span { display: inline-block; min-width: 76px } ol { margin: 4px 0; padding-left: 22px } ol li { margin: 3px 0 }
.plot .grid { stroke: #e3e8ea; fill: none } .plot .fan { stroke: #1c2226; stroke-width: 2.5; fill: none } .plot .fan.entered { stroke: #9aa5ab; stroke-width: 1.5; stroke-dasharray: 5 4 }
.plot .system { stroke: #4d7389; stroke-width: 1.2; fill: none } .plot .surge { fill: #f3e2df; print-color-adjust: exact; -webkit-print-color-adjust: exact } .plot .limit { stroke: #a3211a; stroke-width: 2 }
.plot .leader { stroke: #c9d0d4; fill: none } .plot .point { fill: #17643a } .plot .point.marginal { fill: #b98900 } .plot .point.too_little { fill: #a3211a } .plot text.too_little { fill: #a3211a; font-weight: 600 } .plot text.marginal { fill: #7a5300; font-weight: 600 } .plot text.enough { fill: #1c2226 }
.foot { font-size: 11px; color: #566068 } @media print { body { padding: 0; max-width: none } }
@media screen and (max-width: 640px) { .verdict, .cards { display: flex; flex-direction: column; align-items: stretch }
  .wide { overflow-x: auto } .wide svg { min-width: 640px } .wide table { min-width: 720px }
  .small table { min-width: 0 } }
"""


def page(shop: AirShop, data: Data, units: AirUnits, when: str, words: Words) -> str:
    """Return the page; `when` says when it was computed."""
    ducts = {duct["id"]: duct for duct in data["ducts"]}
    name = data["system"]
    computed = words.html(
        Line.COMPUTED if data["speed"] == 1 else Line.COMPUTED_AT_SPEED,
        when=when,
        density=f"{data['air_density']:.2f}",
        speed=words.share(data["speed"]),
    )

    def section(title: Line) -> str:
        return f"<h2>{words.html(title)}</h2>"

    body = [
        f"<h1>{words.html(Line.HEADING, name=name)}</h1>",
        f'<p class="sub">{computed}</p>',
        _verdict(data, words),
        report_first.machines(data, words),
        report_first.ports(data, units, words),
        section(Line.CHANGES),
        report_first.changes(data, words, lambda gain: _change(gain, units, words)),
        report_first.diagnosis(data, units, words),
        _wide(plot(data, units, words)),
        f'<p class="foot">{words.html(Line.FAN_PLOT_READ)}</p>',
        f'<h2 class="break">{words.html(Line.THE_DUCTS)}</h2>',
        _wide(drawing(shop, ducts, units, words)),
        f'<p class="foot">{words.html(Line.DRAWN)}</p>',
        section(Line.EACH_ALONE),
        _machines(data, units, words),
        section(Line.TWO_TOGETHER),
        _pairs(data, words),
        section(Line.MAIN_IN_USE),
        f'<p class="note">{words.html(Line.CRITERIA)}</p>',
        _combinations(data, units, words),
        section(Line.WHERE_SUCTION_GOES),
        '<div class="cards">',
        *(_card(machine, units, words) for machine in data["machines"]),
        "</div>",
        section(Line.DUCTS),
        _ducts(data, units, words),
        section(Line.CALIBRATION),
        report_first.calibration(data, words, _table),
        section(Line.SOURCES),
        *(f'<p class="foot">{escape(words.note(note))}</p>' for note in Note),
    ]
    return (
        f'<!DOCTYPE html><html lang="{words.html(Line.LANGUAGE)}">'
        '<head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{words.html(Line.TITLE, name=name)}</title>"
        f"<style>{_STYLE}</style></head><body>{''.join(body)}</body></html>"
    )


def _verdict(data: Data, words: Words) -> str:
    machines, pairs, sets = data["machines"], data["pairs"], data["combinations"]
    asked = [machine for machine in machines if machine["required"]]
    tiles = (
        (asked, "verdict", Line.ENOUGH_ALONE),
        (pairs, "verdict", Line.ENOUGH_TOGETHER),
        (sets, "main_verdict", Line.MAIN_KEEPS_MOVING),
    )

    def tile(rows: list[Data], key: str, line: Line) -> str:
        marginal = sum(row[key] == Verdict.MARGINAL for row in rows)
        good = marginal + sum(row[key] == Verdict.ENOUGH for row in rows)
        count = words.html(
            Line.COUNT_MARGINAL if marginal else Line.COUNT,
            count=str(good),
            total=str(len(rows)),
            marginal=str(marginal),
        )
        return f"<div><b>{count}</b>{words.html(line)}</div>"

    text = "".join(tile(*each) for each in tiles if each[0])
    left = ""
    if data["not_placed"]:
        names = ", ".join(data["not_placed"])
        left = f"<p>{words.html(Line.LEFT_OUT, names=names)}</p>"
    margins = words.html(Line.MARGINS, share=words.share(data["margin"] - 1.0))
    return f'<div class="verdict">{text}</div><p class="foot">{margins}</p>{left}'


def _table(head: Iterable[tuple[str, bool]], rows: Iterable[Iterable[str]]) -> str:
    """Return a table; a head says whether its column holds numbers."""
    columns = tuple(head)

    def cells(tag: str, values: Iterable[str]) -> str:
        return "".join(
            f"<{tag}{' class=n' if number else ''}>{value}</{tag}>"
            for (_, number), value in zip(columns, values, strict=True)
        )

    lines = "".join(f"<tr>{cells('td', row)}</tr>" for row in rows)
    title = cells("th", (text for text, _ in columns))
    table = f"<table><thead><tr>{title}</tr></thead><tbody>{lines}</tbody></table>"
    return _wide(table)


def _wide(html: str) -> str:
    """Return something that a phone shows a part of and moves sideways by itself."""
    return f'<div class="wide">{html}</div>'


def _bad(html: str) -> str:
    return f'<span class="bad">{html}</span>'


_CLASSES = {Verdict.ENOUGH: "ok", Verdict.MARGINAL: "fair", Verdict.TOO_LITTLE: "bad"}


def _judged(verdict: str, html: str) -> str:
    return f'<span class="{_CLASSES[Verdict(verdict)]}">{html}</span>'


def _machines(data: Data, units: AirUnits, words: Words) -> str:
    def rows() -> Iterable[tuple[str, ...]]:
        for row in data["machines"]:
            required = row["required"]
            share = words.share(row["flow"] / required) if required else "–"
            verdict = [_air(row, words)]
            if row["slow"]:
                ducts = ", ".join(row["slow"])
                verdict.append(_bad(words.html(Line.SLOW_IN, ducts=ducts)))
            elif row["marginal"]:
                ducts = ", ".join(row["marginal"])
                text = words.html(Line.MARGINAL_IN, ducts=ducts)
                verdict.append(_judged(Verdict.MARGINAL, text))
            if row["stalled"]:
                verdict.append(_bad(words.html(Line.MAY_SURGE)))
            yield (
                escape(row["name"]),
                units.flow.bare(row["flow"]),
                f"{units.flow.bare(required)}{MARKS.get(row['required_status'], '')}"
                if required
                else "–",
                escape(share),
                units.velocity.bare(row["main_velocity"]),
                units.velocity.bare(row["transport"]),
                escape(words.material(row["material"])),
                reduce(words.both, verdict),
            )

    return _table(
        (
            (words.html(Line.MACHINE), False),
            (words.html(Line.GETS, unit=units.flow.sign), True),
            (words.html(Line.NEEDS), True),
            ("", True),
            (words.html(Line.MAIN, unit=units.velocity.sign), True),
            (words.html(Line.NEEDS), True),
            (words.html(Line.CARRIES), False),
            ("", False),
        ),
        rows(),
    )


def _air(row: Data, words: Words) -> str:
    """Return whether a machine gets enough."""
    if not row["required"]:
        return words.html(Line.NEED_UNKNOWN)
    return _judged(row["verdict"], words.html(AIR_WORDS[Verdict(row["verdict"])]))


def _pairs(data: Data, words: Words) -> str:
    names = [machine["name"] for machine in data["machines"]]
    if len(names) < 2:
        return f"<p>{words.html(Line.ONLY_ONE)}</p>"
    cells: dict[frozenset[str], str] = {}
    for pair in data["pairs"]:
        worst = min(
            (m["flow"] / m["required"] for m in pair["machines"] if m["required"]),
            default=None,
        )
        share = "–" if worst is None else escape(words.share(min(worst, 9.99)))
        text = _judged(pair["verdict"], share)
        if not pair["main_ok"]:
            text += f"<br>{_bad(words.html(Line.SLOW))}"
        cells[frozenset(m["name"] for m in pair["machines"])] = text
    head = "".join(f"<th><span>{escape(name)}</span></th>" for name in names[:-1])
    # Columns are as wide as the longest words of their names, and a page has an end.
    letters = sum(max(map(len, name.split()), default=0) for name in names[:-1])
    tall = " tall" if letters > _LETTERS else ""
    body = "".join(
        f"<tr><th>{escape(one)}</th>"
        + "".join(
            f"<td>{cells[frozenset((one, other))]}</td>"
            if column < row
            else "<td></td>"
            for column, other in enumerate(names[:-1])
        )
        + "</tr>"
        for row, one in enumerate(names)
        if row
    )
    grid = (
        f'<table class="grid{tall}"><thead><tr><th></th>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table>"
    )
    return f'{_wide(grid)}<p class="foot">{words.html(Line.WORSE_OFF)}</p>'


def _combinations(data: Data, units: AirUnits, words: Words) -> str:
    kinds = {
        "machine": words.html(Line.ALONE),
        "pair": "",
        "clearing": words.html(Line.CLEARING),
        "seen": words.html(Line.MET_IN_USE),
    }
    rows = sorted(
        data["combinations"], key=lambda row: row["main_velocity"] - row["main_needed"]
    )
    head = (
        (words.html(Line.OPEN_FOR), False),
        (words.html(Line.MAIN, unit=units.velocity.sign), True),
        (words.html(Line.NEEDS), True),
        ("", False),
    )
    moves = {
        Verdict.ENOUGH: words.html(Line.MOVES),
        Verdict.MARGINAL: words.html(Line.JUST_MOVES),
        Verdict.TOO_LITTLE: words.html(Line.MAY_SETTLE),
    }
    half = (len(rows) + 1) // 2
    tables = (
        _table(
            head,
            (
                (
                    f'{escape(row["name"])} <span class="sub">{kinds[row["kind"]]}</span>',
                    units.velocity.bare(row["main_velocity"]),
                    units.velocity.bare(row["main_needed"]),
                    _judged(row["main_verdict"], moves[Verdict(row["main_verdict"])]),
                )
                for row in column
            ),
        )
        for column in (rows[:half], rows[half:])
        if column
    )
    return f'<div class="cards small">{"".join(tables)}</div>'


def _card(machine: Data, units: AirUnits, words: Words) -> str:
    bars = "".join(
        f'<div class="bar"><span>{escape(_place(limit, words))}</span>'
        f'<i style="width:{100 * limit["share"]:.0f}%"></i>'
        f'<span class="n">{escape(words.share(limit["share"]))}</span></div>'
        for limit in machine["limits"][:6]
    )
    opened = [
        words.html(
            Line.OPEN_AS_WELL,
            gates=", ".join(option["gates"]),
            velocity=units.velocity.text(option["main_velocity"]),
        )
        for option in machine["relief"][:1]
    ]
    helps = [
        words.html(
            Line.HELP_BUT_SLOW if gain["slows"] else Line.HELP,
            change=_change(gain, units, words),
            gain=words.share(gain["gain"], "+"),
            ducts=", ".join(gain["slows"]),
        )
        for gain in machine["what_if"][:4]
    ]
    fan = words.html(
        Line.AT_THE_FAN,
        flow=units.flow.text(machine["flow"]),
        pressure=units.pressure.text(machine["fan_pressure"]),
        time=f"{machine['emptying']:.1f}",
    )
    listed = "".join(f"<li>{text}</li>" for text in (*opened, *helps))
    return (
        f'<div class="card"><h3>{escape(machine["name"])}</h3>'
        f'<p class="foot">{fan}</p>{bars}<ul>{listed}</ul></div>'
    )


def _place(limit: Data, words: Words) -> str:
    loss = words.loss(limit["kind"])
    if not limit["element"]:
        return loss
    return words.line(Line.LOSS_AT, loss=loss, element=limit["element"])


def _change(gain: Data, units: AirUnits, words: Words) -> str:
    value = gain["value"]
    change = words.change(
        gain["change"],
        width=units.width.text(value),
        length=units.length.text(value),
        ratio=f"{value:g}",
        angle=f"{value:g}",
    )
    if not gain["element"]:
        return change
    return words.line(Line.CHANGE_AT, element=gain["element"], change=change)


def _ducts(data: Data, units: AirUnits, words: Words) -> str:
    def rows() -> Iterable[tuple[str, ...]]:
        for duct in data["ducts"]:
            slowest = duct["slowest"]
            yield (
                escape(duct["name"]),
                escape(duct["into"]) or words.html(Line.THE_COLLECTOR),
                units.width.bare(duct["diameter"]),
                units.length.bare(duct["length"]),
                "–" if slowest is None else units.velocity.bare(slowest["velocity"]),
                "–" if slowest is None else units.velocity.bare(slowest["transport"]),
                words.html(Line.NO_MACHINE_ALONE)
                if slowest is None
                else escape(slowest["name"])
                if slowest["carries"]
                else _bad(escape(slowest["name"])),
            )

    return _table(
        (
            (words.html(Line.DUCT), False),
            (words.html(Line.FLOWS_INTO), False),
            (words.html(Line.WIDTH, unit=units.width.sign), True),
            (words.html(Line.LENGTH, unit=units.length.sign), True),
            (words.html(Line.SLOWEST, unit=units.velocity.sign), True),
            (words.html(Line.NEEDS), True),
            (words.html(Line.SLOWEST_WITH), False),
        ),
        rows(),
    )
