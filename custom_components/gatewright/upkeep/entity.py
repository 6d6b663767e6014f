"""What the entities of the upkeep have in common."""

from typing import TYPE_CHECKING

from ..entity import GatewrightEntity
from .hub import UPKEEP, UpkeepHub

if TYPE_CHECKING:
    from ..engine import Engine


class UpkeepEntity(GatewrightEntity):
    """An entity of the system itself that follows its upkeep."""

    def __init__(self, engine: Engine, key: str) -> None:
        """Belong to the hub device."""
        super().__init__(engine, UPKEEP, key, subentry_id=None)

    @property
    def upkeep(self) -> UpkeepHub:
        """What is looked after."""
        return self.engine.upkeep
