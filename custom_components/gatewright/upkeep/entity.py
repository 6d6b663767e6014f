"""What the entities of the upkeep have in common."""

from ..entity import GatewrightEntity, Named
from ..system_context import SystemContext
from .hub import UPKEEP, UpkeepHub


class UpkeepEntity(GatewrightEntity):
    """An entity of the system itself that follows its upkeep."""

    def __init__(self, system: SystemContext, named: Named) -> None:
        """Belong to the hub device."""
        super().__init__(system, UPKEEP, named, subentry_id=None)

    @property
    def upkeep(self) -> UpkeepHub:
        """What is looked after."""
        return self.system.of(UpkeepHub)
