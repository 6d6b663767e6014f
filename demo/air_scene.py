"""Starts a machine whose gate has been seen open before, and compares its time to air with the possible one."""

import asyncio

from .hub_client import Json
from .play import Play
from .shop_floor import Truth

MACHINE = "Table saw"
GOAL = 4.3
"""How long the table saw may run without dust collection [s]: its plug needs 0.6 s, its gate 3.2 s."""
CLOSE_BY = 0.5
"""The largest difference between Gatewright's measurement and the truth [s]."""

_PATIENCE = 40.0
"""How long everything may take to come to rest [s]."""
_PAUSE = 0.1


async def start_again(play: Play) -> None:
    """Start the table saw from rest, and check its time to air."""
    floor = play.floor
    play.timeline.title("8. The table saw starts again, and its gate is known")
    before = await floor.truth()
    play.say("switch the table saw on")
    await floor.run(MACHINE)
    await play.until("collecting", "on", MACHINE)
    truth = await _collected(play)
    play.reacted(MACHINE, truth, before.now, starting=True)
    _judge(play, before, truth)
    play.breathed(before, truth)
    play.say("switch the table saw off")
    await floor.stop(MACHINE)
    await play.until("phase", "idle", timeout=_PATIENCE)
    rows = await _served_today(play)
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


async def _collected(play: Play) -> Truth:
    """Wait until dust is really collected at the saw, and return what happened."""
    key = play.floor.machine_keys[MACHINE]
    truth = await play.floor.truth()
    for _ in range(round(_PATIENCE / _PAUSE)):
        if truth["standing"]["machines"][key]["air"]:
            break
        await asyncio.sleep(_PAUSE)
        truth = await play.floor.truth()
    return truth


def _judge(play: Play, before: Truth, truth: Truth) -> None:
    """Compare the machine's wait with its goal, less what a busy computer added."""
    floor = play.floor
    key = floor.machine_keys[MACHINE]
    began, read = truth.began(key, before.now), floor.started(MACHINE, before.now)
    opened = truth.opened(before.now).get(floor.spec(MACHINE).gates[0])
    if began is None or read is None or opened is None:
        play.check(False, "The table saw was noticed, and its gate commanded open")
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


async def _served_today(play: Play) -> list[Json]:
    """Return the machines with a time to air in today's summary."""
    found = await play.floor.client.ask(
        "gatewright.get_summary", config_entry_id=play.floor.entry_id, period="week"
    )
    return [row for row in found["machines"] if row["time_to_air"] is not None]


def _seconds(time: float) -> str:
    return f"{time:.1f} s"
