"""The results and annotations of a language model's tools.

Home Assistant has classes for both from 2026.10 on. Before, a tool returned a plain
dict without annotations.
"""

from typing import TYPE_CHECKING, Any

from homeassistant.helpers import llm
from homeassistant.util.json import JsonObjectType

if TYPE_CHECKING:
    from homeassistant.helpers.llm import ToolAnnotations, ToolResult


def annotations(*, read_only: bool) -> ToolAnnotations:
    """Return the annotations of a non-destructive, repeatable and local tool."""
    made: Any = getattr(llm, "ToolAnnotations", dict)
    described: ToolAnnotations = made(
        read_only=read_only, destructive=False, idempotent=True, open_world=False
    )
    return described


def result(data: JsonObjectType, *, error: bool = False) -> ToolResult:
    """Return what a tool found, or why it failed."""
    made: Any = getattr(llm, "ToolResult", None)
    tool_result: ToolResult = data if made is None else made(data=data, error=error)  # type: ignore[assignment]
    return tool_result
