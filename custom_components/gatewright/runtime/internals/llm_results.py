"""What a language model's tool returns and says of itself.

Home Assistant has classes for both from 2026.10 on. Before, a tool returned a plain dict and said nothing of itself.
"""

from typing import TYPE_CHECKING, Any

from homeassistant.helpers import llm
from homeassistant.util.json import JsonObjectType

if TYPE_CHECKING:
    from homeassistant.helpers.llm import ToolAnnotations, ToolResult


def annotations(*, read_only: bool) -> ToolAnnotations:
    """Return the description of a tool that destroys nothing, may be called again, and stays in this house."""
    made: Any = getattr(llm, "ToolAnnotations", dict)
    described: ToolAnnotations = made(
        read_only=read_only, destructive=False, idempotent=True, open_world=False
    )
    return described


def result(data: JsonObjectType, *, error: bool = False) -> ToolResult:
    """Return what a tool found, or why it failed."""
    made: Any = getattr(llm, "ToolResult", None)
    told: ToolResult = data if made is None else made(data=data, error=error)  # type: ignore[assignment]
    return told
