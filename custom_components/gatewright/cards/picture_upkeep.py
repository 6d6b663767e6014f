"""How full bin and filter are, in the picture that a card draws."""

from ..shop.upkeep.filter import FilterState
from ..upkeep.hub import UpkeepHub


def draw_upkeep(upkeep: UpkeepHub) -> dict[str, float] | None:
    """Return the shares of bin and filter that are used up; None without either."""
    seen = upkeep.seen
    drawn: dict[str, float] = {}
    if seen.forecast is not None:
        drawn["bin"] = round(min(1.0, seen.forecast.share), 2)
    if seen.filter is not None and (used := _used(seen.filter)) is not None:
        drawn["filter"] = round(used, 2)
    return drawn or None


def _used(state: FilterState) -> float | None:
    """Return how far the time from one cleaning to the next is used up."""
    if state.clean_in is None:
        return None
    whole = state.since_cleaned + state.clean_in
    return state.since_cleaned / whole if whole > 0 else 1.0
