"""The actions that export and import a set-up: for administrators."""

from typing import Any, Final

from homeassistant.const import ATTR_CONFIG_ENTRY_ID
from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.helpers import config_validation as cv
import voluptuous as vol

from ...core.plan.fields import UnreadablePlanError
from ...core.setup_file.reading import read_setup, read_setup_text
from ...runtime.errors import validation_error
from ...runtime.permissions import Permission, Requester, register_action
from ...texts.texts import Texts
from .exporting import exported
from .importing import import_setup
from .review import review
from .texts import change, finding, refusals

SERVICE_EXPORT: Final = "export_setup"
SERVICE_IMPORT: Final = "import_setup"

ATTR_SETUP: Final = "setup"
ATTR_DRY_RUN: Final = "dry_run"
ATTR_ENTITIES: Final = "entities"
ATTR_MONITOR_ONLY: Final = "monitor_only"

MOST_TEXT: Final = 5_000_000
"""Characters of a file; a shop of 200 pieces has about 200,000."""


@callback
def async_setup_files(hass: HomeAssistant) -> None:
    """Register the actions."""
    register_action(
        hass,
        SERVICE_EXPORT,
        _export,
        vol.Schema({vol.Required(ATTR_CONFIG_ENTRY_ID): cv.string}),
        deed=Permission.STORE,
        supports_response=SupportsResponse.ONLY,
    )
    register_action(
        hass,
        SERVICE_IMPORT,
        _import,
        vol.Schema(
            {
                vol.Optional(ATTR_CONFIG_ENTRY_ID): cv.string,
                vol.Required(ATTR_SETUP): vol.Any(
                    dict, vol.All(str, vol.Length(max=MOST_TEXT))
                ),
                vol.Optional(ATTR_ENTITIES, default=dict): {cv.string: cv.entity_id},
                vol.Optional(ATTR_DRY_RUN, default=True): cv.boolean,
                vol.Optional(ATTR_MONITOR_ONLY, default=True): cv.boolean,
            }
        ),
        deed=Permission.STORE,
        supports_response=SupportsResponse.OPTIONAL,
    )


async def _export(call: ServiceCall, asker: Requester) -> ServiceResponse:
    """Return the set-up of a system."""
    return await exported(call.hass, asker.system(call.data[ATTR_CONFIG_ENTRY_ID]))


async def _import(call: ServiceCall, asker: Requester) -> ServiceResponse:
    """Report what importing would do, or import; a fault keeps everything unchanged."""
    hass, data = call.hass, call.data
    texts = await Texts.load(hass)
    entry = (
        asker.system(data[ATTR_CONFIG_ENTRY_ID])
        if ATTR_CONFIG_ENTRY_ID in data
        else None
    )
    sent = data[ATTR_SETUP]
    try:
        setup = read_setup_text(sent) if isinstance(sent, str) else read_setup(sent)
    except UnreadablePlanError as err:
        return _answer(data, {"faults": refusals(texts, err)})
    found = review(hass, setup, entry, data[ATTR_ENTITIES])
    answer: dict[str, Any] = {
        "faults": [finding(texts, one) for one in found.faults],
        "warnings": [finding(texts, one) for one in found.warnings],
        "changes": [change(texts, one) for one in found.changes],
        "missing_entities": found.missing,
    }
    if not found.faults and not data[ATTR_DRY_RUN]:
        made = await import_setup(hass, found, monitor_only=data[ATTR_MONITOR_ONLY])
        answer[ATTR_CONFIG_ENTRY_ID] = made.entry_id
        return {"imported": True, **answer}
    return _answer(data, answer)


def _answer(data: Any, answer: dict[str, Any]) -> ServiceResponse:
    """Return that nothing was written; raise if it should have been."""
    if not data[ATTR_DRY_RUN]:
        reasons = " ".join(one["text"] for one in answer["faults"])
        raise validation_error("setup_not_imported", reasons=reasons)
    return {"imported": False, **answer}
