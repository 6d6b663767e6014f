"""The dry run: what importing a set-up would do here, and what prevents it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import count
import re
from types import MappingProxyType
from typing import Any, Final

from homeassistant.config_entries import (
    SOURCE_IMPORT,
    ConfigEntry,
    ConfigSubentryDataWithId,
)
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.util.ulid import ulid_now

from ...const import CONF_SWITCH, DOMAIN
from ...core.setup_file.comparing import SetupChange, changes, matched
from ...core.setup_file.document import (
    MOVED_KEYS,
    SetupFile,
    SetupPart,
    several,
)
from ...core.setup_file.exchange import with_entities, with_parts
from ...core.stored.system import StoredSystem
from ...core.stored.table import UnreadableError, table_of
from ...runtime.entity_references import to_entity_id, to_stored
from ...runtime.old_names.migration import MINOR_VERSION
from ..airflow.readable_config import readable
from ..monitor_only.mode import data_with
from .exporting import setup_of

_USABLE_ID: Final = re.compile(r"[0-9A-Za-z_]{1,64}")
_STATE_KEYS: Final = tuple(
    table_of(StoredSystem).own[name].key for name in ("monitor_only_since", "remembers")
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something to know before importing: a code to translate, and its values."""

    code: str
    values: Mapping[str, str]


@dataclass(kw_only=True)
class SetupReview:
    """The result of a dry run.

    `setup` is the set-up as it would be here. `faults` prevent the import, `warnings`
    don't. `entry` is the target system; None for a new one.
    """

    setup: SetupFile
    entry: ConfigEntry[Any] | None
    faults: list[Finding] = field(default_factory=list)
    warnings: list[Finding] = field(default_factory=list)
    changes: list[SetupChange] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)

    def fault(self, code: str, **values: str) -> None:
        """Add a fault, which prevents the import."""
        self.faults.append(Finding(code=code, values=values))

    def warn(self, code: str, **values: str) -> None:
        """Add a warning."""
        self.warnings.append(Finding(code=code, values=values))


@callback
def review(
    hass: HomeAssistant,
    setup: SetupFile,
    entry: ConfigEntry[Any] | None,
    entities: Mapping[str, str],
) -> SetupReview:
    """Return what importing a set-up would do; `entities` replaces some by others."""
    found = SetupReview(
        setup=_with_entities(setup, lambda one: entities.get(one, one)), entry=entry
    )
    for path in setup.unknown:
        found.warn("unknown_setting", path=path)
    _find_own(hass, found)
    _find_names(hass, found)
    _find_entities(hass, found)
    _find_unusable(hass, found)
    if entry is not None:
        found.changes = changes(found.setup, setup_of(hass, entry))
    return found


def _with_entities(setup: SetupFile, exchange: Any) -> SetupFile:
    return replace(
        setup,
        data=with_entities(setup.data, exchange),
        parts=tuple(
            replace(part, data=with_entities(part.data, exchange))
            for part in setup.parts
        ),
    )


# Parts ----------------------------------------------------------------------------------


def _find_own(hass: HomeAssistant, found: SetupReview) -> None:
    """Give every part its present or new id."""
    setup, entry = found.setup, found.entry
    known = {part.part_id for part in setup.parts}
    for name, part_id in setup.references():
        if part_id not in known:
            found.fault("unknown_part", part=name, id=part_id)
    ids = {} if entry is None else matched(setup, setup_of(hass, entry))
    used = {
        part_id
        for other in hass.config_entries.async_entries(DOMAIN)
        for part_id in other.subentries
    }
    for part in setup.parts:
        if part.part_id not in ids:
            free = part.part_id not in used and _USABLE_ID.fullmatch(part.part_id)
            ids[part.part_id] = part.part_id if free else ulid_now()
            used.add(ids[part.part_id])

    def own(part_id: str | None) -> str | None:
        return None if part_id is None else ids.get(part_id)

    plan = setup.plan
    found.setup = replace(
        setup,
        data=with_parts(setup.data, own),
        parts=tuple(
            replace(part, part_id=ids[part.part_id], data=with_parts(part.data, own))
            for part in setup.parts
        ),
        plan=plan
        and replace(
            plan,
            items=tuple(replace(one, bound=own(one.bound)) for one in plan.items),
            ducts=tuple(replace(one, bound=own(one.bound)) for one in plan.ducts),
            gates=tuple(replace(one, bound=own(one.bound)) for one in plan.gates),
        ),
    )


def _find_names(hass: HomeAssistant, found: SetupReview) -> None:
    """Rename parts whose name is taken."""
    setup, own = found.setup, found.entry
    taken: set[str] = set()
    for other in hass.config_entries.async_entries(DOMAIN):
        if own is None or other.entry_id != own.entry_id:
            taken.add(other.title.casefold())
            taken.update(part.title.casefold() for part in other.subentries.values())

    def free(name: str) -> str:
        new = name
        for number in count(2):
            if new.casefold() not in taken:
                break
            new = f"{name} {number}"
        if new != name:
            found.warn("name_taken", name=name, new=new)
        taken.add(new.casefold())
        return new

    name = free(setup.name)
    parts = tuple(replace(part, name=free(part.name)) for part in setup.parts)
    found.setup = replace(setup, name=name, parts=parts)


# Entities -------------------------------------------------------------------------------


def _find_entities(hass: HomeAssistant, found: SetupReview) -> None:
    """Find the entities that don't exist here or that another system drives."""
    registry = er.async_get(hass)
    moved = _moved_elsewhere(hass, found.entry)
    for name, key, entity_id in found.setup.entities():
        known = to_entity_id(hass, entity_id)
        if known is None or (
            hass.states.get(known) is None and known not in registry.entities
        ):
            if entity_id not in found.missing:
                found.missing.append(entity_id)
            found.warn("missing_entity", part=name, entity=entity_id)
        system = moved.get(known or "") if key in MOVED_KEYS else None
        if system is not None:
            found.fault("moved_elsewhere", part=name, entity=entity_id, system=system)


def _moved_elsewhere(
    hass: HomeAssistant, own: ConfigEntry[Any] | None
) -> dict[str, str]:
    """Return the entities that other systems drive, with the system's name."""
    found: dict[str, str] = {}
    for entry in hass.config_entries.async_entries(DOMAIN):
        if own is not None and entry.entry_id == own.entry_id:
            continue
        for data in (entry.data, *(part.data for part in entry.subentries.values())):
            for entity_id in _moved_by(hass, data):
                found[entity_id] = entry.title
    return found


def _moved_by(hass: HomeAssistant, data: Mapping[str, Any]) -> Iterator[str]:
    for key in MOVED_KEYS & data.keys():
        value = data[key]
        for stored in several(value) if isinstance(value, str | list | tuple) else ():
            if (entity_id := to_entity_id(hass, stored)) is not None:
                yield entity_id


# The whole ------------------------------------------------------------------------------


def _find_unusable(hass: HomeAssistant, found: SetupReview) -> None:
    """Read the resulting system, and report its unusable parts."""
    try:
        unread = readable(hass, candidate(hass, found)).unread
    except UnreadableError as err:
        found.fault("unusable", part=found.setup.name, setting=err.what)
        return
    for loss in unread:
        found.fault("unusable", part=loss.name, setting=loss.what)


@callback
def candidate(
    hass: HomeAssistant, found: SetupReview, *, monitor_only: bool = False
) -> ConfigEntry[Any]:
    """Return the system that a set-up makes, not added to Home Assistant yet.

    An existing one keeps its monitor-only mode.
    """
    setup, entry = found.setup, found.entry
    parts = [stored_part(hass, part) for part in setup.parts]
    data = _stored(hass, setup.data)
    if entry is None:
        data = data_with(data, watch=monitor_only)
    else:
        data |= {key: entry.data[key] for key in _STATE_KEYS if key in entry.data}
    return ConfigEntry(
        version=1,
        minor_version=MINOR_VERSION,
        domain=DOMAIN,
        title=setup.name,
        data=data,
        options={} if entry is None else entry.options,
        source=SOURCE_IMPORT,
        unique_id=data[CONF_SWITCH],
        discovery_keys=MappingProxyType({}),
        subentries_data=parts,
    )


def stored_part(hass: HomeAssistant, part: SetupPart) -> ConfigSubentryDataWithId:
    """Return a part as it's stored."""
    return ConfigSubentryDataWithId(
        subentry_id=part.part_id,
        subentry_type=part.kind,
        title=part.name,
        data=_stored(hass, part.data),
        unique_id=None,
    )


def _stored(hass: HomeAssistant, data: Mapping[str, Any]) -> dict[str, Any]:
    return with_entities(data, lambda entity_id: to_stored(hass, entity_id))
