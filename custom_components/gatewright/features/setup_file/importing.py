"""Imports a reviewed set-up: into an existing system, or as a new one."""

from types import MappingProxyType
from typing import Any

from homeassistant.config_entries import ConfigEntry, ConfigSubentry
from homeassistant.core import HomeAssistant

from ...core.plan.document import ShopPlan
from ..plan.drafts import DRAFTS, RevisionCause
from ..plan.writing import held
from .review import SetupReview, candidate


async def import_setup(
    hass: HomeAssistant, found: SetupReview, *, monitor_only: bool = True
) -> ConfigEntry[Any]:
    """Write a set-up without faults; return the resulting system.

    The collector of an existing system keeps running, as after a change by forms.
    """
    made = candidate(hass, found, monitor_only=monitor_only)
    if found.entry is None:
        await hass.config_entries.async_add(made)
        entry = made
    else:
        entry = found.entry
        _write(hass, entry, made)
    await put_plan(hass, entry, found.setup.plan)
    return entry


def _write(
    hass: HomeAssistant, entry: ConfigEntry[Any], made: ConfigEntry[Any]
) -> None:
    entries = hass.config_entries
    with held(hass, entry):
        entries.async_update_entry(
            entry, data=made.data, title=made.title, unique_id=made.unique_id
        )
        for part_id, part in made.subentries.items():
            if (old := entry.subentries.get(part_id)) is None:
                new = ConfigSubentry(
                    data=MappingProxyType(dict(part.data)),
                    subentry_id=part_id,
                    subentry_type=part.subentry_type,
                    title=part.title,
                    unique_id=None,
                )
                entries.async_add_subentry(entry, new)
            else:
                entries.async_update_subentry(
                    entry, old, data=part.data, title=part.title
                )
        for part_id in entry.subentries.keys() - made.subentries.keys():
            entries.async_remove_subentry(entry, part_id)


async def put_plan(
    hass: HomeAssistant, entry: ConfigEntry[Any], plan: ShopPlan | None
) -> None:
    """Make a file's plan the draft of a system that is set up."""
    draft = hass.data.get(DRAFTS, {}).get(entry.entry_id)
    if plan is None or draft is None:
        return
    draft.put(plan, RevisionCause.IMPORTED, None)
    await draft.write()
