"""A workshop with slow slides, and a person who checks it."""

from collections.abc import Callable
import re
from typing import Any

from homeassistant.core import CALLBACK_TYPE, HassJob, HomeAssistant, callback
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers.event import async_call_later
from pytest_homeassistant_custom_component.common import MockConfigEntry

from .flow_helpers import TEXTS
from .workshop import (
    PLANER_POWER,
    SAW_POWER,
    FakeCover,
    FakeSwitch,
    Workshop,
    gate,
    machine,
    system_entry,
)

SAW_SLIDE = "cover.saw_slide"
PLANER_SLIDE = "switch.planer_slide"
BARE_SLIDE = "switch.bare_slide"
OPEN_END = "binary_sensor.planer_open"
CLOSED_END = "binary_sensor.planer_shut"
POWER = "sensor.collector_power"


class Slider:
    """The common part of the slides: a stroke that takes time."""

    hass: HomeAssistant
    travel = 2.0
    moved: Callable[[bool], None]
    _cancel: CALLBACK_TYPE | None = None

    def slide(self, *, opened: bool) -> None:
        """Move the slide."""
        if self._cancel is not None:
            self._cancel()

        @callback
        def arrived(_now: object) -> None:
            self._cancel = None
            self.moved(opened)

        if not self.travel:
            self.moved(opened)
            return
        job = HassJob(arrived, "a slide arrives", cancel_on_shutdown=True)
        self._cancel = async_call_later(self.hass, self.travel, job)


class SlowCover(Slider, FakeCover):
    """A cover that reports its position."""

    stuck = False

    async def async_open_cover(self, **kwargs: Any) -> None:
        await self._go(opened=True)

    async def async_close_cover(self, **kwargs: Any) -> None:
        await self._go(opened=False)

    async def _go(self, *, opened: bool) -> None:
        await self._obey("open_cover" if opened else "close_cover")
        if self.stuck or self._attr_is_closed is not opened:
            return

        def moved(now_open: bool) -> None:
            self.become(is_closed=not now_open, is_opening=False, is_closing=False)

        self.moved = moved
        if self.travel:
            self.become(is_opening=opened, is_closing=not opened)
        self.slide(opened=opened)


class SlowSwitch(Slider, FakeSwitch):
    """A solenoid with two sensors at the ends of its slide."""

    sensors: tuple[str, str] | None = None

    async def async_turn_on(self, **kwargs: Any) -> None:
        await self._go(opened=True)

    async def async_turn_off(self, **kwargs: Any) -> None:
        await self._go(opened=False)

    async def _go(self, *, opened: bool) -> None:
        was = self._attr_is_on
        await self._obey("turn_on" if opened else "turn_off", is_on=opened)
        if was is opened or self.sensors is None:
            return
        at_open, at_closed = self.sensors

        def moved(now_open: bool) -> None:
            self.workshop.put(at_open if now_open else at_closed, "on")

        self.moved = moved
        self.workshop.put(at_closed if opened else at_open, "off")
        self.slide(opened=opened)


class WalkShop:
    """The workshop of a system check: a cover, a solenoid with sensors, one without."""

    def __init__(self, workshop: Workshop) -> None:
        self.workshop = workshop
        self.hass = workshop.hass
        self.saw = SlowCover(workshop, SAW_SLIDE)
        self.planer = SlowSwitch(workshop, PLANER_SLIDE)
        self.planer.sensors = (OPEN_END, CLOSED_END)
        self.bare = SlowSwitch(workshop, BARE_SLIDE)

    async def start(self, *, bare: bool = False, **data: Any) -> MockConfigEntry:
        """Add everything and let it come to rest."""
        await self.workshop.add(self.saw, self.planer, self.bare)
        self.workshop.put(OPEN_END, "off")
        self.workshop.put(CLOSED_END, "on")
        parts = [
            gate("saw_gate", "Saw gate", actuator=SAW_SLIDE),
            gate(
                "planer_gate",
                "Planer gate",
                actuator=PLANER_SLIDE,
                open_sensor=OPEN_END,
                shut_sensor=CLOSED_END,
            ),
            machine("saw", "Table saw", gates=["saw_gate"], sensor=SAW_POWER),
            machine("planer", "Planer", gates=["planer_gate"], sensor=PLANER_POWER),
        ]
        if bare:
            parts.append(gate("bare_gate", "Bare gate", actuator=BARE_SLIDE))
        entry = system_entry(parts, **{"hand_gates": ["saw_gate"], **data})
        await self.workshop.start(entry)
        return entry


class Person:
    """A user of the pages; the texts of each are checked."""

    def __init__(self, shop: WalkShop, entry: MockConfigEntry) -> None:
        self.workshop = shop.workshop
        self.options: Any = shop.hass.config_entries.options
        self.entry = entry
        self.result: Any = {}

    async def open(self) -> Person:
        """Open the system check among the settings."""
        self._took(await self.options.async_init(self.entry.entry_id))
        return await self.choose("system_check")

    async def begin(self, *parts: str) -> Person:
        """Begin a check of these parts, or of all."""
        await self.open()
        await self.choose("begin")
        return await self.send(**({"parts": list(parts)} if parts else {}))

    async def choose(self, option: str) -> Person:
        """Tap an option of a menu."""
        assert option in self.result["menu_options"], self.result
        await self._configure({"next_step_id": option})
        return self

    async def send(self, **typed: Any) -> Person:
        """Submit a form."""
        await self._configure(typed)
        return self

    async def wait(self, step: str, most: float = 200.0) -> Person:
        """Wait until a page is shown."""
        left = most
        while self.step != step:
            assert left > 0, self.result
            await self.workshop.pass_time(0.5)
            left -= 0.5
            if self.result["type"] is FlowResultType.SHOW_PROGRESS:
                await self._configure(None)
        return self

    async def close(self) -> None:
        """Close the page."""
        self.options.async_abort(self.result["flow_id"])
        await self.workshop.settle()

    @property
    def step(self) -> str:
        """Return the present step."""
        return str(self.result.get("step_id"))

    @property
    def text(self) -> str:
        """Return the page's text."""
        if self.result["type"] is FlowResultType.SHOW_PROGRESS:
            text = TEXTS["options"]["progress"][self.result["progress_action"]]
        else:
            text = TEXTS["options"]["step"][self.step]["description"]
        return str(text.format_map(self.result["description_placeholders"] or {}))

    async def _configure(self, answer: Any) -> None:
        flow_id = self.result["flow_id"]
        self._took(await self.options.async_configure(flow_id, answer))
        await self.workshop.settle()

    def _took(self, result: Any) -> None:
        """Keep a page, and check that everything on it has a text."""
        self.result = result
        texts = TEXTS["options"]
        match result["type"]:
            case FlowResultType.MENU:
                held = texts["step"][self.step]
                options = held["menu_options"].keys()
                assert set(result["menu_options"]) <= options
                assert held["title"]
                gaps = set(re.findall(r"{(\w+)}", held["title"]))
                assert gaps <= result["description_placeholders"].keys()
                assert self.text
            case FlowResultType.FORM:
                held = texts["step"][self.step]
                for field in result["data_schema"].schema:
                    assert held["data"][str(field)]
                    assert held["data_description"][str(field)]
                for error in (result["errors"] or {}).values():
                    assert texts["error"][error]
                assert self.text
            case FlowResultType.SHOW_PROGRESS:
                assert self.text
            case FlowResultType.ABORT:
                assert texts["abort"][result["reason"]]
