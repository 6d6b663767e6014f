"""Which voice assistant sees which entities: Home Assistant's own list.

Everything is imported late, so that a release that moved it costs only this part.
"""

from homeassistant.core import HomeAssistant, callback

from .changed import Internal, Reliance


@callback
def may_see(hass: HomeAssistant, assistant: str, entity_id: str) -> bool:
    """Return whether an assistant may see an entity; False if unknown."""
    with Reliance(hass, Internal.EXPOSURE, "may_see"):
        from homeassistant.components.homeassistant import (  # noqa: PLC0415
            async_should_expose,
        )

        return async_should_expose(hass, assistant, entity_id)
    return False


@callback
def sees_new(hass: HomeAssistant, assistant: str) -> bool:
    """Return whether the owner wants an assistant to see new entities at all."""
    with Reliance(hass, Internal.EXPOSURE, "sees_new"):
        from homeassistant.components.homeassistant.const import (  # noqa: PLC0415
            DATA_EXPOSED_ENTITIES,
        )

        exposed = hass.data.get(DATA_EXPOSED_ENTITIES)
        return exposed is not None and exposed.async_get_expose_new_entities(assistant)
    return False


@callback
def seen_by(hass: HomeAssistant, entity_id: str) -> list[str] | None:
    """Return the assistants that see an entity; None if unknown."""
    with Reliance(hass, Internal.EXPOSURE, "seen_by"):
        from homeassistant.components.homeassistant.const import (  # noqa: PLC0415
            DATA_EXPOSED_ENTITIES,
        )
        from homeassistant.components.homeassistant.exposed_entities import (  # noqa: PLC0415
            async_get_entity_settings,
        )

        if DATA_EXPOSED_ENTITIES not in hass.data:
            return []
        return [
            assistant
            for assistant, settings in async_get_entity_settings(
                hass, entity_id
            ).items()
            if settings.get("should_expose")
        ]
    return None


@callback
def let_see(
    hass: HomeAssistant, assistant: str, entity_id: str, *, may: bool = True
) -> bool:
    """Expose an entity to an assistant, or hide it; return whether that worked."""
    with Reliance(hass, Internal.EXPOSURE, "let_see"):
        from homeassistant.components.homeassistant.const import (  # noqa: PLC0415
            DATA_EXPOSED_ENTITIES,
        )
        from homeassistant.components.homeassistant.exposed_entities import (  # noqa: PLC0415
            async_expose_entity,
        )

        if DATA_EXPOSED_ENTITIES in hass.data:
            async_expose_entity(hass, assistant, entity_id, should_expose=may)
            return True
    return False
