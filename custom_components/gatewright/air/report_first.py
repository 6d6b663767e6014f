"""The first printed page of the report: what every owner needs, and nothing else.

Which machines are fine, which are not, the three changes that gain most, and a port
that is too small before anything is blamed on ducts.
"""

from collections.abc import Callable, Iterable, Mapping
from html import escape
from typing import Any

from ..airflow import Finding, Verdict
from .report_words import Line, Words
from .units import AirUnits

type Data = Mapping[str, Any]

_CHANGES = 3

_GROUPS = (
    (Verdict.TOO_LITTLE, Line.NOT_FINE, "bad"),
    (Verdict.MARGINAL, Line.JUST_FINE, "fair"),
    (Verdict.ENOUGH, Line.FINE, "ok"),
)


def judged(machine: Data) -> Verdict:
    """Return what a machine running alone is worth: its flow and all velocities."""
    if not machine["required"]:
        return Verdict(machine["main_verdict"])
    return Verdict(machine["set_verdict"])


def machines(data: Data, words: Words) -> str:
    """Return the names of the machines by what they are worth."""

    def group(verdict: Verdict, line: Line, name: str) -> str:
        names = [_why(m, words) for m in data["machines"] if judged(m) is verdict]
        if not names:
            return ""
        return (
            f'<p class="group"><span class="{name}">{words.html(line)}</span> '
            f"{escape(', '.join(names))}</p>"
        )

    return "".join(group(*each) for each in _GROUPS)


def _why(machine: Data, words: Words) -> str:
    """Return a machine's name, and what is wrong at it."""
    name = str(machine["name"])
    why = []
    if machine["required"] and machine["verdict"] == Verdict.TOO_LITTLE:
        why.append(words.line(Line.TOO_LITTLE_AIR))
    if machine["slow"]:
        why.append(words.line(Line.SLOW))
    return f"{name} ({'; '.join(why)})" if why else name


def ports(data: Data, units: AirUnits, words: Words) -> str:
    """Return which ports cannot give their machine its flow, and what would."""
    lines: list[str] = []
    for machine in data["machines"]:
        for port in machine["ports"]:
            text = words.line(
                Line.PORT_HOPELESS if port["hopeless"] else Line.PORT,
                machine=machine["name"],
                width=units.width.text(port["diameter"]),
                velocity=units.velocity.text(port["velocity"]),
                possible=units.flow.text(port["possible"]),
            )
            more = words.line(Line.PORT_MORE, count=str(port["count"]))
            if port["larger"] is not None:
                width = units.width.text(port["larger"])
                more = words.line(
                    Line.PORT_LARGER, width=width, count=str(port["count"])
                )
            lines.append(f'<p class="note">{escape(text)} {escape(more)}</p>')
    return "".join(lines)


def changes(data: Data, words: Words, change: Callable[[Data], str]) -> str:
    """Return the three changes that gain most where something is missing.

    A change that helps several machines counts for each. Where all have enough, those
    of all machines are weighed.
    """
    short = [m for m in data["machines"] if judged(m) is not Verdict.ENOUGH]
    gains: dict[tuple[str, str, float], list[tuple[float, Data, Data]]] = {}
    for machine in short or data["machines"]:
        for gain in machine["what_if"]:
            key = (gain["change"], gain["element"], round(gain["value"], 4))
            gains.setdefault(key, []).append((gain["gain"], machine, gain))
    opened: dict[tuple[str, ...], list[str]] = {}
    for machine in short:
        # A bleed gate costs nothing and makes the main fast enough at once.
        for option in machine["relief"][:1]:
            if option["restored"]:
                opened.setdefault(tuple(option["gates"]), []).append(machine["name"])
    best = sorted(
        gains.values(),
        key=lambda found: -sum(g for g, _, one in found if not one["slows"]),
    )
    rows = []
    for gates, names in sorted(opened.items(), key=lambda item: -len(item[1]))[:1]:
        text = words.line(
            Line.OPEN_FOR_TOO, gates=", ".join(gates), machines=", ".join(names)
        )
        rows.append(f"<li>{escape(text)}</li>")
    for found in best[: _CHANGES - len(rows)]:
        _, machine, gain = max(found, key=lambda each: each[0])
        text = words.line(
            Line.CHANGE_FOR,
            change=change(gain),
            machine=machine["name"],
            gain=words.share(gain["gain"], "+"),
        )
        rows.append(f"<li>{escape(text)}</li>")
    if not rows:
        return f"<p>{words.html(Line.NO_CHANGES)}</p>"
    return f"<ol>{''.join(rows)}</ol>"


def calibration(data: Data, words: Words, table: Callable[..., str]) -> str:
    """Return what a calibration found, or that there is none."""
    found = data["calibration"]
    if found is None:
        return f'<p class="foot">{words.html(Line.NOT_CALIBRATED)}</p>'
    rows: Iterable[tuple[str, str, str]] = (
        (
            name,
            words.share(scale["scale"]),
            f"± {words.share(scale['scale'] * scale['error'])}",
        )
        for name, scale in (
            (words.line(Line.CALIBRATED_FAN), found["fan"]),
            *((branch["name"], branch) for branch in found["branches"]),
        )
    )
    text = words.html(
        Line.CALIBRATED,
        when=found["when"][:10],
        before=words.share(found["error_before"]),
        after=words.share(found["error_after"]),
    )
    return f"<p>{text}</p>" + table(
        (
            (words.html(Line.BRANCH), False),
            (words.html(Line.SCALE), True),
            (words.html(Line.UNCERTAINTY), True),
        ),
        (tuple(map(escape, row)) for row in rows),
    )


def diagnosis(data: Data, units: AirUnits, words: Words) -> str:
    """Return what the last readings mean, and what tells the causes apart."""
    found = data["diagnosis"]
    if found is None or found["finding"] == Finding.AS_EXPECTED:
        return ""
    lines = [
        words.line(
            Line.SUSPECT_AT if suspect["part"] else Line.SUSPECT,
            cause=words.finding(suspect["finding"]),
            part=suspect["part"],
            likelihood=words.share(suspect["likelihood"]),
            lost=words.share(suspect["lost"]),
        )
        for suspect in found["suspects"]
    ]
    for check in found["checks"]:
        gates = ", ".join(check["gates"])
        match check["do"]:
            case "clean_filter":
                lines.append(words.line(Line.DO_CLEAN_FILTER))
            case "open_gates":
                values = " / ".join(map(units.pressure.text, check["expected"]))
                lines.append(words.line(Line.DO_OPEN_GATES, gates=gates, values=values))
            case _:
                values = " / ".join(map(units.flow.text, check["expected"]))
                lines.append(
                    words.line(Line.DO_READ_PORT, part=check["part"], values=values)
                )
    listed = "".join(f"<li>{escape(text)}</li>" for text in lines)
    return f"<h2>{words.html(Line.DIAGNOSIS)}</h2><ol>{listed}</ol>"
