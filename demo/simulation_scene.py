"""Simulates the session that was just played, and tries another setting on it."""

import asyncio
from datetime import UTC, datetime
import time
from typing import Any

from .play import Play

_PATIENCE = 15.0
"""The latest time for the last events to be in the recorder [s]; it writes every 5 s."""
_SLACK = 2.0
"""The largest difference of a simulated running time: a plug reports once a second [s]."""

_PLANER = "Planer"


async def simulate_session(play: Play, since: float, away: float) -> None:
    """Show the simulated session, and the effect of a wrong start level.

    Home Assistant was down for `away` seconds: the recorder has the earlier state, the
    record nothing.
    """
    play.timeline.title("The simulated session")
    found = await _settled(play, since, away)
    would, happened = found["simulated"], found["happened"]
    ran = {row["machine"]: row for row in would["machines"] if row["runs"]}
    for name, row in ran.items():
        if name in play.floor.machine_keys:
            kept = await play.floor.run_time(name)
            play.check(
                _agree(row["run_time"], kept, away),
                f"Rehearsed, the {name.lower()} ran {row['run_time']:.1f} s "
                f"({kept:.1f} s by the record)",
            )
    play.check(
        not found["simulated"]["alarms"]
        and would["collected_share"] > happened["collected_share"] - 10,
        f"Air for {would['collected_share']:.0f}% of the time "
        f"({happened['collected_share']:.0f}% happened), {would['starts']} starts "
        f"({happened['starts']} happened), no alarm",
        f"{found['simulated']['alarms']}",
    )
    deaf = [{"machine": _PLANER, "start": 9000, "stop": 8000}]
    tried = await _simulate(play, since, machines=deaf)
    cuts = {row["machine"]: row["cuts"] for row in tried["simulated"]["machines"]}
    play.check(
        cuts[_PLANER] == 0 < ran[_PLANER]["cuts"],
        "With a start level of 9 kW the planer would not have been noticed at all",
        f"{cuts}",
    )


def _agree(simulated: float, kept: float, away: float) -> bool:
    return -_SLACK <= simulated - kept <= away + _SLACK


async def _settled(play: Play, since: float, away: float) -> Any:
    """Simulate once the recorder has the last events."""
    late = time.monotonic() + _PATIENCE
    while True:
        found = await _simulate(play, since)
        ran = {
            row["machine"]: row["run_time"] for row in found["simulated"]["machines"]
        }
        kept = (await play.floor.record())["machines"]
        if time.monotonic() > late or all(
            _agree(ran[name], kept[name]["run_time"], away)
            for name in play.floor.machine_keys
            if ran.get(name) and name in kept
        ):
            return found
        await asyncio.sleep(1)


async def _simulate(play: Play, since: float, **settings: Any) -> Any:
    return await play.floor.client.ask(
        "gatewright.simulate",
        config_entry_id=play.floor.entry_id,
        start=datetime.fromtimestamp(since, UTC).isoformat(),
        **settings,
    )
