"""The plan's websocket commands that store: for administrators."""

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any, Final

from homeassistant.core import HomeAssistant, callback
import voluptuous as vol

from ...core.plan.checks import ERROR
from ...core.plan.document import MACHINE, DrawnDuct, DrawnGate, DrawnItem, ShopPlan
from ...core.plan.reading import read, read_text
from ...core.plan.stored_drawing import Stock
from ...core.plan.tree import read_tree
from ...core.plan.writing import write
from ...runtime.permissions import Permission
from ..airflow.data import Data
from .applying import apply_plan, ready
from .commands import OF_SYSTEM, PlanCommand, answer_get, register_plan_command
from .drafts import RevisionCause

_STALE: Final = "stale"
_ERRORS: Final = "errors"

_MOST_TEXT: Final = 5_000_000
"""Characters of a file; a shop of 200 pieces has about 100,000."""

_REVISED: Final[Mapping[Any, Any]] = {
    **OF_SYSTEM,
    vol.Required("revision"): vol.All(int, vol.Range(min=0)),
}


@callback
def async_setup_writing(hass: HomeAssistant) -> None:
    """Register the commands that store."""
    register = partial(register_plan_command, hass, deed=Permission.STORE)
    register("save", {**_REVISED, vol.Required("document"): dict}, _save)
    register(
        "import",
        {
            **_REVISED,
            vol.Required("content"): vol.Any(
                dict, vol.All(str, vol.Length(max=_MOST_TEXT))
            ),
        },
        _import,
    )
    register("apply", _REVISED, _apply)
    register("discard", _REVISED, _discard)


def _newer(asked: PlanCommand) -> Data | None:
    """Return the newer draft if the user's revision is outdated; else None."""
    draft = asked.draft
    if asked.msg["revision"] == draft.revision:
        return None
    return {
        "saved": False,
        "applied": False,
        "reason": _STALE,
        "revision": draft.revision,
        "document": write(draft.plan),
        "cause": draft.cause.value,
    }


async def _save(asked: PlanCommand) -> Data:
    plan = read(asked.msg["document"])
    if (newer := _newer(asked)) is not None:
        return newer
    asked.draft.put(plan, RevisionCause.SAVED, asked.connection)
    kept = asked.draft.plan
    # Bindings that are gone and names that changed come back updated.
    changed = {} if kept == plan else {"document": write(kept)}
    return {**await _saved(asked), **changed}


async def _saved(asked: PlanCommand) -> Data:
    draft = asked.draft
    # A concurrent change by somebody else gets a revision of its own.
    found = {
        "saved": True,
        "revision": draft.revision,
        "problems": asked.texts.problems(draft.problems, draft.plan),
        "differs": draft.differs,
    }
    await draft.write()
    return found


async def _discard(asked: PlanCommand) -> Data:
    if (newer := _newer(asked)) is not None:
        return newer
    asked.draft.discard(asked.connection)
    found = {"saved": True, **await answer_get(asked)}
    await asked.draft.write()
    return found


async def _import(asked: PlanCommand) -> Data:
    content = asked.msg["content"]
    plan = read_text(content) if isinstance(content, str) else read(content)
    if (newer := _newer(asked)) is not None:
        return newer
    plan, unbound = bound_anew(plan, asked.draft.stock)
    asked.draft.put(plan, RevisionCause.IMPORTED, asked.connection)
    document = write(asked.draft.plan)
    return {
        **await _saved(asked),
        "document": document,
        "unbound": [{"id": part.id, "name": part.name} for part in unbound],
    }


async def _apply(asked: PlanCommand) -> Data:
    draft, texts = asked.draft, asked.texts
    if (newer := _newer(asked)) is not None:
        return newer
    problems = draft.problems
    if any(problem.severity == ERROR for problem in problems):
        return {
            "applied": False,
            "reason": _ERRORS,
            "revision": draft.revision,
            "problems": texts.problems(problems, draft.plan),
        }
    stored = draft.base
    others = {
        part.title.casefold()
        for part_id, part in asked.entry.subentries.items()
        if part_id not in stored.ducts
    }
    plan = ready(draft.plan, stored, others, texts)
    tree = read_tree(plan)
    plan, found = apply_plan(asked.hass, asked.entry, plan, stored)
    draft.applied(plan, asked.system, asked.connection)
    answer = {
        "applied": True,
        "revision": draft.revision,
        "document": write(draft.plan),
        "changes": texts.changes(found, tree, stored, asked.entry.title),
    }
    await draft.write()
    return answer


def bound_anew(
    plan: ShopPlan, stock: Stock
) -> tuple[ShopPlan, list[DrawnItem | DrawnGate]]:
    """Return a file's plan bound to this system's parts, and what is missing here.

    By id if the file is this system's own, else by name.
    """
    machines = {name.casefold(): key for key, (name, _) in stock.machines.items()}
    gates = {name.casefold(): key for key, name in stock.gates.items()}
    ducts = {name.casefold(): key for key, name in stock.ducts.items()}
    unbound: list[DrawnItem | DrawnGate] = []
    seen: set[str] = set()

    def found(
        part: DrawnItem | DrawnDuct | DrawnGate, ids: Any, names: dict[str, str]
    ) -> str | None:
        key = part.bound if part.bound in ids else names.get(part.name.casefold())
        if key is None or key in seen:
            return None
        seen.add(key)
        return key

    def item(one: DrawnItem) -> DrawnItem:
        if one.type != MACHINE:
            return replace(one, bound=None)
        bound = found(one, stock.machines, machines)
        made = replace(one, bound=bound)
        if bound is None:
            unbound.append(made)
        return made

    def gate(one: DrawnGate) -> DrawnGate:
        made = replace(one, bound=found(one, stock.gates, gates))
        if made.bound is None:
            unbound.append(made)
        return made

    def duct(one: DrawnDuct) -> DrawnDuct:
        return replace(one, bound=found(one, stock.ducts, ducts))

    return (
        replace(
            plan,
            items=tuple(map(item, plan.items)),
            gates=tuple(map(gate, plan.gates)),
            ducts=tuple(map(duct, plan.ducts)),
        ),
        unbound,
    )
