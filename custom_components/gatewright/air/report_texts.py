"""The texts of the airflow report, in Home Assistant's language.

What the action returns and the table are for programs and stay as they are: codes,
English column names, figures. The names of published sources are in their own language
everywhere.
"""

from typing import Final

from ..text.pages import PageTexts

NOTES: Final = ("memory", "practice", "losses", "velocities", "computed", "safety")
"""What is said below the figures about where they are from."""

MARKS: Final = {"memory": "*", "practice": "†", "none": "–"}
"""What stands behind a required flow that is neither read nor the owner's."""


class ReportTexts(PageTexts):
    """The texts in one language."""

    page = "report"

    def note(self, note: str) -> str:
        """Return a note, with the mark that stands behind the figures it is about."""
        return self.of("note", note, mark=MARKS.get(note, ""))
