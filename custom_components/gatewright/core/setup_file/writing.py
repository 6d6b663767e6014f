"""Writes a set-up as the data of a file."""

from typing import Any

from ..plan.writing import write as write_plan
from ..stored.system import StoredSystem
from .document import FORMAT, KINDS, VERSION, SetupFile
from .settings import settings_of


def write_setup(setup: SetupFile, written_by: str) -> dict[str, Any]:
    """Return a set-up as plain data; `written_by` is Gatewright's version."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "written_by": written_by,
        "name": setup.name,
        "collector": settings_of(StoredSystem, setup.data),
        "parts": [
            {
                "id": part.part_id,
                "type": part.kind,
                "name": part.name,
                "settings": settings_of(KINDS[part.kind], part.data),
            }
            for part in setup.parts
        ],
        "plan": None if setup.plan is None else write_plan(setup.plan),
    }
