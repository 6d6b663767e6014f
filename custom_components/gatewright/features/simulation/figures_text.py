"""The figures and the chart of a simulation, as text for a form."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from homeassistant.util import dt as dt_util

from ...core.calibration.history import Interval, total
from ...core.simulation.actual import common
from ...core.simulation.simulation import Figures
from ...core.units import HOUR, JOULES_PER_KWH
from ...texts.figures import NOT_KNOWN, date_and_time, duration, share_text
from ...texts.texts import Texts
from ..statistics.time_to_air_text import time_to_air_text
from .manager import SimulatedWeek
from .response import names_of

_MARKS = "·▁▃▅█"
_MOST_DAYS = 14
_MARGIN = 10


def figures_text(texts: Texts, found: SimulatedWeek, machine_id: str) -> dict[str, str]:
    """Return a form's placeholders for one machine and the whole shop."""
    would, was = found.would.figures, found.was
    machine = would.machines[machine_id]
    then = None if was is None else was.machines.get(machine_id)
    raised = sum(change.raised for change in found.would.alarms)
    alarms = found.records.alarms
    return {
        "from": date_and_time(found.begins),
        "to": date_and_time(found.ends),
        "runs": str(machine.runs),
        "run_time": duration(machine.run_time),
        "would_coverage": share_text(machine.collected_share),
        "was_coverage": share_text(None if then is None else then.collected_share),
        "would_time_to_air": texts.seconds(machine.time_to_air),
        "was_time_to_air": texts.seconds(None if then is None else then.time_to_air),
        "time_to_air": time_to_air_text(
            texts, found.would.times_to_air.get(machine_id), names_of(found)
        ),
        "would_alarms": str(raised),
        "was_alarms": NOT_KNOWN if alarms is None else str(alarms.total()),
        **{f"would_{key}": text for key, text in _of_the_shop(would).items()},
        **{f"was_{key}": text for key, text in _of_the_shop(was).items()},
        "chart": chart_text(
            texts, found.would.ran[machine_id], found.begins, found.ends
        ),
    }


def chart_text(
    texts: Texts, ran: Sequence[Interval], begins: datetime, ends: datetime
) -> str:
    """Return a line per day with a mark per hour: the higher, the more it ran."""
    first = dt_util.start_of_local_day(dt_util.as_local(begins))
    last = dt_util.as_local(ends)
    first = max(first, dt_util.start_of_local_day(last - timedelta(days=_MOST_DAYS)))
    rows: list[tuple[str, str]] = [("", "0     6     12    18    24")]
    day = first
    while day < last:
        tomorrow = dt_util.start_of_local_day(day.date() + timedelta(days=1))
        marks = []
        hour = day.timestamp()
        while hour < tomorrow.timestamp():
            spent = total(common(ran, ((hour, hour + HOUR),)))
            marks.append(_MARKS[min(4, 1 + int(4 * spent / HOUR)) if spent else 0])
            hour += HOUR
        rows.append((texts.short_day(day), "".join(marks)))
        day = tomorrow
    # A day's label is longer in some languages than in others.
    margin = max(_MARGIN, *(len(label) for label, _ in rows))
    return "\n".join(f"{label:<{margin}}{marks}" for label, marks in rows)


def _of_the_shop(figures: Figures | None) -> dict[str, str]:
    if figures is None:
        return dict.fromkeys(("starts", "on_time", "energy"), NOT_KNOWN)
    energy = figures.energy
    return {
        "starts": str(figures.starts),
        "on_time": duration(figures.on_time),
        "energy": NOT_KNOWN if energy is None else f"{energy / JOULES_PER_KWH:.1f} kWh",
    }
