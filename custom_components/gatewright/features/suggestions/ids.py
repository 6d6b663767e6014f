"""Suggests swapping entity ids, so that ours get the ids of what they drive."""

from collections.abc import Iterator
import re
from typing import Any, Final, NamedTuple, override

from homeassistant.components.repairs import ConfirmRepairFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from ...const import DOMAIN
from ...runtime.config_loader import EntitySource
from ...runtime.issues import (
    delete_issue,
    delete_issues,
    ignored_issues,
    raise_issue,
)
from ...runtime.old_names.notice import linked
from ...runtime.old_names.places import written
from ...runtime.old_names.search import entity_ids_in
from ...runtime.system_context import SystemContext
from ...texts.texts import Texts

ISSUE: Final = "id_taken"
"""The id prefix of the issue, and the key of its texts."""

_COLLECTOR: Final = ("switch", "collector", "relay")
_GATE: Final = ("cover", "gate", "actuator")
"""Our entity's domain, the key of its unique id, and the driven one's suffix."""


class Swap(NamedTuple):
    """Our present id, the id that we should have, and one for the driven entity."""

    ours: str
    wanted: str
    free: str


@callback
def suggest_ids(system: SystemContext) -> None:
    """Raise an issue if driven entities occupy our ids, unless it was ignored once."""
    hass, entry = system.hass, system.entry
    issue_id = f"{ISSUE}_{entry.entry_id}"
    if issue_id in ignored_issues(hass):
        # If it were deleted, it would be raised again as a new one.
        return
    if not (swaps := _swaps(system)):
        delete_issue(hass, issue_id)
        return
    raise_issue(
        hass,
        issue_id,
        ISSUE,
        _words(system, swaps) | {"uses": ""},
        data={"what": ISSUE, "entry_id": entry.entry_id},
    )


@callback
def forget_ids(hass: HomeAssistant, entry: ConfigEntry[Any], *, for_good: bool) -> None:
    """Delete the suggestion; `for_good` also forgets that it was ignored."""
    ignored = () if for_good else ignored_issues(hass)
    delete_issues(hass, f"{ISSUE}_{entry.entry_id}", but=ignored)


class IdsFlow(ConfirmRepairFlow):
    """Shows which ids change and who uses them, and changes them when confirmed."""

    def __init__(self, system: SystemContext) -> None:
        self._system = system

    @override
    async def async_step_confirm(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Rename the driven entities, then ours."""
        swaps = _swaps(self._system)
        if not swaps:
            return self.async_abort(reason="gone")
        if user_input is None:
            uses = await _uses(self.hass, swaps)
            return self.async_show_form(
                step_id="confirm",
                description_placeholders=_words(self._system, swaps) | {"uses": uses},
            )
        registry = er.async_get(self.hass)
        for swap in swaps:
            registry.async_update_entity(swap.wanted, new_entity_id=swap.free)
            registry.async_update_entity(swap.ours, new_entity_id=swap.wanted)
        return self.async_create_entry(data={})


def _swaps(system: SystemContext) -> list[Swap]:
    """Return our ids that end in a number because of a driven entity."""
    registry = er.async_get(system.hass)
    found = []
    for owner, (domain, key, more), source in _driven(system):
        wanted = None if source is None else source.entity_id
        ours = registry.async_get_entity_id(domain, DOMAIN, f"{owner}_{key}")
        # An unregistered entity can't be renamed.
        if ours is None or wanted is None or registry.async_get(wanted) is None:
            continue
        if re.fullmatch(rf"{re.escape(wanted)}_\d+", ours):
            _, _, name = wanted.partition(".")
            free = registry.async_get_available_entity_id(domain, f"{name}_{more}")
            found.append(Swap(ours, wanted, free))
    return found


def _driven(
    system: SystemContext,
) -> Iterator[tuple[str, tuple[str, str, str], EntitySource | None]]:
    """Yield the collector and each gate, with the driven entity."""
    layout = system.layout
    yield system.entry.entry_id, _COLLECTOR, layout.switch
    for gate_id, gate in layout.gates.items():
        yield gate_id, _GATE, gate.actuator


async def _uses(hass: HomeAssistant, swaps: list[Swap]) -> str:
    """Return who uses the ids that change."""
    changing = {entity_id for swap in swaps for entity_id in swap[:2]}
    sorts = await written(hass)
    lines = [
        f"- {linked(place.name, place.address)}: "
        + ", ".join(f"`{entity_id}`" for entity_id in sorted(used))
        for sort in sorts
        for place in sort or ()
        if (used := entity_ids_in(place.config) & changing)
    ]
    texts = Texts.cached(hass)
    paragraphs = [texts(ISSUE, "used" if lines else "unused"), "\n".join(lines)]
    if None in sorts:
        paragraphs.append(texts(ISSUE, "not_searched"))
    return "\n\n".join(text for text in paragraphs if text)


def _words(system: SystemContext, swaps: list[Swap]) -> dict[str, str]:
    lines = [
        f"- `{swap.wanted}` → `{swap.free}`\n- `{swap.ours}` → `{swap.wanted}`"
        for swap in swaps
    ]
    return {"system": system.entry.title, "ids": "\n".join(lines)}
