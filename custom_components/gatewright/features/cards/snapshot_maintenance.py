"""The bin's and filter's fill levels in a card's snapshot."""

from ...core.maintenance.filter import FilterState
from ..maintenance.manager import MaintenanceManager


def draw_maintenance(maintenance: MaintenanceManager) -> dict[str, float] | None:
    """Return the used shares of bin and filter; None without either."""
    seen = maintenance.seen
    drawn: dict[str, float] = {}
    if seen.forecast is not None:
        drawn["bin"] = round(min(1.0, seen.forecast.share), 2)
    if seen.filter is not None and (used := _used(seen.filter)) is not None:
        drawn["filter"] = round(used, 2)
    return drawn or None


def _used(state: FilterState) -> float | None:
    """Return the used share of the time between two cleanings."""
    if state.clean_in is None:
        return None
    whole = state.since_cleaned + state.clean_in
    return state.since_cleaned / whole if whole > 0 else 1.0
