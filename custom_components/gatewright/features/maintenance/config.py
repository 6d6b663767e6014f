"""Names that maintenance shares between its form, its entities and its alarms."""

from typing import Final

from ...core.maintenance.config import MaintenanceConfig
from ...core.stored.system import USUAL_BIN, USUAL_CLEANING, USUAL_FILTER, USUAL_ROOM

__all__ = ["USUAL_BIN", "USUAL_CLEANING", "USUAL_FILTER", "USUAL_ROOM"]

SERVICE_PREFIX: Final = "service_"
"""The prefix of a service's part: in alarms and entity keys."""

SERVICE_ID: Final = "id"
SERVICE_NAME: Final = "name"
SERVICE_HOURS: Final = "hours"
SERVICE_STARTS: Final = "starts"
SERVICE_DAYS: Final = "days"


def replaces_filter(plan: MaintenanceConfig) -> bool:
    """Return whether the filter's life is known, so that a new one is asked for."""
    return plan.filter is not None and bool(plan.filter.replace_after)
