"""What all entities of the virtual workshop share."""

from typing import override

from homeassistant.core import callback
from homeassistant.helpers.device_registry import DeviceInfo
from homeassistant.helpers.entity import Entity

from .const import DOMAIN
from .driver import Workshop
from .model.layout import SITE


def device(key: str, name: str, area: str, model: str) -> DeviceInfo:
    """Describe one of the workshop's devices."""
    return DeviceInfo(
        identifiers={(DOMAIN, key)},
        manufacturer="Virtual workshop",
        model=model,
        name=name,
        suggested_area=area,
    )


class WorkshopEntity(Entity):
    """An entity that shows one part of the world as soon as it changes."""

    _attr_has_entity_name = True
    _attr_should_poll = False

    def __init__(
        self,
        workshop: Workshop,
        part: str,
        suffix: str,
        device_info: DeviceInfo,
        *,
        own_line: bool = False,
    ) -> None:
        self.workshop = workshop
        self.part = part
        self._own_line = own_line
        self._shown: object = None
        self._attr_unique_id = f"{part}_{suffix}" if suffix else part
        self._attr_device_info = device_info

    @override
    async def async_added_to_hass(self) -> None:
        """Subscribe to the world."""
        self.async_on_remove(self.workshop.async_view(self._async_refresh))
        self._shown = self.view()

    @property
    @override
    def available(self) -> bool:
        """Whether the device is online."""
        return self.workshop.reachable(SITE if self._own_line else self.part)

    def view(self) -> object:
        """Return everything that this entity shows, to detect changes."""
        raise NotImplementedError

    @callback
    def _async_refresh(self) -> None:
        shown = self.view()
        if shown != self._shown:
            self._shown = shown
            self.async_write_ha_state()
