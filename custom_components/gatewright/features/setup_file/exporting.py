"""Writes a system's set-up as a file."""

from dataclasses import replace
from typing import Any, Final

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.loader import async_get_integration

from ...const import CONF_ALTITUDE, CONF_PHONES, DOMAIN
from ...core.setup_file.document import SetupFile, SetupPart
from ...core.setup_file.exchange import with_entities, with_parts
from ...core.setup_file.writing import write_setup
from ...runtime.entity_references import to_entity_id
from ...runtime.entry_data import read_config
from ..plan.drafts import DRAFTS

_REDACTED: Final = {CONF_ALTITUDE, CONF_PHONES}
"""Reveals where the workshop is, or whose it is."""


@callback
def setup_of(hass: HomeAssistant, entry: ConfigEntry[Any]) -> SetupFile:
    """Return the readable part of a system's set-up.

    Raises `UnreadableError` if the collector has no switch.
    """
    config = read_config(entry)

    def described(data: Any) -> dict[str, Any]:
        found = with_entities(data, lambda stored: to_entity_id(hass, stored) or stored)
        return with_parts(found, lambda part: part if part in config.parts else None)

    draft = hass.data.get(DRAFTS, {}).get(entry.entry_id)
    return SetupFile(
        name=entry.title,
        data=described(entry.data),
        parts=tuple(
            SetupPart(
                part_id=part_id,
                kind=part.SUBENTRY_TYPE,
                name=part.name,
                data=described(entry.subentries[part_id].data),
            )
            for part_id, part in config.parts.items()
        ),
        plan=draft.plan if draft is not None and draft.is_kept else None,
    )


async def exported(
    hass: HomeAssistant, entry: ConfigEntry[Any], *, redact: bool = False
) -> dict[str, Any]:
    """Return the file's data; redacted, it hides where the workshop is and whose.

    Raises the same error as `setup_of`.
    """
    setup = setup_of(hass, entry)
    if redact:
        data = {k: value for k, value in setup.data.items() if k not in _REDACTED}
        setup = replace(setup, data=data)
    integration = await async_get_integration(hass, DOMAIN)
    return write_setup(setup, str(integration.version))
