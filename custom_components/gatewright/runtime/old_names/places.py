"""Where an owner may use our names: automations, dashboards, helpers, files."""

from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from ...const import DOMAIN
from ..internals.automations import Written, automations_and_scripts, dashboards
from .search import Entities, old_names_in, old_names_in_text
from .table import ENTITIES

_HELPERS: Final = ("template",)
_LARGEST: Final = 1_000_000
"""The largest file in bytes that a person may have written."""

_KNOWN: Final = ("automations.yaml", "scripts.yaml", "secrets.yaml")
"""Files that are read through their results, or not at all."""

_FOREIGN: Final = ("blueprints", "custom_components", "deps", "esphome", "www")
"""Folders that are independent, or that somebody else wrote."""


class Use(NamedTuple):
    """A place with old names, and their new ones."""

    name: str
    address: str | None
    names: dict[str, str]


class SearchResult(NamedTuple):
    """The places with old names; `whole` says that the search was complete."""

    uses: list[Use]
    whole: bool


async def find_uses(hass: HomeAssistant) -> SearchResult:
    """Search everywhere for old names."""
    ours = entities_of(hass)
    sorts = await written(hass)
    uses = [
        Use(place.name, place.address, names)
        for sort in sorts
        for place in sort or ()
        if (names := old_names_in(place.config, ours))
    ]
    uses += await hass.async_add_executor_job(
        _in_files, Path(hass.config.config_dir), ours
    )
    return SearchResult(uses, None not in sorts)


async def written(hass: HomeAssistant) -> tuple[list[Written] | None, ...]:
    """Return automations and scripts, dashboards, and helpers; None if unknown."""
    return automations_and_scripts(hass), await dashboards(hass), [*_helpers(hass)]


@callback
def entities_of(hass: HomeAssistant) -> Entities:
    """Return the translation key of each entity of ours."""
    return {
        entry.entity_id: ENTITIES.get(entry.domain, {}).get(key, key)
        for entry in er.async_get(hass).entities.values()
        if entry.platform == DOMAIN and (key := entry.translation_key)
    }


def _helpers(hass: HomeAssistant) -> Iterator[Written]:
    """Yield the template helpers."""
    for domain in _HELPERS:
        for entry in hass.config_entries.async_entries(domain):
            yield Written(entry.title, "/config/helpers", dict(entry.options))


def _in_files(folder: Path, ours: Entities) -> list[Use]:
    """Search the owner's YAML files."""
    found = []
    for where, folders, files in folder.walk():
        folders[:] = [f for f in folders if f not in _FOREIGN and f[0] not in "._"]
        for path in (where / file for file in sorted(files)):
            if path.suffix != ".yaml" or path.name in _KNOWN:
                continue
            try:
                if path.stat().st_size > _LARGEST:
                    continue
                text = path.read_text("utf-8")
            except OSError, UnicodeDecodeError:
                continue
            if names := old_names_in_text(text, ours):
                place = path.relative_to(folder).as_posix()
                found.append(Use(place, None, names))
    return sorted(found)
