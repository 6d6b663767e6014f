"""The texts of the sizing page and of the pipe list, in Home Assistant's language."""

from collections.abc import Mapping
from enum import StrEnum
from html import escape
from typing import Any

from ..wording import Wording
from .units import AirUnits


class SizingLine(StrEnum):
    """The texts of the page and the list."""

    LANGUAGE = "language"
    TITLE = "title"
    HEADING = "heading"
    COMPUTED = "computed"
    ENOUGH = "enough"
    MARGINAL = "marginal"
    TOO_LITTLE = "too_little"
    SHORT_FLOW = "short_flow"
    SHORT_VELOCITY = "short_velocity"
    SHORT_PIPE = "short_pipe"
    MAY_SURGE = "may_surge"
    LEFT_OUT = "left_out"
    WHAT_HELPS = "what_helps"
    STEPS = "steps"
    REACHES = "reaches"
    PIPES = "pipes"
    PIPE_LINE = "pipe_line"
    MATERIAL = "material"
    WITH_WASTE = "with_waste"
    THE_FAN = "the_fan"
    FAN_NEEDED = "fan_needed"
    FAN_MUST = "fan_must"
    FAN_WORKS = "fan_works"
    CURVES = "curves"
    CURVE_DOES = "curve_does"
    CURVE_MARGINAL = "curve_marginal"
    CURVE_DOES_NOT = "curve_does_not"
    SHEETS = "sheets"
    SHEET = "sheet"
    SHEET_WITH = "sheet_with"
    SOURCES = "sources"
    PART = "part"
    AMOUNT = "amount"
    WIDTH = "width"
    LENGTH = "length"
    RUNNING = "running"
    FLOW = "flow"
    PRESSURE = "pressure"
    SUCTION = "suction"
    VELOCITY = "velocity"
    VELOCITY_PRESSURE = "velocity_pressure"
    HOOD = "hood"
    FRICTION = "friction"
    ELBOWS = "elbows"
    BRANCH = "branch"
    OTHER = "other"
    STATIC = "static"
    PIECES = "pieces"
    MAIN_PIECE = "main_piece"
    PERCENT = "percent"


class SizingNote(StrEnum):
    """What is said below the figures."""

    LISTED = "listed"
    MARGIN = "margin"
    FIGURES = "figures"
    FAN = "fan"
    CRITERIA = "criteria"
    SAFETY = "safety"


class SizingWords(Wording):
    """The words of one language."""

    def line(self, line: SizingLine, **gaps: str) -> str:
        """Return a text with its gaps filled."""
        return self("sizing_line", line, **gaps)

    def html(self, line: SizingLine, **gaps: str) -> str:
        """Return a text with its gaps filled, to be put into a page as it is."""
        return escape(self.line(line, **gaps))

    def note(self, note: SizingNote) -> str:
        """Return a note."""
        return self("sizing_note", note)

    def share(self, share: float) -> str:
        """Return a share in percent, never rounded up to a whole it does not reach."""
        return self.line(SizingLine.PERCENT, value=f"{int(100 * share + 1e-3)}")

    def place(self, name: str, listed: bool) -> str:
        """Return what a pipe is called; those of a plain list have numbers."""
        if listed and name.startswith("main ") and name[5:].isdigit():
            return self.line(SizingLine.MAIN_PIECE, number=name[5:])
        return name

    def item(self, item: Mapping[str, Any], units: AirUnits) -> tuple[str, str]:
        """Return a line of the material list: what it is, and how much of it."""
        name = self(
            "sizing_item",
            item["item"],
            width=units.width.text(item["diameter"]),
            other=units.width.text(item["other"]),
            angle=f"{item['angle']:g}",
            radius=f"{item['radius']:g}",
        )
        if not item["length"]:
            return name, str(item["count"])
        amount = units.length.text(item["length"])
        if item["item"] == "pipe":
            amount = self.line(
                SizingLine.PIECES,
                length=amount,
                count=str(item["count"]),
                piece=units.length.text(item["piece"]),
            )
        return name, amount

    def change(self, change: Mapping[str, Any], units: AirUnits) -> str:
        """Return one of the changes that would help."""
        listed = ", ".join(change["elements"])
        widths = change["widths"]
        return self(
            "sizing_change",
            change["change"],
            machines=", ".join(
                f"{name} {units.width.text(width)}" for name, width in widths.items()
            )
            or listed,
            flow=units.flow.text(change["flow"]),
            pressure=units.pressure.text(change["pressure"]),
        )


def spoken(data: Mapping[str, Any], units: AirUnits, words: SizingWords) -> str:
    """Return verdict, pipe list and material list as lines of text."""
    listed = data["listed"]
    lines = [words.line(SizingLine(data["verdict"]))]
    lines += shortfalls(data, words)
    lines += [f"- {words.change(change, units)}" for change in data["changes"]]
    lines.append(f"{words.line(SizingLine.PIPES)}:")
    lines += [
        "- "
        + words.line(
            SizingLine.PIPE_LINE,
            name=words.place(segment["name"], listed),
            width=units.width.text(segment["diameter"]),
            length=units.length.text(segment["length"]),
        )
        for segment in data["segments"]
    ]
    lines.append(f"{words.line(SizingLine.MATERIAL)}:")
    for item in data["materials"]:
        name, amount = words.item(item, units)
        lines.append(f"- {name}: {amount}")
    return "\n".join(lines)


def shortfalls(data: Mapping[str, Any], words: SizingWords) -> list[str]:
    """Return what falls short, the worst first: which machine, and which rule.

    What only lacks a part of its margin is told where nothing is worse.
    """
    ducts = {one["name"] for one in data["segments"] if one["kind"] == "duct"}

    def rule(one: Mapping[str, Any]) -> SizingLine:
        if one["rule"] == "flow":
            return SizingLine.SHORT_FLOW
        if one["element"] in ducts:
            return SizingLine.SHORT_VELOCITY
        return SizingLine.SHORT_PIPE

    found = sorted(data["sets"], key=lambda one: float(one["ratio"]))
    if data["verdict"] == "enough":
        return []
    return [
        words.line(
            rule(one),
            machines=one["name"],
            share=words.share(one["ratio"]),
            place=words.place(one["element"], data["listed"]),
        )
        for one in found
        if one["verdict"] == data["verdict"]
    ]
