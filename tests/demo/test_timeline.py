"""The demo's output keeps its width and order, however much there is."""

import asyncio
import io
import re

from demo.timeline import Timeline


def test_a_long_line_continues_below_its_text() -> None:
    out = io.StringIO()
    timeline = Timeline(out)
    timeline.title("A title")
    timeline.check(True, "The planer, " + "the jointer, " * 12 + "and no more")
    timeline.note("waiting, " * 20)
    timeline.check(False, "The hub", "it said:\n  one thing   and\n\nanother")
    lines = out.getvalue().splitlines()
    assert max(map(len, lines)) <= 100
    assert lines[1] == "A title"
    assert lines[2].startswith("           ok          The planer, the jointer,")
    assert lines[3].startswith(" " * 22 + "the jointer,")
    said = " ".join(line.strip() for line in lines)
    assert said.count("jointer") == 12
    # What has lines of its own, as the end of a log has, keeps them.
    assert lines[-4:] == [
        f"{'':11}WRONG       The hub: it said:",
        "  one thing   and",
        "",
        "another",
    ]


async def test_lines_are_in_order_though_they_are_heard_late() -> None:
    out = io.StringIO()
    timeline = Timeline(out)
    timeline.begin()
    began = timeline.began
    # Of one instant, with the effect noted before its cause, over a rounding border.
    timeline.hear(began + 1.549, "Machine", "runs")
    timeline.hear(began + 1.551, "Plug", "1,400 W")
    timeline.flush()
    timeline.hear(began + 1.2, "Gate", "opens")
    timeline.flush()
    # Each was going to be printed a moment later.
    await asyncio.sleep(0.1)
    reported = re.findall(r"([\d.]+) s  (\w+)", out.getvalue())
    assert reported == [("1.5", "Plug"), ("1.5", "Machine"), ("1.5", "Gate")]
