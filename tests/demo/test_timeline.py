"""What the demo prints stays within its width, however much there is to say."""

import io

from demo.timeline import Timeline


def test_a_long_line_goes_on_below_its_text() -> None:
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
