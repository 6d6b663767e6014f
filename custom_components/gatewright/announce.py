"""Puts on the hub's event bus what the logbook tells: starts, stops and alarms."""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import ATTR_DEVICE_ID, ATTR_NAME
from homeassistant.core import HomeAssistant, callback

from .const import DOMAIN
from .devices import hub_device_id
from .shop.plan import COLLECTOR
from .shop.shop import Shop
from .shop.words import HAND

EVENT_SWITCHING = f"{DOMAIN}_switching"
EVENT_ALARM = f"{DOMAIN}_alarm"


class Announcer:
    """Tells the hub what one system did."""

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry, shop: Shop) -> None:
        """Tell about `shop`."""
        self._hass = hass
        self._entry = entry
        self._shop = shop

    @callback
    def tell(self) -> None:
        """Fire an event for everything that happened since the last call."""
        for switching in self._shop.sequence.drain_switchings():
            self._fire(
                EVENT_SWITCHING,
                {
                    "on": switching.on,
                    "cause": switching.cause.value,
                    "machines": [
                        self._name(machine)
                        for machine in switching.machines
                        if machine != HAND
                    ],
                },
            )
        for change in self._shop.alarms.drain():
            self._fire(
                EVENT_ALARM,
                {
                    "raised": change.raised,
                    "kind": change.condition.kind.value,
                    "part": self._name(change.condition.part),
                },
            )

    def _fire(self, event: str, data: dict[str, Any]) -> None:
        self._hass.bus.async_fire(
            event,
            {
                "entry_id": self._entry.entry_id,
                ATTR_NAME: self._entry.title,
                ATTR_DEVICE_ID: hub_device_id(self._hass, self._entry),
                **data,
            },
        )

    def _name(self, part: str) -> str:
        if part == COLLECTOR:
            return self._entry.title
        subentry = self._entry.subentries.get(part)
        return part if subentry is None else subentry.title
