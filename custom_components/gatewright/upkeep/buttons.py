"""What a person says with a button: emptied, cleaned, replaced, seen to."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, override

from homeassistant.components.button import ButtonEntity, ButtonEntityDescription

from ..entity import GatewrightEntity
from ..shop.upkeep.plan import ServiceInterval
from .entity import UpkeepEntity
from .hub import UpkeepHub
from .settings import SERVICE_PREFIX

if TYPE_CHECKING:
    from ..engine import Engine


@dataclass(frozen=True, kw_only=True)
class UpkeepButton(ButtonEntityDescription):
    """Something a person has done, or wants done."""

    press: Callable[[UpkeepHub], None]
    wanted: Callable[[UpkeepHub], bool]


BUTTONS = (
    UpkeepButton(
        key="bin_emptied",
        translation_key="bin_emptied",
        press=lambda hub: hub.bin_emptied(),
        wanted=lambda hub: hub.keeper.bin is not None,
    ),
    UpkeepButton(
        key="filter_cleaned",
        translation_key="filter_cleaned",
        press=lambda hub: hub.filter_cleaned(),
        wanted=lambda hub: hub.keeper.filter is not None,
    ),
    UpkeepButton(
        key="filter_replaced",
        translation_key="filter_replaced",
        press=lambda hub: hub.filter_replaced(),
        wanted=lambda hub: hub.keeper.filter is not None,
    ),
    UpkeepButton(
        key="filter_clean",
        translation_key="filter_clean",
        press=lambda hub: hub.clean_filter(),
        wanted=lambda hub: hub.keeper.cleaning is not None,
    ),
)


def upkeep_buttons(engine: Engine) -> Iterator[GatewrightEntity]:
    """Build the buttons of what is looked after."""
    for description in BUTTONS:
        if description.wanted(engine.upkeep):
            yield Said(engine, description)
    for service in engine.upkeep.keeper.plan.services:
        yield ServiceDone(engine, service)


class Said(UpkeepEntity, ButtonEntity):
    """A person says that something was done."""

    entity_description: UpkeepButton

    @override
    async def async_press(self) -> None:
        """Note it."""
        self.entity_description.press(self.upkeep)


class ServiceDone(UpkeepEntity, ButtonEntity):
    """A person says that something at the collector was seen to."""

    _attr_translation_key = "service_done"

    def __init__(self, engine: Engine, service: ServiceInterval) -> None:
        """Be about one interval."""
        super().__init__(engine, f"{SERVICE_PREFIX}{service.service_id}_done")
        self._service_id = service.service_id
        self._attr_translation_placeholders = {"service": service.name}

    @override
    async def async_press(self) -> None:
        """Begin the interval anew."""
        self.upkeep.service_done(self._service_id)
