"""The texts of the airflow report, in Home Assistant's language.

The action's response and the table are for programs and stay as they are: codes,
English column names, figures. Names of published sources are never translated.
"""

from typing import Final

from ...texts.pages import PageTexts

NOTES: Final = ("memory", "practice", "losses", "velocities", "computed", "safety")
"""Notes on the sources of the figures."""

MARKS: Final = {"memory": "*", "practice": "†", "none": "–"}
"""The mark behind a required flow that is neither read nor the owner's."""


class ReportTexts(PageTexts):
    """The texts in one language."""

    page = "report"

    def note(self, note: str) -> str:
        """Return a note, with the mark of the figures that it explains."""
        return self.of("note", note, mark=MARKS.get(note, ""))
