"""The texts of the report in the hub's language, English where there is none of ours.

They are among the texts for choices (the category `selector`), one list for each kind
of code, like everything that is told in words. What the action returns and the table
are for programs and stay as they are: codes, English column names, figures. The names
of published sources are in their own language everywhere.
"""

from enum import StrEnum
from html import escape
from typing import Final

from ..airflow import Verdict
from ..filling import filled
from ..wording import Wording


class Line(StrEnum):
    """The texts of the page and the drawing."""

    LANGUAGE = "language"
    """The language that the texts are in, for the page's own `lang`."""

    TITLE = "title"
    HEADING = "heading"
    COMPUTED = "computed"
    COMPUTED_AT_SPEED = "computed_at_speed"
    COUNT = "count"
    COUNT_MARGINAL = "count_marginal"
    FINE = "fine"
    JUST_FINE = "just_fine"
    NOT_FINE = "not_fine"
    CHANGES = "changes"
    CHANGE_FOR = "change_for"
    OPEN_FOR_TOO = "open_for_too"
    NO_CHANGES = "no_changes"
    PORT = "port"
    PORT_HOPELESS = "port_hopeless"
    PORT_LARGER = "port_larger"
    PORT_MORE = "port_more"
    FAN_PLOT = "fan_plot"
    FAN_PLOT_READ = "fan_plot_read"
    MAY_SURGE_HERE = "may_surge_here"
    FLOW_AXIS = "flow_axis"
    PRESSURE_AXIS = "pressure_axis"
    CALIBRATION = "calibration"
    CALIBRATED = "calibrated"
    CALIBRATED_FAN = "calibrated_fan"
    SCALE = "scale"
    UNCERTAINTY = "uncertainty"
    BRANCH = "branch"
    NOT_CALIBRATED = "not_calibrated"
    DIAGNOSIS = "diagnosis"
    SUSPECT = "suspect"
    SUSPECT_AT = "suspect_at"
    DO_CLEAN_FILTER = "do_clean_filter"
    DO_OPEN_GATES = "do_open_gates"
    DO_READ_PORT = "do_read_port"
    MARGINS = "margins"
    ENOUGH_ALONE = "enough_alone"
    ENOUGH_TOGETHER = "enough_together"
    MAIN_KEEPS_MOVING = "main_keeps_moving"
    LEFT_OUT = "left_out"
    THE_DUCTS = "the_ducts"
    DRAWN = "drawn"
    EACH_ALONE = "each_alone"
    TWO_TOGETHER = "two_together"
    MAIN_IN_USE = "main_in_use"
    CRITERIA = "criteria"
    WHERE_SUCTION_GOES = "where_suction_goes"
    DUCTS = "ducts"
    SOURCES = "sources"
    MACHINE = "machine"
    GETS = "gets"
    NEEDS = "needs"
    MAIN = "main"
    CARRIES = "carries"
    OPEN_FOR = "open_for"
    DUCT = "duct"
    FLOWS_INTO = "flows_into"
    WIDTH = "width"
    LENGTH = "length"
    SLOWEST = "slowest"
    SLOWEST_WITH = "slowest_with"
    ENOUGH_AIR = "enough_air"
    MARGINAL_AIR = "marginal_air"
    TOO_LITTLE_AIR = "too_little_air"
    NEED_UNKNOWN = "need_unknown"
    SLOW_IN = "slow_in"
    MARGINAL_IN = "marginal_in"
    MAY_SURGE = "may_surge"
    BOTH = "both"
    ONLY_ONE = "only_one"
    SLOW = "slow"
    WORSE_OFF = "worse_off"
    ALONE = "alone"
    CLEARING = "clearing"
    MET_IN_USE = "met_in_use"
    MOVES = "moves"
    JUST_MOVES = "just_moves"
    MAY_SETTLE = "may_settle"
    AT_THE_FAN = "at_the_fan"
    OPEN_AS_WELL = "open_as_well"
    HELP = "help"
    HELP_BUT_SLOW = "help_but_slow"
    CHANGE_AT = "change_at"
    LOSS_AT = "loss_at"
    PERCENT = "percent"
    THE_COLLECTOR = "the_collector"
    NO_MACHINE_ALONE = "no_machine_alone"
    DRAWING = "drawing"
    COLLECTOR = "collector"
    AND_FAN = "and_fan"


class Note(StrEnum):
    """What is said below the figures about where they are from."""

    MEMORY = "memory"
    PRACTICE = "practice"
    LOSSES = "losses"
    VELOCITIES = "velocities"
    COMPUTED = "computed"
    SAFETY = "safety"


AIR_WORDS: Final = {
    Verdict.ENOUGH: Line.ENOUGH_AIR,
    Verdict.MARGINAL: Line.MARGINAL_AIR,
    Verdict.TOO_LITTLE: Line.TOO_LITTLE_AIR,
}

MARKS: Final = {"memory": "*", "practice": "†", "none": "–"}
"""What stands behind a required flow that is not read and not the owner's."""


class Words(Wording):
    """The words of one language."""

    def line(self, line: Line, **gaps: str) -> str:
        """Return a text with its gaps filled."""
        return self("report_line", line, **gaps)

    def html(self, line: Line, **gaps: str) -> str:
        """Return a text with its gaps filled, to be put into a page as it is."""
        return escape(self.line(line, **gaps))

    def both(self, one: str, other: str) -> str:
        """Return two findings, each of them HTML already, as one."""
        return filled(self.html(Line.BOTH), {"one": one, "other": other})

    def loss(self, kind: str) -> str:
        """Return what a kind of loss is called, by its `StepKind`."""
        return self("report_loss", kind)

    def change(self, kind: str, **gaps: str) -> str:
        """Return what a change would be, by its `ChangeKind`."""
        return self("report_change", kind, **gaps)

    def finding(self, kind: str) -> str:
        """Return what a finding is called, by its `Finding`."""
        return self("report_finding", kind)

    def material(self, kind: str) -> str:
        """Return what a material is called, by its key in `MATERIALS_CARRIED`."""
        return self("report_material", kind)

    def note(self, note: Note) -> str:
        """Return a note, with the mark that stands behind the figures it is about."""
        return self("report_note", note, mark=MARKS.get(note, ""))

    def share(self, share: float, sign: str = "") -> str:
        """Return a share in percent; with the sign "+" also where it is a gain."""
        return self.line(Line.PERCENT, value=f"{100 * share:{sign}.0f}")
