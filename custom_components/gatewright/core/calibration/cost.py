"""What it costs to judge a machine wrongly: the one measure that proposals are held to.

The unit is a second of a cut without dust collection. All weights are common practice
and judgment, no published source:

- A run that is missed is chips and dust for as long as it lasts. Cuts take seconds to
  minutes; one is put at half a minute.
- A start that is late by a second loses that second, of every run.
- A false start is noise and a motor start for nothing, and over by itself: five seconds.
  So a false start now and then is cheaper than a second's delay at each of many cuts.
- Pulling for nothing after work costs power and noise, but nobody breathes it: a
  twentieth of a second for each.
"""

from collections.abc import Iterable

MISSED_RUN = 30.0
LATE_SECOND = 1.0
FALSE_START = 5.0
IDLE_SECOND = 0.05


def cost_of_start_confirm(
    settle: float, runs: Iterable[float], odd: Iterable[float]
) -> float:
    """Return what it costs to wait for `settle` s before a start counts.

    `runs` are the lengths in s of the machine's runs, `odd` those of readings that rose
    to the start level and were no run.
    """
    cost = 0.0
    for lasts in runs:
        cost += MISSED_RUN if lasts <= settle else LATE_SECOND * settle
    return cost + FALSE_START * sum(lasts >= settle for lasts in odd)


def cost_of_stop_confirm(settle: float, pauses: Iterable[float]) -> float:
    """Return what it costs to wait for `settle` s before a stop counts.

    `pauses` are the lengths in s of the times between one run and the next. One that is
    not bridged ends the run: the collector stops, and has to start anew.
    """
    cost = 0.0
    for lasts in pauses:
        if lasts < settle:
            cost += IDLE_SECOND * lasts
        else:
            cost += IDLE_SECOND * settle + FALSE_START
    return cost
