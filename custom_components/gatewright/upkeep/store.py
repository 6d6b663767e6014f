"""Where the past of one system is kept: calendar, record, bin, filter, services.

In a file of its own, apart from the memory of the sequence: it is larger by far and
wanted less often.
"""

from homeassistant.core import HomeAssistant

from ..const import DOMAIN
from ..storage import DelayedStore


class UpkeepStore(DelayedStore):
    """One system's past on disk."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Keep it in a file of its own."""
        super().__init__(hass, f"{DOMAIN}.{entry_id}.upkeep")
