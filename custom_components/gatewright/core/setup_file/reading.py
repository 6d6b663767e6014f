"""Makes a set-up of a file, or says everything that is wrong with it, and where."""

from collections.abc import Mapping
from dataclasses import replace
import json
from typing import Any, Final

from ..plan.document import ShopPlan
from ..plan.fields import Fields, PlanRefusal, UnreadablePlanError
from ..plan.reading import read as read_plan
from ..stored.system import StoredSystem
from .document import FORMAT, KINDS, VERSION, SetupFile, SetupPart
from .settings import SettingsReader

MOST_PARTS: Final = 1000
"""More gates, machines and ducts than any shop has; no source."""

_MOST_TOLD: Final = 50


def read_setup_text(text: str) -> SetupFile:
    """Return the set-up of a file's text. Raises `UnreadablePlanError`."""
    try:
        raw = json.loads(text)
    except (ValueError, RecursionError) as err:
        line = str(getattr(err, "lineno", "1"))
        column = str(getattr(err, "colno", "1"))
        raise _refused("not_json", line=line, column=column) from err
    return read_setup(raw)


def read_setup(raw: Any) -> SetupFile:
    """Return the set-up of a file's data. Raises `UnreadablePlanError`.

    A diagnostics file holds one too, and is read as well.
    """
    raw = _within_diagnostics(raw)
    if not isinstance(raw, Mapping) or raw.get("format") != FORMAT:
        raise _refused("not_a_setup", path="format")
    version = raw.get("version")
    if version != VERSION or isinstance(version, bool):
        values = {"version": str(version), "newest": str(VERSION)}
        raise _refused("wrong_version", path="version", **values)
    reader = SettingsReader()
    fields = Fields(raw, "", reader.refusals)
    name = _name(fields)
    data = reader.read(StoredSystem, raw.get("collector"), "collector")
    seen: set[str] = set()
    rows = fields.rows("parts", MOST_PARTS)
    parts = [part for row in rows if (part := _part(row, reader, seen))]
    plan = _plan(raw.get("plan"), reader)
    if reader.refusals:
        raise UnreadablePlanError(tuple(reader.refusals[:_MOST_TOLD]))
    return SetupFile(
        name=name,
        data=data,
        parts=tuple(parts),
        plan=plan,
        unknown=tuple(reader.unknown),
    )


def _within_diagnostics(raw: Any) -> Any:
    if isinstance(raw, Mapping) and isinstance(data := raw.get("data"), Mapping):
        return data.get("setup", raw)
    return raw


def _name(fields: Fields) -> str:
    text = fields.text("name", needed=True)
    if text is not None and not text.strip():
        fields.refuse("missing", "name")
    return " ".join((text or "").split())


def _part(fields: Fields, reader: SettingsReader, seen: set[str]) -> SetupPart | None:
    part_id = fields.text("id", needed=True) or ""
    if part_id and part_id in seen:
        fields.refuse("duplicate_id", "id", id=part_id)
    seen.add(part_id)
    kind = fields.choice("type", KINDS, needed=True)
    name = _name(fields)
    if kind is None:
        return None
    settings = fields.more.get("settings")
    data = reader.read(KINDS[kind], settings, fields.path_of("settings"))
    return SetupPart(part_id=part_id, kind=kind, name=name, data=data)


def _plan(raw: Any, reader: SettingsReader) -> ShopPlan | None:
    if raw is None:
        return None
    try:
        return read_plan(raw)
    except UnreadablePlanError as err:
        reader.refusals += [
            replace(one, path=f"plan.{one.path}".rstrip(".")) for one in err.refusals
        ]
        return None


def _refused(code: str, path: str = "", **values: str) -> UnreadablePlanError:
    return UnreadablePlanError((PlanRefusal(code=code, path=path, values=values),))
