"""The entities of an invented workshop, and a way through the forms that checks their texts."""

from collections.abc import Awaitable, Callable, Iterable, Iterator, Mapping
import contextlib
import json
from pathlib import Path
import re
from typing import Any
from unittest.mock import patch

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import STATE_OFF, EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType, section
from homeassistant.helpers import device_registry as dr, entity_registry as er
from pytest_homeassistant_custom_component.common import MockConfigEntry, mock_component

import custom_components.gatewright
from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.forms.flow.settings_pages import PAGES

TEXTS: dict[str, Any] = json.loads(
    (
        Path(custom_components.gatewright.__file__).parent / "translations" / "en.json"
    ).read_text(encoding="utf-8")
)


@contextlib.contextmanager
def without_engine(hass: HomeAssistant) -> Iterator[None]:
    """Set entries up without the integration itself, which the forms don't need."""
    mock_component(hass, "logbook")
    mock_component(hass, "recorder")
    with (
        patch("custom_components.gatewright.async_setup_entry", return_value=True),
        patch("custom_components.gatewright.async_unload_entry", return_value=True),
        patch("custom_components.gatewright.async_remove_entry", create=True),
    ):
        yield


class Hub:
    """A Home Assistant with the entities of a workshop; each registered one has a device."""

    def __init__(self, hass: HomeAssistant) -> None:
        """Prepare an integration for the devices."""
        self.hass = hass
        self.entry = MockConfigEntry(domain="plugs")
        self.entry.add_to_hass(hass)

    def add(
        self,
        entity_id: str,
        name: str,
        state: str = STATE_OFF,
        *,
        unit: str | None = None,
        device: str | None = None,
        platform: str = "plugs",
        category: EntityCategory | None = None,
        **attributes: Any,
    ) -> str:
        """Add an entity; with a device it's registered. Return its stored reference."""
        attributes["friendly_name"] = name
        if unit is not None:
            attributes["unit_of_measurement"] = unit
        stored = entity_id
        if device is not None:
            domain, object_id = entity_id.split(".")
            stored = (
                er.async_get(self.hass)
                .async_get_or_create(
                    domain,
                    platform,
                    object_id,
                    suggested_object_id=object_id,
                    config_entry=self.entry,
                    device_id=self._device(device),
                    entity_category=category,
                    original_name=name,
                    unit_of_measurement=unit,
                )
                .id
            )
        self.hass.states.async_set(entity_id, state, attributes)
        return stored

    def _device(self, name: str) -> str:
        return (
            dr.async_get(self.hass)
            .async_get_or_create(
                config_entry_id=self.entry.entry_id,
                identifiers={("plugs", name)},
                name=name,
            )
            .id
        )

    def plug(self, name: str) -> None:
        """Add a metering plug: its relay, power, voltage and energy."""
        key = name.lower().replace(" ", "_")
        self.add(f"switch.{key}", name, "on", device=name, device_class="outlet")
        for quantity, unit in (("power", "W"), ("voltage", "V"), ("energy", "kWh")):
            self.add(
                f"sensor.{key}_{quantity}",
                f"{name} {quantity}",
                "0.0",
                unit=unit,
                device=name,
                device_class=quantity,
            )

    def damper(self, name: str, features: int = 3) -> str:
        """Add a motorized gate; return its stored reference."""
        key = name.lower().replace(" ", "_")
        return self.add(
            f"cover.{key}", name, "closed", device=name, supported_features=features
        )


def system(
    hass: HomeAssistant,
    title: str = "Dust collector",
    switch: str = "switch.collector",
    *,
    parts: Mapping[str, tuple[str, str, dict[str, Any]]] | None = None,
    **data: Any,
) -> MockConfigEntry:
    """Add a system; `parts` are type, name and data by subentry id."""
    entry = MockConfigEntry(
        domain=DOMAIN,
        minor_version=2,
        title=title,
        unique_id=switch,
        data={
            "switch": switch,
            "run_on": 3.0,
            "coast": 10.0,
            "start_delay": 0.0,
            "confirm": 10.0,
            "rest_time": 0.0,
            "hand_gates": [],
            "hide_wrapped": True,
            **data,
        },
        subentries_data=[
            {
                "subentry_id": part_id,
                "subentry_type": kind,
                "title": name,
                "data": part,
                "unique_id": None,
            }
            for part_id, (kind, name, part) in (parts or {}).items()
        ],
    )
    entry.add_to_hass(hass)
    return entry


def gate(name: str, actuator: str, **data: Any) -> tuple[str, str, dict[str, Any]]:
    """Return a powered gate as stored."""
    return (
        "gate",
        name,
        {
            "gate_kind": "powered",
            "actuator": actuator,
            "inverted": False,
            "travel": 5.0,
            "rest": "shut",
            **data,
        },
    )


def machine(name: str, *gates: str, **data: Any) -> tuple[str, str, dict[str, Any]]:
    """Return a machine as stored, a pickup unless it gets a sensor."""
    return (
        "machine",
        name,
        {
            "kind": "other",
            "gates": list(gates),
            "needs_air": True,
            "hold": 0.0,
            "clearing": [],
            "companions": [],
            **data,
        },
    )


def sensed(sensor: str, **data: Any) -> dict[str, Any]:
    """Return what is stored about a power sensor."""
    return {
        "sensor": sensor,
        "unit": "W",
        "start": 100.0,
        "stop": 50.0,
        "start_settle": 0.5,
        "stop_settle": 4.0,
        "grace": 60.0,
        "on_lost": "stopped",
        "silence": 900.0,
        **data,
    }


def _fields_in(result: Any) -> Iterator[tuple[str | None, Any, Any]]:
    """Yield section, marker and selector of each field."""
    for marker, field in result["data_schema"].schema.items():
        if not isinstance(field, section):
            yield None, marker, field
            continue
        for inner, inner_field in field.schema.schema.items():
            yield str(marker), inner, inner_field


def _fields_of(result: Any) -> Iterator[str]:
    if result["type"] is FlowResultType.FORM:
        for _, marker, _ in _fields_in(result):
            yield str(marker)


def _values_of(result: Any) -> dict[str, Any]:
    """Return what the fields of a page show."""
    return {
        str(marker): marker.description["suggested_value"]
        if marker.description
        else marker.default()
        for _, marker, _ in _fields_in(result)
        if marker.description or callable(marker.default)
    }


_DONE = (FlowResultType.ABORT, FlowResultType.CREATE_ENTRY)
SETTINGS = tuple(PAGES)
"""The pages of a system's settings."""


class Form:
    """One flow, step by step; the texts of every displayed step are checked.

    Several pages behind a menu are opened at once, each in a flow of its own, like in
    several windows: a field is found on its page.
    """

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry | None = None) -> None:
        """Start before the first step."""
        self.hass = hass
        self.entry = entry
        self.texts: dict[str, Any] = TEXTS["config"]
        self.manager: Any = hass.config_entries.flow
        self.result: Any = {}
        self.pages: dict[str, Any] = {}
        self._begin: Callable[[], Awaitable[Any]]
        self._kind = ""

    async def start(self) -> Form:
        """Open the forms for a new system."""
        return await self._open({"source": "user"}, DOMAIN)

    async def change(self, *pages: str) -> Form:
        """Open the settings of a system, at some of their pages or at all."""
        assert self.entry
        self.texts = TEXTS["options"]
        self.manager = self.hass.config_entries.options
        await self._open({}, self.entry.entry_id)
        return await self._spread(pages or SETTINGS)

    async def reconfigure(self) -> Form:
        """Open the form of what a system's collector is."""
        assert self.entry
        context = {"source": "reconfigure", "entry_id": self.entry.entry_id}
        return await self._open(context, DOMAIN)

    async def part(self, kind: str, part_id: str | None = None, *pages: str) -> Form:
        """Open the form of a new part, or some or all pages of an existing one."""
        assert self.entry
        self._kind = kind
        self.texts = TEXTS["config_subentries"][kind]
        self.manager = self.hass.config_entries.subentries
        context = {"source": "user"}
        if part_id:
            context = {"source": "reconfigure", "subentry_id": part_id}
        await self._open(context, (self.entry.entry_id, kind))
        if self.result["type"] is FlowResultType.MENU:
            await self._spread(pages or self.result["menu_options"])
        return self

    async def send(self, **typed: Any) -> Form:
        """Submit the form with these values; the others as displayed.

        A value of None empties its field. Of several pages, those with one of the
        fields are submitted; a field that a new part doesn't ask for is changed as soon
        as the part exists.
        """
        asked = self.pages or {"": self.result}
        names = {page: set(_fields_of(result)) for page, result in asked.items()}
        later = typed.keys() - set().union(*names.values())
        assert not later or self.texts["step"].get("reconfigure", {}).get(
            "menu_options"
        ), f"no such field: {later}"
        known = set(self.entry.subentries) if self.entry else set()
        left, stored = set(typed), False
        for page in asked:
            asks = names[page] & left
            left -= asks
            if typed and not asks:
                continue
            if stored and not self.pages[page].get("errors"):
                await self._turn_to(page)
            await self._submit(page, {name: typed[name] for name in asks})
            stored = self.result["type"] in _DONE or self.saved
            if not stored and not self.result.get("errors"):
                return self
        if later and not self.errors:
            assert self.entry
            self.pages.clear()
            [part_id] = set(self.entry.subentries) - known
            await self.part(self._kind, part_id)
            await self.send(**{name: typed[name] for name in later})
        return self

    async def _open(self, context: dict[str, Any], handler: Any) -> Form:
        async def begin() -> Any:
            return await self.manager.async_init(handler, context=context)

        self._begin = begin
        self.result = await begin()
        self._check()
        return self

    async def _spread(self, pages: Iterable[str]) -> Form:
        """Open the pages of the menu, each in a flow of its own."""
        menu = self.result
        for page in pages:
            await self._turn_to(page)
        self.result = self.pages[page] if len(self.pages) == 1 else menu
        return self

    async def _turn_to(self, page: str) -> None:
        """Open a page in a flow of its own."""
        self.result = await self._begin()
        if self.result["type"] is FlowResultType.MENU:
            if page not in self.result["menu_options"]:
                await self.choose("airflow")
            await self.choose(page)
        self.pages[page] = self.result

    async def _submit(self, page: str, typed: dict[str, Any]) -> None:
        shown = self.pages.get(page, self.result)
        # The evaluation of sensors has its own tests.
        values = _values_of(shown) | {"find_levels": None} | typed
        answer: dict[str, Any] = {}
        for marker, field in shown["data_schema"].schema.items():
            name = str(marker)
            if isinstance(field, section):
                answer[name] = {
                    str(inner): values[str(inner)]
                    for inner in field.schema.schema
                    if values.get(str(inner)) is not None
                }
            elif values.get(name) is not None:
                answer[name] = values[name]
        self.result = await self.manager.async_configure(shown["flow_id"], answer)
        await self.hass.async_block_till_done()
        self._check()

    async def choose(self, option: str) -> Form:
        """Choose from a menu."""
        assert option in self.result["menu_options"]
        self.result = await self.manager.async_configure(
            self.result["flow_id"], {"next_step_id": option}
        )
        await self.hass.async_block_till_done()
        self._check()
        return self

    @property
    def step(self) -> str:
        """Return the present step."""
        return str(self.result["step_id"])

    @property
    def errors(self) -> dict[str, Any]:
        """Return the displayed errors, by field or section."""
        return {
            place: code
            for result in self._shown
            for place, code in (result["errors"] or {}).items()
        }

    @property
    def codes(self) -> set[str]:
        """Return the codes of the displayed errors, each at a displayed field."""
        return set().union(
            *(
                [code] if isinstance(code, str) else code
                for code in self.errors.values()
            )
        )

    @property
    def said(self) -> dict[str, str]:
        """Return the texts of the errors, by code."""
        return {
            code: self.texts["error"][code].format_map(
                result["description_placeholders"]
            )
            for result in self._shown
            for shown in (result["errors"] or {}).values()
            for code in ([shown] if isinstance(shown, str) else shown)
        }

    @property
    def fields(self) -> dict[str, Any]:
        """Return the selectors of all fields, including those in sections."""
        return {
            str(marker): field
            for result in self._shown
            for _, marker, field in _fields_in(result)
        }

    @property
    def values(self) -> dict[str, Any]:
        """Return the fields' values."""
        return {
            name: value
            for result in self._shown
            for name, value in _values_of(result).items()
        }

    @property
    def opened(self) -> set[str]:
        """Return the open sections."""
        return {
            str(marker)
            for marker, field in self.result["data_schema"].schema.items()
            if isinstance(field, section) and not field.options["collapsed"]
        }

    @property
    def _shown(self) -> list[Any]:
        """Return the pages that show fields now."""
        return [
            result
            for result in self.pages.values() or [self.result]
            if result["type"] is FlowResultType.FORM
        ]

    def offered(self, name: str) -> list[str]:
        """Return the entities that a picker offers."""
        offered: list[str] = self.fields[name].config["include_entities"]
        return offered

    @property
    def created(self) -> ConfigEntry:
        """Return the system that was created."""
        assert self.result["type"] is FlowResultType.CREATE_ENTRY
        entry: ConfigEntry = self.result["result"]
        return entry

    @property
    def saved(self) -> bool:
        """Return whether the settings returned to their menu."""
        return self.result["type"] is FlowResultType.MENU and self.step == "init"

    @property
    def ended(self) -> str:
        """Return why the flow ended without creating anything."""
        assert self.result["type"] is FlowResultType.ABORT, self.result
        return str(self.result["reason"])

    @property
    def farewell(self) -> str:
        """Return the final text of a flow that created nothing."""
        text: str = self.texts["abort"][self.ended]
        return text.format_map(self.result["description_placeholders"] or {})

    async def watched(self) -> Form:
        """Wait for what is in progress, and look at what comes then."""
        assert self.result["type"] is FlowResultType.SHOW_PROGRESS
        assert self.texts["progress"][self.result["progress_action"]]
        await self.hass.async_block_till_done()
        self.result = await self.manager.async_configure(self.result["flow_id"])
        self._check()
        return self

    @property
    def text(self) -> str:
        """Return the text of the present step."""
        text: str = self.texts["step"][self.step]["description"]
        return text.format_map(self.result["description_placeholders"])

    def help(self, name: str) -> str:
        """Return the description of a field."""
        for result in self._shown:
            step = self.texts["step"][result["step_id"]]
            if (description := step["data_description"].get(name)) is not None:
                text: str = description.format_map(result["description_placeholders"])
                return text
        raise LookupError(name)

    def unit(self, name: str) -> str:
        """Return the unit of a number."""
        return str(self.fields[name].config["unit_of_measurement"])

    def _check(self) -> None:
        """Check that everything displayed has a text, with its placeholders filled."""
        for page, shown in self.pages.items():
            if shown["flow_id"] == self.result["flow_id"]:
                self.pages[page] = self.result
        if self.result["type"] is FlowResultType.ABORT:
            text = self.texts["abort"][self.result["reason"]]
            assert text.format_map(self.result["description_placeholders"] or {})
        if self.result["type"] not in (FlowResultType.FORM, FlowResultType.MENU):
            return
        texts = self.texts["step"][self.step]
        shown = [texts[key] for key in ("title", "description") if key in texts]
        if self.result["type"] is FlowResultType.MENU:
            assert texts["menu_options"].keys() >= set(self.result["menu_options"])
            shown += [texts["menu_options"][o] for o in self.result["menu_options"]]
        else:
            for place, marker, field in _fields_in(self.result):
                held = texts["sections"][place] if place else texts
                shown.append(held["data"][str(marker)])
                shown.append(held["data_description"][str(marker)])
                shown += [held["name"], held["description"]] if place else []
                if key := field.config.get("translation_key"):
                    options = TEXTS["selector"][key]["options"]
                    assert options.keys() == set(field.config["options"])
            places = {str(marker) for marker in self.result["data_schema"].schema}
            for place, codes in (self.result["errors"] or {}).items():
                assert place in {*places, "base"}, f"{codes} at {place} would not show"
                shown += [
                    self.texts["error"][code]
                    for code in ([codes] if isinstance(codes, str) else codes)
                ]
        assert all(shown)
        gaps = set(re.findall(r"{(\w+)}", " ".join(shown)))
        filled = self.result["description_placeholders"] or {}
        assert gaps <= filled.keys()
        assert all(
            filled[gap] or gap == "machines" or gap.endswith("_mark") for gap in gaps
        )


def part_named(entry: ConfigEntry, name: str) -> tuple[str, dict[str, Any]]:
    """Return the id and the data of a gate or machine."""
    part = next(part for part in entry.subentries.values() if part.title == name)
    return part.subentry_id, dict(part.data)
