"""The bin: it fills, is forecast, trips its sensor, raises its alarm, and is emptied."""

import contextlib
import time

from .newcomer import FULL_READING
from .play import Play

TITLE = "10. The bin fills, is reported, and is emptied"

HALF, FULL = 60.0, 92.0
"""The levels that it's filled to, in percent; its sensor trips at 90."""
SETTLE = 20.0
"""How long a sensor has to repeat a state until it counts [s]."""
SLACK = 8.0
"""How much longer that may take on a busy computer [s]."""
ALARM_WITHIN = 2.0
"""The latest alarm for a full bin [s]."""


async def fill_and_empty(play: Play) -> None:
    """Play it; raises `TimeoutError` where it gets stuck."""
    floor, states = play.floor, play.states
    fill, problem = floor.own("bin_fill"), floor.own("problem")

    def percent() -> float | None:
        return states.number(fill)

    async def until_filled(least: float, most: float) -> None:
        await states.until(
            lambda: (now := percent()) is not None and least <= now <= most,
            SETTLE + SLACK,
            what=f"a bin filled between {least:g} % and {most:g} %",
        )

    def reported() -> bool:
        return "bin_full" in (states.attribute(problem, "alarms") or [])

    play.timeline.title(TITLE)
    play.say(f"let chips of many days into the bin: it is {HALF:g} % full")
    await floor.fill_bin(HALF)
    wanted = 100 * HALF / FULL_READING
    await until_filled(wanted - 1, wanted + 1)
    left = floor.number("bin_time_left") / 3600
    play.check(
        left > 0,
        f"By its level sensor it is filled by {percent():.0f} %, "
        f"which leaves {left:.1f} machine hours",
        f"{left:.1f} h",
    )
    alone = states.attribute(floor.own("bin_time_left"), "alone") or {}
    planer, sander = alone.get("Planer", 0.0), alone.get("Orbital sander", 0.0)
    play.check(
        0 < planer < sander,
        f"With the planer alone {planer:.1f} hours, with the sander alone {sander:.0f}",
    )
    play.say(f"fill it up to {FULL:g} %, where its sensor speaks")
    began = time.monotonic()
    await floor.fill_bin(FULL)
    await states.until(reported, 10, what="word of a full bin")
    took = time.monotonic() - began
    play.check(took <= ALARM_WITHIN, f"A full bin is reported after {took:.1f} s")
    await until_filled(100, 120)
    play.say("pull the plug, and empty the bin")
    await floor.fill_bin(0)
    await states.until(lambda: not reported(), 10, what="the end of that alarm")
    await until_filled(0, 1)
    emptied = floor.own("bin_emptied_at")

    def noted() -> bool:
        return states.state(emptied) not in (None, "unknown", "unavailable")

    # The entities are written one after the other.
    with contextlib.suppress(TimeoutError):
        await states.until(noted, ALARM_WITHIN, what="the word that it was emptied")
    play.check(
        noted(),
        "That it was emptied was seen, and the next filling begins there",
    )
