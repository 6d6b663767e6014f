"""The report's first page: only what every owner needs.

It shows which machines are fine and which aren't, the three most effective changes, and
ports that are too small before it blames the ducts.
"""

from collections.abc import Iterator

from ...core.airflow import AirflowFinding, Verdict
from .data import Data
from .report_texts import ReportTexts
from .units import AirUnits

_CHANGES = 3

_GROUPS = (
    (Verdict.TOO_LITTLE, "not_fine", "bad"),
    (Verdict.MARGINAL, "just_fine", "fair"),
    (Verdict.ENOUGH, "fine", "ok"),
)


def judged(machine: Data) -> Verdict:
    """Return the verdict on a machine running alone: its flow and all velocities."""
    key = "set_verdict" if machine["required"] else "main_verdict"
    return Verdict(machine[key])


def groups(data: Data, texts: ReportTexts) -> Iterator[Data]:
    """Yield the machines by verdict, worst first."""
    for verdict, line, tone in _GROUPS:
        found = [_why(m, texts) for m in data["machines"] if judged(m) is verdict]
        if found:
            yield {"line": line, "tone": tone, "machines": found}


def _why(machine: Data, texts: ReportTexts) -> str:
    """Return a machine's name and its problems."""
    name = str(machine["name"])
    why = []
    if machine["required"] and machine["verdict"] == Verdict.TOO_LITTLE:
        why.append(texts.line("too_little_air"))
    if machine["slow"]:
        why.append(texts.line("slow"))
    return f"{name} ({'; '.join(why)})" if why else name


def ports(data: Data, units: AirUnits, texts: ReportTexts) -> Iterator[str]:
    """Yield the ports that can't give their machine its flow, and a size that can."""
    for machine in data["machines"]:
        for port in machine["ports"]:
            text = texts.line(
                "port_hopeless" if port["hopeless"] else "port",
                machine=machine["name"],
                width=units.width.text(port["diameter"]),
                velocity=units.velocity.text(port["velocity"]),
                possible=units.flow.text(port["possible"]),
            )
            larger, count = port["larger"], str(port["count"])
            if larger is None:
                more = texts.line("port_more", count=count)
            else:
                width = units.width.text(larger)
                more = texts.line("port_larger", width=width, count=count)
            yield f"{text} {more}"


def change_text(gain: Data, units: AirUnits, texts: ReportTexts) -> str:
    """Return what to change, and where."""
    value = gain["value"]
    change = texts.of(
        "change",
        gain["change"],
        width=units.width.text(value),
        length=units.length.text(value),
        ratio=f"{value:g}",
        angle=f"{value:g}",
    )
    if not gain["element"]:
        return change
    return texts.line("change_at", element=gain["element"], change=change)


def best_changes(data: Data, units: AirUnits, texts: ReportTexts) -> list[str]:
    """Return the three most effective changes where a machine lacks flow.

    A change that helps several machines counts for each. If all have enough, all
    machines' changes are compared.
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
    rows = [
        texts.line("open_for_too", gates=", ".join(gates), machines=", ".join(names))
        for gates, names in sorted(opened.items(), key=lambda item: -len(item[1]))[:1]
    ]
    for found in best[: _CHANGES - len(rows)]:
        _, machine, gain = max(found, key=lambda each: each[0])
        rows.append(
            texts.line(
                "change_for",
                change=change_text(gain, units, texts),
                machine=machine["name"],
                gain=texts.nearest_share(gain["gain"], "+"),
            )
        )
    return rows


def diagnosis(data: Data, units: AirUnits, texts: ReportTexts) -> list[str]:
    """Return what the last readings mean, and what tells the causes apart."""
    found = data["diagnosis"]
    if found is None or found["finding"] == AirflowFinding.AS_EXPECTED:
        return []
    lines = [
        texts.line(
            "suspect_at" if suspect["part"] else "suspect",
            cause=texts.of("finding", suspect["finding"]),
            part=suspect["part"],
            likelihood=texts.nearest_share(suspect["likelihood"]),
            lost=texts.nearest_share(suspect["lost"]),
        )
        for suspect in found["suspects"]
    ]
    for check in found["checks"]:
        # Opening gates gives a pressure reading; a port gives a flow reading.
        unit = units.pressure if check["do"] == "open_gates" else units.flow
        lines.append(
            texts.line(
                f"do_{check['do']}",
                gates=", ".join(check["gates"]),
                part=check["part"],
                values=" / ".join(map(unit.text, check["expected"])),
            )
        )
    return lines
