"""Calibration results as text: figures, reasons, and a small histogram.

The core returns codes and numbers. Their texts are under `selector`, one list for each
kind of code, so that each can be translated.
"""

from collections.abc import Iterable
from enum import StrEnum

from ...core.calibration.distribution import Bar
from ...core.calibration.drift import Shift
from ...core.calibration.hold_time import (
    HoldLimit,
    HoldOutcome,
    NoProposal,
    WaitProposal,
)
from ...core.calibration.learner import (
    Confidence,
    Learned,
    ProposedLevels,
    Remark,
    RemarkNote,
)
from ...core.calibration.levels import Level, LevelRole, Unlearned
from ...core.calibration.reporting import Advice, Pace, first_cut_delay
from ...core.config import Thresholds
from ...core.units import JOULES_PER_KWH
from ...texts.figures import quantity, rough_duration
from ...texts.texts import Texts
from .evaluation import Found
from .history import NoHistory


class LearningLine(StrEnum):
    """The sentences with figures."""

    LEVELS = "levels"
    LEVEL = "level"
    SEEN = "seen"
    PICTURE = "picture"
    PACE = "pace"
    PACE_ON_CHANGE = "pace_on_change"
    PACE_UNKNOWN = "pace_unknown"
    MACHINE = "machine"
    MACHINE_REFUSED = "machine_refused"
    MACHINES_REFUSED = "machines_refused"
    WAIT = "wait"
    SHUTOFF_DELAY = "run_on"
    WAIT_ENERGY = "wait_energy"
    BREAK_EVEN = "break_even"
    DAYS = "days"


CODES: dict[str, type[StrEnum]] = {
    "found_advice": Advice,
    "found_confidence": Confidence,
    "found_limit": HoldLimit,
    "found_line": LearningLine,
    "found_no_history": NoHistory,
    "found_no_wait": NoProposal,
    "found_remark": Remark,
    "found_role": LevelRole,
    "found_shift": Shift,
    "found_unlearned": Unlearned,
}
"""The kinds of codes, by the list of their texts."""

_KEYS = {kind: key for key, kind in CODES.items()}
_SECONDS = {Remark.LITTLE_RUN_TIME, Remark.SINGLE_READINGS, Remark.LATE}
_IN_UNIT = {
    Remark.OTHER_LOAD,
    Remark.MIGHT_BE_A_LIGHT,
    Remark.SECOND_LEVEL,
    Remark.INRUSH,
    Remark.PART,
}


class LearningTexts(Texts):
    """The texts of calibration results."""

    def of(self, code: StrEnum, **figures: str) -> str:
        """Return the text of a code with its figures."""
        return self(_KEYS[type(code)], code.value, **figures)

    def time(self, seconds: float) -> str:
        """Return a time in s in its largest unit."""
        return rough_duration(seconds, self.of(LearningLine.DAYS))

    # Levels -----------------------------------------------------------------------

    def found(self, found: Found) -> str:
        """Return the result for a machine, as Markdown."""
        if found.nothing is not None:
            return self.of(found.nothing)
        learned = found.learned
        if learned is None:
            return ""
        if learned.refusal is not None:
            return "\n\n".join(
                [
                    self.of(learned.refusal, observed=self.time(learned.observed)),
                    *self._picture(learned, found.unit),
                ]
            )
        proposal = learned.proposal
        if proposal is None:
            return ""
        return "\n\n".join(
            [
                self._proposed(proposal, found.unit),
                self._because(proposal, learned, found.unit),
                *self._picture(learned, found.unit),
                *self._levels(learned.found, found.unit),
                "\n".join([self.pace(learned.pace), *self._advice(found)]),
            ]
        )

    def overview(self, machines: Iterable[tuple[str, Found]]) -> str:
        """Return the results for several machines, in a line or two each.

        Machines that lack the same thing share a line.
        """
        paragraphs = []
        refused: dict[StrEnum, list[str]] = {}
        observed: dict[StrEnum, float] = {}
        for name, found in machines:
            learned = found.learned
            if learned is not None and (proposal := learned.proposal) is not None:
                paragraphs.append(self._in_short(name, found, proposal))
                continue
            reason = found.nothing if learned is None else learned.refusal
            if reason is None:
                continue
            refused.setdefault(reason, []).append(name)
            seen = 0.0 if learned is None else learned.observed
            observed[reason] = max(seen, observed.get(reason, 0.0))
        for missing, names in refused.items():
            why = self.of(missing, observed=self.time(observed[missing]))
            line = (
                LearningLine.MACHINE_REFUSED
                if len(names) == 1
                else LearningLine.MACHINES_REFUSED
            )
            paragraphs.append(self.of(line, name=", ".join(names), why=why))
        return "\n\n".join(paragraphs)

    def _in_short(self, name: str, found: Found, proposal: ProposedLevels) -> str:
        lines = [
            self.of(
                LearningLine.MACHINE,
                name=name,
                levels=self.levels(proposal.levels, found.unit),
                confidence=self.of(proposal.confidence),
            ),
            *self._advice(found)[:1],
        ]
        return " ".join(lines)

    def levels(self, levels: Thresholds, unit: str) -> str:
        """Return levels and confirmation times in one sentence."""
        return self.of(
            LearningLine.LEVELS,
            start=quantity(levels.start, unit),
            stop=quantity(levels.stop, unit),
            start_confirm=f"{levels.start_confirm:g} s",
            stop_confirm=f"{levels.stop_confirm:g} s",
        )

    def pace(self, pace: Pace | None) -> str:
        """Return how the plug reports."""
        if pace is None:
            return self.of(LearningLine.PACE_UNKNOWN)
        return self.of(
            LearningLine.PACE_ON_CHANGE if pace.on_change else LearningLine.PACE,
            interval=self.time(pace.interval),
            shortest=self.time(pace.shortest),
            typical=self.time(pace.typical_delay),
            longest=self.time(pace.longest_delay),
        )

    def _advice(self, found: Found) -> list[str]:
        """Return advice on how the plug reports."""
        learned = found.learned
        if learned is None or learned.proposal is None:
            return []
        levels = learned.proposal.levels
        figures = {
            "delay": self.time(first_cut_delay(learned.pace, levels)),
            "interval": ""
            if learned.pace is None
            else self.time(learned.pace.interval),
        }
        return [self.of(each, **figures) for each in found.advice]

    def _proposed(self, proposal: ProposedLevels, unit: str) -> str:
        levels = self.levels(proposal.levels, unit)
        return f"**{levels}** {self.of(proposal.confidence)}"

    def _because(self, proposal: ProposedLevels, learned: Learned, unit: str) -> str:
        seen = self.of(
            LearningLine.SEEN,
            observed=self.time(learned.observed),
            runs=str(proposal.runs),
            run_time=self.time(proposal.run_time),
            rest=quantity(proposal.rest_high, unit),
            work=quantity(proposal.work_low, unit),
        )
        return "\n".join(
            [seen, *(f"- {self._note(note, unit)}" for note in proposal.notes)]
        )

    def _note(self, note: RemarkNote, unit: str) -> str:
        if note.remark in _IN_UNIT:
            figure = quantity(note.value, unit)
        elif note.remark in _SECONDS:
            figure = f"{note.value:.3g} s"
        else:
            figure = f"{note.value:.2g}" if note.value < 100 else f"{note.value:.0f}"
        return self.of(note.remark, figure=figure)

    def _levels(self, levels: Iterable[Level], unit: str) -> list[str]:
        lines = [
            self.of(
                LearningLine.LEVEL,
                role=self.of(level.role),
                typical=quantity(level.typical, unit),
                low=quantity(level.low, unit),
                high=quantity(level.high, unit),
                time=self.time(level.seconds),
            )
            for level in levels
        ]
        return ["\n".join(f"- {line}" for line in lines)] if lines else []

    def _picture(self, learned: Learned, unit: str) -> list[str]:
        if not learned.picture:
            return []
        days = self.of(LearningLine.DAYS)
        return [
            f"{self.of(LearningLine.PICTURE)}\n\n```\n{picture(learned.picture, unit, days)}\n```"
        ]

    # Waiting ----------------------------------------------------------------------

    def wait(
        self,
        proposal: WaitProposal | NoProposal,
        line: LearningLine = LearningLine.WAIT,
    ) -> str:
        """Return the proposed hold or shut-off delay and its reason, as Markdown."""
        if isinstance(proposal, NoProposal):
            return self.of(proposal)
        saved = proposal.starts_saved
        energy = _energy(proposal.best), _energy(proposal.present)
        lines = [
            self.of(
                line,
                best=f"{proposal.best.wait:g} s",
                present=f"{proposal.present.wait:g} s",
                pauses=str(proposal.pauses),
                starts=f"{proposal.best.starts:.0f}",
                starts_now=f"{proposal.present.starts:.0f}",
                saved=f"{saved:+.0f}",
                waited=self.time(proposal.best.waited),
                waited_now=self.time(proposal.present.waited),
            )
        ]
        if energy[0] is not None and energy[1] is not None:
            lines.append(
                self.of(
                    LearningLine.WAIT_ENERGY,
                    energy=f"{energy[0]:.2g} kWh",
                    energy_now=f"{energy[1]:.2g} kWh",
                )
            )
        lines.append(
            self.of(LearningLine.BREAK_EVEN, worth=self.time(proposal.break_even))
        )
        if proposal.limited is not None:
            lines.append(self.of(proposal.limited))
        return "\n\n".join(lines)


def picture(bars: Iterable[Bar], unit: str, days: str = "{count} d") -> str:
    """Return a distribution as lines of equal width for a fixed-width font.

    Each has the upper end of its band, a bar for the time spent there, and the time; an
    arrow marks bands where the machine runs, a dot those where it's off.
    """
    marks = {True: "▶", False: "·", None: " "}
    lines = []
    for bar in bars:
        high = quantity(bar.high, unit)
        time = rough_duration(bar.seconds, days) if bar.seconds else ""
        lines.append(f"{high:>8} {marks[bar.running]} {bar.bar:<24} {time:>6}".rstrip())
    return "\n".join(reversed(lines))


def _energy(outcome: HoldOutcome) -> float | None:
    return None if outcome.energy is None else outcome.energy / JOULES_PER_KWH
