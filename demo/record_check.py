"""Compares Gatewright's record of a session with Home Assistant's own recorder."""

import asyncio
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
import time
from typing import Any

from .shop_floor import ShopFloor

TO_THE_SECOND = 0.5
"""The largest accepted difference [s]."""

_PATIENCE = 15.0
"""The latest time for the last events to be in the recorder [s]; it writes every 5 s."""
_PAUSE = 1.0

type Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Compared:
    """Seconds or counts of one thing, by Gatewright and by the recorder.

    While Home Assistant was down, the recorder has the earlier state and Gatewright
    records nothing: that time, `away`, may be missing.
    """

    what: str
    record: float
    history: float
    away: float = 0.0

    @property
    def agree(self) -> bool:
        """Whether both agree."""
        missing = self.history - self.record
        return -TO_THE_SECOND <= missing <= self.away + TO_THE_SECOND


async def compare(floor: ShopFloor, since: float, away: Span) -> list[Compared]:
    """Compare the session since an instant; Home Assistant was down for `away`.

    Waits until the recorder has the last events.
    """
    late = time.monotonic() + _PATIENCE
    while True:
        compared = await _compare(floor, since, away)
        if all(row.agree for row in compared) or time.monotonic() > late:
            return compared
        await asyncio.sleep(_PAUSE)


async def _compare(floor: ShopFloor, since: float, away: Span) -> list[Compared]:
    found = await floor.record()
    machines = found["machines"]
    history = await _history(floor, since, list(machines))
    turning = history[floor.own("turning")]
    collector = found["collector"]
    compared = [
        _row("The collector turned", collector["on_time"], turning, away),
        Compared("The collector's starts", collector["starts"], float(len(turning))),
    ]
    for name, row in machines.items():
        if name not in floor.machine_keys:
            continue
        ran = history[floor.own("running", name)]
        served = list(_within(ran, history[floor.own("collecting", name)]))
        compared.append(_row(f"{name} ran", row["run_time"], ran, away))
        compared.append(_row(f"{name} had air", row["collecting_time"], served, away))
    return compared


async def _history(
    floor: ShopFloor, since: float, names: list[str]
) -> dict[str, list[Span]]:
    """Return when the entities were on, by the recorder."""
    entity_ids = [floor.own("turning")]
    for name in names:
        if name in floor.machine_keys:
            entity_ids += [floor.own("running", name), floor.own("collecting", name)]
    states: dict[str, list[dict[str, Any]]] = await floor.client.socket.command(
        "history/history_during_period",
        start_time=datetime.fromtimestamp(since, UTC).isoformat(),
        entity_ids=entity_ids,
        minimal_response=True,
        no_attributes=True,
        significant_changes_only=False,
    )
    return {
        entity_id: list(_spans(states.get(entity_id, []))) for entity_id in entity_ids
    }


def _spans(states: list[dict[str, Any]]) -> Iterator[Span]:
    """Yield when something was on; an unknown state in between counts as unchanged."""
    since: float | None = None
    for state in states:
        at = float(state.get("lc", state["lu"]))
        if state["s"] == "on" and since is None:
            since = at
        elif state["s"] == "off" and since is not None:
            yield since, at
            since = None
    if since is not None:
        yield since, time.time()


def _within(some: list[Span], other: list[Span]) -> Iterator[Span]:
    for begin, end in some:
        for first, last in other:
            if max(begin, first) < min(end, last):
                yield max(begin, first), min(end, last)


def _row(what: str, record: float, spans: list[Span], away: Span) -> Compared:
    return Compared(
        what,
        record,
        sum(end - begin for begin, end in spans),
        sum(end - begin for begin, end in _within(spans, [away])),
    )
