"""The owner's automations, scripts and dashboards as they were written."""

from collections.abc import Iterator
from typing import Any, NamedTuple

from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError

from .changed import Internal, Reliance


class Written(NamedTuple):
    """Something that the owner wrote: its name, its editor's URL, and its content."""

    name: str
    address: str | None
    config: Any


@callback
def automations_and_scripts(hass: HomeAssistant) -> list[Written] | None:
    """Return all of them, including those that couldn't be set up.

    None if that can't be found out.
    """
    with Reliance(hass, Internal.AUTOMATIONS):
        return [*_of(hass, "automation"), *_of(hass, "script")]
    return None


def _of(hass: HomeAssistant, domain: str) -> Iterator[Written]:
    component: Any = hass.data.get(domain)
    if component is None:
        return
    for entity in component.entities:
        key = entity.unique_id
        yield Written(
            entity.name or entity.entity_id,
            f"/config/{domain}/edit/{key}" if key else None,
            entity.raw_config,
        )


async def dashboards(hass: HomeAssistant) -> list[Written] | None:
    """Return all dashboards that the owner changed or wrote; None as above."""
    found: list[Written] = []
    with Reliance(hass, Internal.DASHBOARDS):
        known: Any = hass.data.get("lovelace")
        if known is None:
            return found
        for path, dashboard in known.dashboards.items():
            try:
                config = await dashboard.async_load(False)
            except HomeAssistantError:
                # There is none, or its file can't be read, which Home Assistant
                # reports.
                continue
            name = (dashboard.config or {}).get("title") or path or "lovelace"
            found.append(Written(name, f"/{path or 'lovelace'}", config))
        return found
    return None
