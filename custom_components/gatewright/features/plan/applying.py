"""Writes a drawing into the system: ducts and gate locations, in one step."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import count
from types import MappingProxyType
from typing import Any, Final

from homeassistant.config_entries import ConfigSubentry
from homeassistant.core import HomeAssistant, callback

from ...const import SUBENTRY_DUCT
from ...core.plan.changes import (
    DUCT_ADDED,
    DUCT_CHANGED,
    DUCT_REMOVED,
    NAME,
    PlanChange,
    StoredParts,
    changes,
)
from ...core.plan.document import DrawnDuct, ShopPlan
from ...core.plan.splitting import split
from ...core.plan.stored import DUCT, INTO, OF_DUCT, OF_PLACE
from ...core.plan.tree import read_tree
from ...runtime.system_context import GatewrightConfigEntry
from ..airflow.data import Data
from .texts import PlanTexts
from .writing import held

_LONGEST_NAME: Final = 95
"""Characters of a name; the forms take 100, and a number may follow."""


def ready(
    plan: ShopPlan, stored: StoredParts, taken: set[str], texts: PlanTexts
) -> ShopPlan:
    """Return a plan ready to apply: split, and every duct with a name of its own.

    `taken` are the names of the system's other parts, casefolded.
    """
    plan = split(plan)
    used = set(taken)
    named: dict[str, str] = {}
    # Existing parts keep their names; new ones give way.
    for duct in sorted(plan.ducts, key=lambda one: one.bound not in stored.ducts):
        wanted = " ".join(duct.name.split())[:_LONGEST_NAME]
        if not wanted:
            wanted = stored.names.get(duct.bound or "", "")
        named[duct.id] = _free(wanted, used, texts)
        used.add(named[duct.id].casefold())
    return replace(
        plan, ducts=tuple(replace(duct, name=named[duct.id]) for duct in plan.ducts)
    )


def _free(wanted: str, used: set[str], texts: PlanTexts) -> str:
    if wanted and wanted.casefold() not in used:
        return wanted
    for number in count(2 if wanted else 1):
        name = f"{wanted} {number}" if wanted else texts.new_name(number)
        if name.casefold() not in used:
            return name
    raise AssertionError  # pragma: no cover - count() doesn't end


@callback
def apply_plan(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    plan: ShopPlan,
    stored: StoredParts,
) -> tuple[ShopPlan, list[PlanChange]]:
    """Write a ready plan; return it with its ducts bound, and the changes.

    The collector keeps running, as after a change by forms.
    """
    tree = read_tree(plan)
    found = changes(tree, stored)
    new: dict[str, ConfigSubentry] = {}
    for change in found:
        if change.code == DUCT_ADDED:
            new[change.key] = ConfigSubentry(
                data=MappingProxyType({}),
                subentry_type=SUBENTRY_DUCT,
                title=change.name,
                unique_id=None,
            )
    ids = {key: made.subentry_id for key, made in new.items()}
    with held(hass, entry):
        for key, made in new.items():
            data = _renamed(tree.ducts[key], ids)
            whole = replace(made, data=MappingProxyType(data))
            hass.config_entries.async_add_subentry(entry, whole)
        for change in found:
            _write(hass, entry, change, tree.ducts, tree.places, ids)
        for change in found:
            if change.code == DUCT_REMOVED and change.part is not None:
                hass.config_entries.async_remove_subentry(entry, change.part)
    return _bound(plan, ids), found


def _write(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    change: PlanChange,
    ducts: Mapping[str, Data],
    places: Mapping[str, Data],
    ids: Mapping[str, str],
) -> None:
    if change.part is None or change.code == DUCT_REMOVED:
        return
    own: tuple[str, ...]
    part = entry.subentries[change.part]
    title = part.title
    if change.code == DUCT_CHANGED:
        own, data = OF_DUCT, ducts[change.key]
        title = next((f.after for f in change.fields if f.field == NAME), title)
    else:
        own, data = OF_PLACE, places.get(change.drawn or "", {})
    kept = {key: value for key, value in part.data.items() if key not in own}
    hass.config_entries.async_update_subentry(
        entry, part, data=kept | _renamed(data, ids), title=title
    )


def _renamed(data: Data, ids: Mapping[str, str]) -> dict[str, Any]:
    """Return data in which new ducts have the ids that they are stored under."""
    return {
        key: ids.get(value, value) if key in (INTO, DUCT) else value
        for key, value in data.items()
    }


def _bound(plan: ShopPlan, ids: Mapping[str, str]) -> ShopPlan:
    """Return a plan whose new ducts are bound to what was stored for them."""

    def bound(duct: DrawnDuct) -> DrawnDuct:
        return replace(duct, bound=ids.get(f"plan:{duct.id}/0", duct.bound))

    return replace(plan, ducts=tuple(map(bound, plan.ducts)))
