"""The texts of the sizing page and of the pipe list, in Home Assistant's language."""

from typing import override

from ...texts.pages import PageTexts
from .data import Data
from .units import AirUnits

NOTES = ("listed", "margin", "figures", "fan", "criteria", "safety")
"""Notes below the figures; the first is only for a plain list."""

_SOLVED = 1e-5
"""The solver's tolerance for a share."""


class SizingTexts(PageTexts):
    """The texts in one language."""

    page = "sizing"

    @override
    def share(self, share: float) -> str:
        """Return a share in percent, never rounded up to a whole that it misses."""
        return super().share(share + _SOLVED)

    def place(self, name: str, listed: bool) -> str:
        """Return the name of a pipe; those of a plain list have numbers."""
        if listed and name.startswith("main ") and name[5:].isdigit():
            return self.line("main_piece", number=name[5:])
        return name

    def item(self, item: Data, units: AirUnits) -> tuple[str, str]:
        """Return a line of the shopping list: the item and its quantity."""
        name = self.of(
            "item",
            item["item"],
            width=units.width.text(item["diameter"]),
            other=units.width.text(item["other"]),
            angle=f"{item['angle']:g}",
            radius=f"{item['radius']:g}",
        )
        count = str(item["count"])
        if not item["length"]:
            return name, count
        amount = units.length.text(item["length"])
        if item["item"] == "pipe":
            piece = units.length.text(item["piece"])
            amount = self.line("pieces", length=amount, count=count, piece=piece)
        return name, amount

    def change(self, change: Data, units: AirUnits) -> str:
        """Return one of the possible improvements."""
        widths = (
            f"{name} {units.width.text(width)}"
            for name, width in change["widths"].items()
        )
        return self.of(
            "change",
            change["change"],
            machines=", ".join(widths) or ", ".join(change["elements"]),
            flow=units.flow.text(change["flow"]),
            pressure=units.pressure.text(change["pressure"]),
        )


def sizing_text(data: Data, units: AirUnits, texts: SizingTexts) -> str:
    """Return verdict, pipe list and shopping list as lines of text."""
    lines = [texts.line(data["verdict"]), *shortfalls(data, texts)]
    lines += [f"- {texts.change(change, units)}" for change in data["changes"]]
    lines.append(f"{texts.line('pipes')}:")
    for segment in data["segments"]:
        line = texts.line(
            "pipe_line",
            name=texts.place(segment["name"], data["listed"]),
            width=units.width.text(segment["diameter"]),
            length=units.length.text(segment["length"]),
        )
        lines.append(f"- {line}")
    lines.append(f"{texts.line('material')}:")
    for item in data["materials"]:
        lines.append(f"- {': '.join(texts.item(item, units))}")
    return "\n".join(lines)


def shortfalls(data: Data, texts: SizingTexts) -> list[str]:
    """Return the shortfalls, worst first: machine and rule.

    A missing part of the margin is listed only if nothing is worse.
    """
    if data["verdict"] == "enough":
        return []
    ducts = {one["name"] for one in data["segments"] if one["kind"] == "duct"}

    def rule(one: Data) -> str:
        if one["rule"] == "flow":
            return "short_flow"
        return "short_velocity" if one["element"] in ducts else "short_pipe"

    return [
        texts.line(
            rule(one),
            machines=one["name"],
            share=texts.share(one["ratio"]),
            place=texts.place(one["element"], data["listed"]),
        )
        for one in sorted(data["sets"], key=lambda one: float(one["ratio"]))
        if one["verdict"] == data["verdict"]
    ]
