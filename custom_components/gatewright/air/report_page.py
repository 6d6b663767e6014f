"""The printable page of a system's airflow, from its assessment."""

from collections.abc import Iterable, Mapping
from html import escape
from typing import Any

from .ducts import AirShop
from .report_drawing import drawing
from .report_words import CHANGES, CRITERIA, LOSSES, MARKS, MATERIALS, NOTES
from .units import AirUnits

type Data = Mapping[str, Any]

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
td, th { padding: 3px 6px; border-bottom: 1px solid #dde2e5; vertical-align: top }
.n { text-align: right } tr { break-inside: avoid }
.ok { color: #17643a; font-weight: 600 } .bad { color: #a3211a; font-weight: 600 }
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
.grid td, .grid th { text-align: center; font-size: 11px; padding: 3px } .grid th:first-child { text-align: left; white-space: nowrap }
.grid thead th { vertical-align: bottom } .note { border-left: 4px solid #b98900; padding: 6px 10px; background: #fbf6e6; break-inside: avoid; print-color-adjust: exact; -webkit-print-color-adjust: exact }
.foot { font-size: 11px; color: #566068 } @media print { body { padding: 0; max-width: none } }
"""


def page(shop: AirShop, data: Data, units: AirUnits, when: str) -> str:
    """Return the page; `when` says when it was computed."""
    ducts = {duct["id"]: duct for duct in data["ducts"]}
    name = escape(data["system"])
    speed = "" if data["speed"] == 1 else f", fan at {data['speed']:.0%} of its speed"
    body = [
        f"<h1>{name}: what each pickup really gets</h1>",
        f'<p class="sub">Computed {escape(when)} for air of '
        f"{data['air_density']:.2f} kg/m³{speed}.</p>",
        _verdict(data),
        "<h2>The ducts</h2>",
        drawing(shop, ducts, units),
        '<p class="foot">Not to scale. ≥ is the velocity '
        "with the machine alone that moves least air there; dashed: too slow for what "
        "it carries.</p>",
        "<h2>Each machine alone</h2>",
        _machines(data, units),
        "<h2>Two machines together</h2>",
        _pairs(data),
        "<h2>The main, for every combination in use</h2>",
        f'<p class="note">{CRITERIA}</p>',
        _combinations(data, units),
        "<h2>Where the suction goes, and what would help</h2>",
        '<div class="cards">',
        *(_card(machine, units) for machine in data["machines"]),
        "</div>",
        "<h2>Ducts</h2>",
        _ducts(data, units),
        "<h2>Where the figures are from</h2>",
        *(f'<p class="foot">{escape(note)}</p>' for note in NOTES),
    ]
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{name}: airflow</title><style>{_STYLE}</style></head><body>"
        f"{''.join(body)}</body></html>"
    )


def _verdict(data: Data) -> str:
    machines, pairs, sets = data["machines"], data["pairs"], data["combinations"]
    asked = [machine for machine in machines if machine["required"]]
    tiles = (
        (asked, "enough", "machines get enough air when alone"),
        (pairs, "enough", "pairs of machines get enough air together"),
        (sets, "main_ok", "combinations keep the main moving"),
    )
    text = "".join(
        f"<div><b>{sum(row[key] for row in rows)} of {len(rows)}</b>{words}</div>"
        for rows, key, words in tiles
        if rows
    )
    left = ""
    if data["not_placed"]:
        names = escape(", ".join(data["not_placed"]))
        left = f"<p>Left out, as not all their gates sit on ducts: {names}.</p>"
    return f'<div class="verdict">{text}</div>{left}'


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
    return f"<table><thead><tr>{title}</tr></thead><tbody>{lines}</tbody></table>"


def _yes(value: bool, yes: str, no: str) -> str:
    return f'<span class="{"ok" if value else "bad"}">{yes if value else no}</span>'


def _machines(data: Data, units: AirUnits) -> str:
    def rows() -> Iterable[tuple[str, ...]]:
        for row in data["machines"]:
            required = row["required"]
            share = f"{row['flow'] / required:.0%}" if required else "–"
            verdict = [_yes(row["enough"], "enough air", "too little air")]
            if not required:
                verdict = ["need not known"]
            if row["slow"]:
                verdict.append(f'<span class="bad">slow in {_list(row["slow"])}</span>')
            if row["stalled"]:
                verdict.append('<span class="bad">fan may surge</span>')
            yield (
                escape(row["name"]),
                units.flow.bare(row["flow"]),
                f"{units.flow.bare(required)}{MARKS.get(row['required_status'], '')}"
                if required
                else "–",
                share,
                units.velocity.bare(row["main_velocity"]),
                units.velocity.bare(row["transport"]),
                escape(MATERIALS[row["material"]]),
                "; ".join(verdict),
            )

    return _table(
        (
            ("Machine", False),
            (f"Gets, {units.flow.sign}", True),
            ("Needs", True),
            ("", True),
            (f"Main, {units.velocity.sign}", True),
            ("Needs", True),
            ("Carries", False),
            ("", False),
        ),
        rows(),
    )


def _list(names: Iterable[str]) -> str:
    return escape(", ".join(names))


def _pairs(data: Data) -> str:
    names = [machine["name"] for machine in data["machines"]]
    if len(names) < 2:
        return "<p>There is only one.</p>"
    cells: dict[frozenset[str], str] = {}
    for pair in data["pairs"]:
        worst = min(
            (m["flow"] / m["required"] for m in pair["machines"] if m["required"]),
            default=None,
        )
        share = "–" if worst is None else f"{min(worst, 9.99):.0%}"
        text = _yes(pair["enough"], share, share)
        if not pair["main_ok"]:
            text += '<br><span class="bad">slow</span>'
        cells[frozenset(m["name"] for m in pair["machines"])] = text
    head = "".join(f"<th>{escape(name)}</th>" for name in names[:-1])
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
    return (
        f'<table class="grid"><thead><tr><th></th>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table>"
        '<p class="foot">What the one of the two that is worse off gets of the air it '
        "needs. Slow: the main does not keep the material moving.</p>"
    )


def _combinations(data: Data, units: AirUnits) -> str:
    kinds = {
        "machine": "alone",
        "pair": "",
        "clearing": "clearing",
        "seen": "met in use",
    }
    rows = sorted(
        data["combinations"], key=lambda row: row["main_velocity"] - row["main_needed"]
    )
    head = (
        ("Open for", False),
        (f"Main, {units.velocity.sign}", True),
        ("Needs", True),
        ("", False),
    )
    half = (len(rows) + 1) // 2
    tables = (
        _table(
            head,
            (
                (
                    f'{escape(row["name"])} <span class="sub">{kinds[row["kind"]]}</span>',
                    units.velocity.bare(row["main_velocity"]),
                    units.velocity.bare(row["main_needed"]),
                    _yes(row["main_ok"], "moves", "may settle"),
                )
                for row in column
            ),
        )
        for column in (rows[:half], rows[half:])
        if column
    )
    return f'<div class="cards small">{"".join(tables)}</div>'


def _card(machine: Data, units: AirUnits) -> str:
    bars = "".join(
        f'<div class="bar"><span>{_place(limit)}</span>'
        f'<i style="width:{100 * limit["share"]:.0f}%"></i>'
        f'<span class="n">{limit["share"]:.0%}</span></div>'
        for limit in machine["limits"][:6]
    )
    helps = [
        f"{_change(gain, units)}: {gain['gain']:+.0%}"
        + (f" (but slow: {_list(gain['slows'])})" if gain["slows"] else "")
        for gain in machine["what_if"][:4]
    ]
    opened = [
        f"open {_list(option['gates'])} as well: main at "
        f"{units.velocity.text(option['main_velocity'])}"
        for option in machine["relief"][:1]
    ]
    listed = "".join(f"<li>{text}</li>" for text in (*opened, *helps))
    return (
        f'<div class="card"><h3>{escape(machine["name"])}</h3>'
        f'<p class="foot">{units.flow.text(machine["flow"])} at '
        f"{units.pressure.text(machine['fan_pressure'])} of the fan; the duct is empty "
        f"after {machine['transit']:.1f} s at least</p>{bars}<ul>{listed}</ul></div>"
    )


def _place(limit: Data) -> str:
    where = f", {limit['element']}" if limit["element"] else ""
    return escape(f"{LOSSES[limit['kind']]}{where}")


def _change(gain: Data, units: AirUnits) -> str:
    value = gain["value"]
    words = CHANGES[gain["change"]].format(
        width=units.width.text(value),
        length=units.length.text(value),
        ratio=f"{value:g}",
        angle=f"{value:g}",
    )
    return escape(f"{gain['element']}: {words}" if gain["element"] else words)


def _ducts(data: Data, units: AirUnits) -> str:
    def rows() -> Iterable[tuple[str, ...]]:
        for duct in data["ducts"]:
            slowest = duct["slowest"]
            yield (
                escape(duct["name"]),
                escape(duct["into"] or "the collector"),
                units.width.bare(duct["diameter"]),
                units.length.bare(duct["length"]),
                "–" if slowest is None else units.velocity.bare(slowest["velocity"]),
                "–" if slowest is None else units.velocity.bare(slowest["transport"]),
                "no machine alone"
                if slowest is None
                else escape(slowest["name"])
                if slowest["carries"]
                else f'<span class="bad">{escape(slowest["name"])}</span>',
            )

    return _table(
        (
            ("Duct", False),
            ("Flows into", False),
            (f"Width, {units.width.sign}", True),
            (f"Length, {units.length.sign}", True),
            (f"Slowest, {units.velocity.sign}", True),
            ("Needs", True),
            ("With", False),
        ),
        rows(),
    )
