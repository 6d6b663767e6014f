"""The results of a dry run as text."""

from typing import Any, Final

from ...core.plan.fields import PlanRefusal, UnreadablePlanError
from ...core.setup_file.comparing import CHANGED, SetupChange
from ...texts.texts import Texts
from .review import Finding, SetupReview

_PROBLEM: Final = "setup_problem"
_CHANGE: Final = "setup_change"
_OWN: Final = frozenset({"not_a_setup", "wrong_version", "wrong_value"})

_MOST: Final = 40
"""The most lines of a list on a page."""


def refusals(texts: Texts, err: UnreadablePlanError) -> list[dict[str, str]]:
    """Return why a file can't be read."""
    return [_refusal(texts, one) for one in err.refusals]


def _refusal(texts: Texts, one: PlanRefusal) -> dict[str, str]:
    values = dict(one.values)
    if "wanted" in values:
        values["wanted"] = texts("plan_type", values["wanted"])
    own = one.code in _OWN and not one.path.startswith("plan.")
    kind = _PROBLEM if own else "plan_problem"
    text = texts(kind, one.code, path=one.path, **values)
    return {"code": one.code, "path": one.path, "text": text}


def finding(texts: Texts, found: Finding) -> dict[str, Any]:
    """Return something to know before importing."""
    text = texts(_PROBLEM, found.code, **found.values)
    return {"code": found.code, **found.values, "text": text}


def change(texts: Texts, one: SetupChange) -> dict[str, Any]:
    """Return what an import does to one part."""
    code = one.code
    if code == CHANGED:
        code = "changed_one" if len(one.settings) == 1 else "changed_other"
    count = str(len(one.settings))
    return {
        "code": one.code,
        "type": one.kind,
        "name": one.name,
        "settings": [
            {"setting": each.path, "before": each.before, "after": each.after}
            for each in one.settings
        ],
        "text": texts(_CHANGE, code, name=one.name, was=one.was, count=count),
    }


def review_lines(texts: Texts, found: SetupReview) -> str:
    """Return a dry run as lines of a page."""
    lines = [finding(texts, one)["text"] for one in (*found.faults, *found.warnings)]
    if found.entry is None:
        lines += [
            texts(_CHANGE, "added", name=part.name, was="", count="")
            for part in found.setup.parts
        ]
    else:
        lines += [change(texts, one)["text"] for one in found.changes]
    if not lines:
        lines = [texts(_CHANGE, "nothing")]
    more = len(lines) - _MOST
    if more > 0:
        lines = [*lines[:_MOST], texts(_CHANGE, "more", count=str(more))]
    return "\n".join(f"- {line}" for line in lines)
