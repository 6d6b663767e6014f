"""A drawing as a user may see it: everybody sees lines, not all see names."""

from dataclasses import replace
from typing import Any

from ...core.plan.document import MACHINE, DrawnGate, DrawnItem, ShopPlan
from ...runtime.permissions import Requester
from ...runtime.system_context import SystemContext


def seen_plan(plan: ShopPlan, asker: Requester, system: SystemContext) -> ShopPlan:
    """Return a drawing without the hidden machines and gates.

    A planned part has no entity, so only administrators see its name.
    """
    if asker.administers:
        return plan

    def item(one: DrawnItem) -> DrawnItem:
        if one.type != MACHINE or (one.bound and asker.sees_part(system, one.bound)):
            return one
        return replace(one, **_HIDDEN, kind=None)

    def gate(one: DrawnGate) -> DrawnGate:
        if one.bound and asker.sees_part(system, one.bound):
            return one
        return replace(one, **_HIDDEN)

    return replace(
        plan,
        items=tuple(map(item, plan.items)),
        gates=tuple(map(gate, plan.gates)),
    )


_HIDDEN: dict[str, Any] = {"name": "", "bound": None, "more": {}}
