"""What the entities of the upkeep have in common."""

from typing import TYPE_CHECKING

from ..entity import GatewrightEntity, Named
from .hub import UPKEEP, UpkeepHub

if TYPE_CHECKING:
    from ..engine import Engine


class UpkeepEntity(GatewrightEntity):
    """An entity of the system itself that follows its upkeep."""

    def __init__(self, engine: Engine, named: Named) -> None:
        """Belong to the hub device."""
        super().__init__(engine, UPKEEP, named, subentry_id=None)

    @property
    def upkeep(self) -> UpkeepHub:
        """What is looked after."""
        return self.engine.upkeep
