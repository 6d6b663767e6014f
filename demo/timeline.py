"""Prints what happens in the workshop, line by line, and remembers what went wrong."""

import asyncio
from dataclasses import dataclass, field
import os
import sys
import textwrap
import time
from typing import TextIO

_ORDER = ("You", "Plug", "Machine", "Collector", "Gate", "Alarm")
"""The order within one instant: causes before consequences."""
_WIDTH = 100
"""The longest line [characters]; the rest is wrapped."""
_TEXT = 22
"""The column of the texts [characters]."""
_INSTANT = 0.05
"""The span that counts as one instant [s]."""

_STYLES = {
    "title": "1",
    "ok": "32",
    "wrong": "1;31",
    "you": "36",
    "alarm": "33",
    "quiet": "2",
}


@dataclass(slots=True)
class Timeline:
    """A list of lines: the time in s since the beginning, who, and what.

    No line goes back in time: a late event counts as simultaneous with the line before
    it.

    Colors are used on a terminal only, and never carry a meaning of their own.
    """

    out: TextIO = field(default_factory=lambda: sys.stdout)
    wrong: list[str] = field(default_factory=list)
    """The failed checks."""
    checks: int = 0
    began: float = field(default_factory=time.time)
    step: str = ""
    _last: float = 0.0
    _heard: list[tuple[float, str, str]] = field(default_factory=list)

    def begin(self) -> None:
        """Count the time from now on."""
        self.began = time.time()

    def title(self, text: str) -> None:
        """Print the title of a step."""
        self.flush()
        self.step = text
        self._print("")
        self._print(text, "title")

    def note(self, text: str = "") -> None:
        """Print a line without a time."""
        self._print(f"{'':{_TEXT}}{text}".rstrip())

    def tell(self, who: str, what: str) -> None:
        """Print that something happens now."""
        self.flush()
        self._line(time.time(), who, what)

    def hear(self, at: float, who: str, what: str) -> None:
        """Record that something happened at an instant in s since the epoch.

        It's printed a moment later, in order with other events of that instant.
        """
        if not self._heard:
            asyncio.get_running_loop().call_later(_INSTANT, self.flush)
        self._heard.append((at, who, what))

    def flush(self) -> None:
        """Print the recorded events."""
        heard, self._heard = sorted(self._heard), []
        while heard:
            first = heard[0][0]
            together = [line for line in heard if line[0] < first + _INSTANT]
            heard = heard[len(together) :]
            for line in sorted(together, key=lambda line: _ORDER.index(line[1])):
                self._line(first, *line[1:])

    def check(self, right: bool, what: str, but: str = "") -> bool:
        """Print whether something is as it should be; `but` says how it is instead."""
        self.checks += 1
        self.flush()
        if right:
            self._print(f"{'':11}ok          {what}", "ok")
        else:
            said = f"{what}: {but}" if but else what
            self.wrong.append(f"{self.step} - {said}" if self.step else said)
            self._print(f"{'':11}WRONG       {said}", "wrong")
        return right

    def table(self, rows: list[tuple[str, ...]]) -> None:
        """Print rows in columns, the first one left-aligned, the others right-aligned."""
        widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
        for row in rows:
            first, *others = (
                cell.ljust(width) if place == 0 else cell.rjust(width)
                for place, (cell, width) in enumerate(zip(row, widths, strict=True))
            )
            self._print("  ".join(["  " + first, *others]).rstrip())

    def _line(self, at: float, who: str, what: str) -> None:
        style = who.casefold() if who.casefold() in _STYLES else None
        at = self._last = max(at, self._last)
        self._print(f"{at - self.began:7.1f} s  {who:10}  {what}", style)

    def _print(self, text: str, style: str | None = None) -> None:
        text = "\n".join(map(_folded, text.split("\n")))
        if style and self._colored:
            text = f"\x1b[{_STYLES[style]}m{text}\x1b[0m"
        print(text, file=self.out, flush=True)

    @property
    def _colored(self) -> bool:
        return self.out.isatty() and "NO_COLOR" not in os.environ


def _folded(line: str) -> str:
    """Return a long line as several, those after the first below its text."""
    if len(line) <= _WIDTH:
        return line
    return textwrap.fill(
        line,
        _WIDTH,
        subsequent_indent=" " * _TEXT,
        replace_whitespace=False,
        break_long_words=False,
        break_on_hyphens=False,
    )
