"""The report's first page: only what every owner needs.

It shows which machines are fine and which aren't, the three changes that help most, and
a port or a fan that can't do it before it blames the ducts.
"""

from collections.abc import Iterator

from ...core.airflow import AirflowFinding, ChangeKind, Verdict
from .data import Data
from .report_texts import ReportTexts
from .units import AirUnits

_CHANGES = 3

_WORTH = 0.03
"""Least share that a change has to lift the weakest place by to be worth the work: well
inside the error of the figures. Common practice, no source."""

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
            if port["weak_fan"]:
                yield texts.line(
                    "weak_fan",
                    machine=machine["name"],
                    required=units.flow.text(port["required"]),
                    most=units.flow.text(port["most"]),
                )
                continue
            text = texts.line(
                "port_hopeless" if port["hopeless"] else "port",
                machine=machine["name"],
                width=units.width.text(port["diameter"]),
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
    value, kind = gain["value"], gain["change"]
    if kind == ChangeKind.WIDER and gain["piece"] != "pipe":
        kind = f"wider_{gain['piece']}"
    change = texts.of(
        "change",
        kind,
        width=units.width.text(value),
        length=units.length.text(value),
        ratio=f"{value:g}",
        angle=f"{value:g}",
    )
    if not gain["element"]:
        return change
    return texts.line("change_at", element=gain["element"], change=change)


def short_of_air(data: Data) -> list[Data]:
    """Return the machines that have not enough, running alone."""
    return [m for m in data["machines"] if judged(m) is not Verdict.ENOUGH]


def best_changes(data: Data, units: AirUnits, texts: ReportTexts) -> list[str]:
    """Return the three steps that bring the weakest places nearest to their need.

    A bleed gate comes first: it costs nothing. None where all have enough.
    """
    short = short_of_air(data)
    opened: dict[tuple[str, ...], list[str]] = {}
    too_wide: list[str] = []
    left: list[Data] = []
    for machine in short:
        option = next((o for o in machine["relief"][:1] if o["restored"]), None)
        if option is not None:
            opened.setdefault(tuple(option["gates"]), []).append(machine["name"])
            continue
        left.append(machine)
        starved = machine["required"] and machine["verdict"] == Verdict.TOO_LITTLE
        if machine["main_verdict"] == Verdict.TOO_LITTLE and not starved:
            too_wide.append(machine["name"])
    rows = [
        texts.line("open_for_too", gates=", ".join(gates), machines=", ".join(names))
        for gates, names in sorted(opened.items(), key=lambda item: -len(item[1]))
    ]
    if too_wide:
        rows.append(texts.line("too_wide", machines=", ".join(too_wide)))
    return [*rows, *_rebuilding(left, units, texts)][:_CHANGES]


def _rebuilding(
    machines: list[Data], units: AirUnits, texts: ReportTexts
) -> Iterator[str]:
    """Yield what to build otherwise, the most helpful first.

    A change that helps several machines counts for each. Another wheel is a matter of
    motor and housing, so it comes after all that is done to the ducts. Where the fan
    cannot do it through any pipe, no pipe is named.
    """
    gains: dict[tuple[str, str, float], list[tuple[float, Data, Data]]] = {}
    for machine in machines:
        if any(port["weak_fan"] for port in machine["ports"]):
            continue
        for gain in machine["what_if"]:
            if gain["lift"] >= _WORTH and not gain["slows"]:
                key = (gain["change"], gain["element"], round(gain["value"], 4))
                gains.setdefault(key, []).append((gain["lift"], machine, gain))
    best = sorted(
        gains.values(),
        key=lambda found: (
            found[0][2]["change"] == ChangeKind.LARGER_FAN,
            -sum(lift for lift, _, _ in found),
        ),
    )
    for found in best:
        _, machine, gain = max(found, key=lambda each: each[0])
        yield texts.line(
            "change_for",
            change=change_text(gain, units, texts),
            machine=machine["name"],
            gain=texts.nearest_share(gain["gain"], "+"),
        )


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
