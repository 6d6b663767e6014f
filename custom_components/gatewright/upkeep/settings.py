"""Names of what is looked after, shared by its form, its entities and its alarms."""

from typing import Final

from ..stored.system import USUAL_BIN, USUAL_CLEANING, USUAL_FILTER, USUAL_ROOM

__all__ = ["USUAL_BIN", "USUAL_CLEANING", "USUAL_FILTER", "USUAL_ROOM"]

SERVICE_PREFIX: Final = "service_"
"""What a service's part is named by: an alarm's part, an entity's key."""

SERVICE_ID: Final = "id"
SERVICE_NAME: Final = "name"
SERVICE_HOURS: Final = "hours"
SERVICE_STARTS: Final = "starts"
SERVICE_DAYS: Final = "days"
