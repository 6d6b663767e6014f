"""What a newcomer meets in the first hour, counted.

    .venv/bin/python -m benchmarks.first_hour           # the figures
    .venv/bin/python -m benchmarks.first_hour --check   # exit code 1 where a goal is missed

Pages and fields are counted while the forms that add the smallest shop (a collector, a
gate, a machine) are really filled in; the fields of a section that is closed at first do
not count as shown. The largest page is counted with all its fields, shown or not.
"""

import argparse
import asyncio
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
import json
import logging
from pathlib import Path
import sys
from tempfile import TemporaryDirectory
from typing import Any

from homeassistant import loader
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType, section
from homeassistant.helpers import entity_registry as er
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_test_home_assistant,
)

# The test plugin ships a package of this name; the one imported first is the one that
# Home Assistant finds.
import custom_components
from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.forms.flow.duct import DUCT_PAGES
from custom_components.gatewright.forms.flow.gate import GATE_PAGES
from custom_components.gatewright.forms.flow.levels_page import LevelsPage
from custom_components.gatewright.forms.flow.machine import MACHINE_PAGES
from custom_components.gatewright.forms.flow.settings_pages import PAGES
from custom_components.gatewright.forms.flow.setup_pages import (
    CollectorPage,
    GatePage,
    GatesPage,
    MachinePage,
    MachinesPage,
)
from custom_components.gatewright.forms.form import Form
from demo.custom_components.virtual_workshop.layouts import build_layout
from tests.integration.test_enabled import alder_yard

assert custom_components.__file__ is not None

ROOT = Path(__file__).resolve().parents[1]
TRANSLATIONS = ROOT / "custom_components/gatewright/translations"

SETUP_PAGES = (
    CollectorPage,
    MachinesPage,
    GatesPage,
    GatePage,
    MachinePage,
    LevelsPage,
)
WATTS = {"unit_of_measurement": "W", "device_class": "power"}


@dataclass(frozen=True, slots=True)
class Count:
    """A figure, and its limit."""

    what: str
    found: int
    most: int

    @property
    def kept(self) -> bool:
        """Return whether the goal is kept."""
        return self.found <= self.most


@dataclass(slots=True)
class Road:
    """The way from "Add integration" to the first machine."""

    pages: int = 0
    shown: int = 0
    """Visible fields on all pages together."""


def pages() -> Iterator[tuple[str, Form]]:
    """Yield every page with a table of fields, by a name."""
    for made in SETUP_PAGES:
        yield f"set-up: {made.step}", made.form
    for step, page in PAGES.items():
        yield f"settings: {step}", page.form
    parts: Mapping[str, Mapping[str, Form]] = {
        "machine": MACHINE_PAGES,
        "gate": GATE_PAGES,
        "duct": DUCT_PAGES,
    }
    for kind, forms in parts.items():
        for step, form in forms.items():
            yield f"{kind}: {step}", form


def largest_page() -> tuple[str, int]:
    """Return the page with the most fields, and their number."""
    return max(
        ((name, len(list(form.fields))) for name, form in pages()),
        key=lambda page: page[1],
    )


async def smallest_shop(hass: HomeAssistant) -> Road:
    """Add a collector, a gate and a machine like a newcomer; return how long it was."""
    hass.states.async_set("switch.collector", "off")
    hass.states.async_set("sensor.planer_power", "0", WATTS)
    hass.states.async_set("cover.planer_gate", "closed", {"supported_features": 3})
    picked: Mapping[str, dict[str, Any]] = {
        "user": {"switch": "switch.collector"},
        "machines": {"machines": ["sensor.planer_power"]},
        "gates": {"gates": ["cover.planer_gate"]},
    }
    road = Road()
    flow = hass.config_entries.flow
    result: Any = await flow.async_init(DOMAIN, context={"source": "user"})
    while result["type"] is FlowResultType.FORM:
        road.pages += 1
        answer: dict[str, Any] = {}
        for marker, field in result["data_schema"].schema.items():
            if isinstance(field, section):
                answer[str(marker)] = _suggested(field.schema.schema)
                continue
            road.shown += 1
        answer |= _suggested(result["data_schema"].schema)
        answer |= picked.get(result["step_id"], {})
        result = await flow.async_configure(result["flow_id"], answer)
        if result.get("errors"):
            raise RuntimeError(f"The form complains: {result['errors']}")
    if result["type"] is not FlowResultType.CREATE_ENTRY:
        raise RuntimeError(f"The forms end with {result['type']}")
    await hass.async_block_till_done()
    return road


def _suggested(schema: Mapping[Any, Any]) -> dict[str, Any]:
    return {
        str(marker): marker.description["suggested_value"]
        for marker in schema
        if marker.description
    }


def enabled(hass: HomeAssistant) -> int:
    """Return how many of our entities are enabled."""
    return sum(
        known.platform == DOMAIN and known.disabled_by is None
        for known in er.async_get(hass).entities.values()
    )


async def _in_home_assistant(demo: bool) -> tuple[Road, int]:
    with TemporaryDirectory() as folder:
        async with async_test_home_assistant(config_dir=folder) as hass:
            hass.data.pop(loader.DATA_CUSTOM_COMPONENTS, None)
            await async_setup_component(hass, "homeassistant", {})
            road = Road()
            if demo:
                entry: MockConfigEntry = alder_yard(build_layout({}))
                entry.add_to_hass(hass)
                await hass.config_entries.async_setup(entry.entry_id)
                await hass.async_block_till_done()
            else:
                road = await smallest_shop(hass)
            found = enabled(hass)
            await hass.async_stop(force=True)
            return road, found


def missing_texts() -> int:
    """Return how many texts of English the other languages lack."""
    known = {
        file.stem: set(_keys(json.loads(file.read_text("utf-8"))))
        for file in TRANSLATIONS.glob("*.json")
    }
    return sum(len(known["en"] - keys) for keys in known.values())


def _keys(tree: Mapping[str, Any], path: str = "") -> Iterator[str]:
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from _keys(value, f"{path}{key}.")
        else:
            yield f"{path}{key}"


def oldest_release() -> str:
    """Return the oldest Home Assistant that the store offers the integration for."""
    named: str = json.loads((ROOT / "hacs.json").read_text("utf-8"))["homeassistant"]
    return named


async def counts() -> list[Count]:
    """Return every figure with a goal."""
    name, most = largest_page()
    road, small = await _in_home_assistant(demo=False)
    _, large = await _in_home_assistant(demo=True)
    return [
        Count(f"fields on the largest page ({name})", most, 10),
        Count("pages to the first machine", road.pages, 4),
        Count("fields shown on the way", road.shown, 8),
        Count("entities enabled, smallest shop", small, 12),
        Count("entities enabled, the demo's shop", large, 75),
        Count("texts missing in other languages", missing_texts(), 0),
    ]


def main() -> int:
    """Print the figures; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--check", action="store_true")
    arguments = parser.parse_args()
    logging.disable(logging.ERROR)
    found = asyncio.run(counts())
    for count in found:
        kept = "" if count.kept else "  MISSED"
        print(f"{count.what:48} {count.found:4}  (at most {count.most}){kept}")
    languages = sorted(file.stem for file in TRANSLATIONS.glob("*.json"))
    print(f"{'languages':48} {', '.join(languages)}")
    print(f"{'oldest Home Assistant':48} {oldest_release()}")
    return int(arguments.check and not all(count.kept for count in found))


if __name__ == "__main__":
    sys.exit(main())
