"""A machine starts whose gate the system has seen open before: what its time to air is, beside what it can be."""

import asyncio

from .hub_client import Json
from .play import Play
from .shop_floor import Truth

MACHINE = "Table saw"
GOAL = 4.3
"""How long the table saw may run without air from the switch on [s]: its plug needs 0.6 s, its gate 3.2 s."""
CLOSE_BY = 0.5
"""By how much what Gatewright measured and what really happened may differ [s]."""

_PATIENCE = 40.0
"""How long everything may take to come to rest [s]."""
_PAUSE = 0.1


async def start_again(play: Play) -> None:
    """Start the table saw from rest, and check how long it waited for its air."""
    floor = play.floor
    play.timeline.title("8. The table saw starts again, and its gate is known")
    before = await floor.truth()
    play.say("switch the table saw on")
    await floor.run(MACHINE)
    await play.until("collecting", "on", MACHINE)
    truth = await _aired(play)
    play.reacted(MACHINE, truth, before.now, starting=True)
    _judge(play, before, truth)
    play.breathed(before, truth)
    play.say("switch the table saw off")
    await floor.stop(MACHINE)
    await play.until("phase", "idle", timeout=_PATIENCE)
    rows = await _told(play)
    play.timeline.table(
        [
            ("Time to air", "by Gatewright", "at best", "limited by"),
            *(
                (
                    row["name"],
                    _seconds(row["time_to_air"]),
                    _seconds(row["time_to_air_at_best"]),
                    row["limited_by"].replace("_", " "),
                )
                for row in rows
            ),
        ]
    )
    first = max(row["longest_time_to_air"] for row in rows if row["name"] == MACHINE)
    key = floor.machine_keys[MACHINE]
    longest = truth.machine(key, "longest_without_air")
    interval = floor.spec(MACHINE).meter.interval
    play.check(
        -CLOSE_BY <= longest - first <= interval + CLOSE_BY,
        f"Gatewright measured {first:.1f} s from the reading, "
        f"{longest:.1f} s passed from the switch",
    )


async def _aired(play: Play) -> Truth:
    """Wait until the saw really has air, which the hub reckons from its own figures; return what happened."""
    key = play.floor.machine_keys[MACHINE]
    truth = await play.floor.truth()
    for _ in range(round(_PATIENCE / _PAUSE)):
        if truth["standing"]["machines"][key]["air"]:
            break
        await asyncio.sleep(_PAUSE)
        truth = await play.floor.truth()
    return truth


def _judge(play: Play, before: Truth, truth: Truth) -> None:
    """Hold what the machine waited against its goal; what a busy computer added is taken off."""
    floor = play.floor
    key = floor.machine_keys[MACHINE]
    began, read = truth.began(key, before.now), floor.started(MACHINE, before.now)
    opened = truth.opened(before.now).get(floor.spec(MACHINE).gates[0])
    if began is None or read is None or opened is None:
        play.check(False, "The table saw was noticed, and its gate told to open")
        return
    plug, hub = read - began, opened - read
    late = max(0.0, plug - floor.spec(MACHINE).meter.interval) + max(0.0, hub)
    waited = truth.machine(key, "waited")
    least = floor.floor_of(MACHINE, starting=True)
    play.check(
        waited - late <= GOAL,
        f"The table saw waited {waited:.1f} s "
        f"(plug {plug:.1f} s, floor {least:.1f} s, goal {GOAL:g} s)",
        f"{late:.1f} s of it were the computer's",
    )


async def _told(play: Play) -> list[Json]:
    """Return the machines that had a time to air today, by Gatewright's summary."""
    found = await play.floor.client.ask(
        "gatewright.get_summary", config_entry_id=play.floor.entry_id, period="week"
    )
    return [row for row in found["machines"] if row["time_to_air"] is not None]


def _seconds(time: float) -> str:
    return f"{time:.1f} s"
