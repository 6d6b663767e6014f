"""The steps that find out when a machine runs: by its history, or in a guided minute."""

from abc import abstractmethod
import asyncio
from collections.abc import Mapping
from typing import Any

from homeassistant.config_entries import ConfigSubentryFlow, SubentryFlowResult
import voluptuous as vol

from ..const import (
    CONF_HOLD,
    CONF_KIND,
    CONF_NEEDS_AIR,
    CONF_POWER,
    CONF_RUN_ON,
    CONF_SENSOR,
    CONF_START,
    CONF_STARTS_PER_HOUR,
    CONF_STOP,
    CONF_UNIT,
    SUBENTRY_MACHINE,
)
from ..entities import to_entity_id
from ..finding.learning_texts import LearningLine, LearningTexts
from ..finding.look import (
    FIGURES,
    Found,
    Sensed,
    Waiting,
    levels_of,
    look,
    look_at_demand,
    look_at_pauses,
)
from ..finding.minute import LONGEST_WAIT, OFF_TIME, WORK_TIME, GuidedMinute
from ..shop.kinds import KIND_DEFAULTS, MachineKind
from ..shop.learning.pauses import NoProposal, WaitProposal
from ..stored.parts import StoredMachine
from .fields import LEVEL_LIMITS, Fields, form, number_field
from .mistakes import Mistakes

CONF_FIND = "find_levels"


class FoundSteps(ConfigSubentryFlow):
    """Propose what was found out, and take what the owner makes of it.

    They come between a form that is filled in right and storing it; whatever happens in
    them, what was typed stays.
    """

    _name: str
    _data: dict[str, Any]
    _found: Found
    _wait: WaitProposal
    _minute: GuidedMinute
    _watching: asyncio.Task[Any] | None = None

    @abstractmethod
    async def _store(self) -> SubentryFlowResult:
        """Store the machine as it stands now."""

    @abstractmethod
    def _type(self, figures: Mapping[str, float | None], mistakes: Mistakes) -> None:
        """Put figures into the form as if they had been typed, and judge it again."""

    async def _find(self) -> SubentryFlowResult:
        """Look at the sensor's history, and say what it tells."""
        self._found = await look(self.hass, self._sensor, self._data[CONF_UNIT])
        return await self._tell()

    async def async_step_found(self, user_input: None = None) -> SubentryFlowResult:
        """Say what was found, and ask what to do with it."""
        return self.async_show_menu(
            step_id="found",
            menu_options=["accept", "figures", "guided", "keep"],
            description_placeholders=await self._told(),
        )

    async def async_step_not_found(self, user_input: None = None) -> SubentryFlowResult:
        """Say why nothing was found, and what else can be done."""
        return self.async_show_menu(
            step_id="not_found",
            menu_options=["guided", "figures", "keep"],
            description_placeholders=await self._told(),
        )

    async def async_step_accept(self, user_input: None = None) -> SubentryFlowResult:
        """Take what was found."""
        mistakes = Mistakes()
        self._type(self._found.figures or {}, mistakes)
        if mistakes:
            # The owner's limits are narrower than what was found.
            return await self.async_step_figures(self._found.figures)
        self._data |= self._found.certain
        return await self._go_on()

    async def async_step_keep(self, user_input: None = None) -> SubentryFlowResult:
        """Leave the form's figures as they are."""
        return await self._store()

    async def async_step_figures(
        self, user_input: Mapping[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Let the owner change the figures."""
        mistakes = Mistakes()
        if user_input is not None:
            self._type({name: user_input.get(name) for name in FIGURES}, mistakes)
            if not mistakes:
                return await self._go_on()
        shown = user_input or self._found.figures or self._data
        level = LEVEL_LIMITS[self._data[CONF_UNIT]]
        limits = {CONF_START: level, CONF_STOP: level}
        fields: Fields = {
            vol.Optional(name): number_field(name, limits.get(name)) for name in FIGURES
        }
        return self.async_show_form(
            step_id="figures",
            data_schema=form(fields, shown),
            errors=mistakes.errors,
            description_placeholders={"name": self._name, **mistakes.placeholders},
        )

    # The guided minute ------------------------------------------------------------

    async def async_step_guided(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Ask for the machine to be left off."""
        if user_input is not None:
            self._minute = GuidedMinute(self.hass, self._sensor, self._data[CONF_UNIT])
            return await self.async_step_guided_off()
        return self._ask("guided")

    async def async_step_guided_off(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Watch the machine while it is off."""
        if self._watching is None:
            self._watching = self.hass.async_create_background_task(
                self._minute.watch_off(self.async_update_progress), "guided minute"
            )
        if not self._watching.done():
            return self._wait_for("guided_off", self._watching)
        self._watching = None
        return self.async_show_progress_done(next_step_id="guided_switch")

    async def async_step_guided_switch(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Ask for the machine to be switched on."""
        if user_input is not None:
            return await self.async_step_guided_on()
        return self._ask("guided_switch")

    async def async_step_guided_on(self, user_input: None = None) -> SubentryFlowResult:
        """Watch the machine until it has run for long enough."""
        if self._watching is None:
            self._watching = self.hass.async_create_background_task(
                self._minute.watch_on(self.async_update_progress), "guided minute"
            )
        if not self._watching.done():
            return self._wait_for("guided_on", self._watching)
        self._found = self._watching.result()
        self._watching = None
        return self.async_show_progress_done(
            next_step_id="not_found" if self._found.figures is None else "found"
        )

    def _ask(self, step: str) -> SubentryFlowResult:
        return self.async_show_form(
            step_id=step,
            data_schema=vol.Schema({}),
            description_placeholders={
                "name": self._name,
                "off_time": f"{OFF_TIME:g}",
                "work_time": f"{WORK_TIME:g}",
                "longest": f"{LONGEST_WAIT:g}",
            },
        )

    def _wait_for(self, step: str, task: asyncio.Task[Any]) -> SubentryFlowResult:
        return self.async_show_progress(
            step_id=step,
            progress_action=step,
            progress_task=task,
            description_placeholders={"name": self._name},
        )

    # How long to wait between cuts ------------------------------------------------

    async def async_step_hold_found(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Say which hold would have served best."""
        words = await LearningTexts.load(self.hass)
        return self.async_show_menu(
            step_id="hold_found",
            menu_options=["take_hold", "keep_hold"],
            description_placeholders={
                "name": self._name,
                "found": words.wait(self._wait),
            },
        )

    async def async_step_take_hold(self, user_input: None = None) -> SubentryFlowResult:
        """Take the proposed hold."""
        # What is proposed is at most half of what the form allows.
        self._type({CONF_HOLD: self._wait.best.wait}, Mistakes())
        return await self._propose_run_on()

    async def async_step_keep_hold(self, user_input: None = None) -> SubentryFlowResult:
        """Keep the present hold."""
        return await self._propose_run_on()

    async def async_step_run_on_found(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Say which run-on would have served the whole shop best."""
        words = await LearningTexts.load(self.hass)
        return self.async_show_menu(
            step_id="run_on_found",
            menu_options=["take_run_on", "keep_run_on"],
            description_placeholders={
                "name": self._get_entry().title,
                "found": words.wait(self._wait, LearningLine.RUN_ON),
            },
        )

    async def async_step_take_run_on(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Give the collector the proposed run-on."""
        entry = self._get_entry()
        self.hass.config_entries.async_update_entry(
            entry, data={**entry.data, CONF_RUN_ON: self._wait.best.wait}
        )
        return await self._store()

    async def async_step_keep_run_on(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Keep the present run-on."""
        return await self._store()

    # ------------------------------------------------------------------------------

    async def _go_on(self) -> SubentryFlowResult:
        """Propose a hold where one is to be had, or store the machine."""
        wait = await self._look_at_pauses()
        if isinstance(wait, NoProposal) or wait.best.wait == wait.present.wait:
            return await self._propose_run_on()
        self._wait = wait
        return await self.async_step_hold_found()

    async def _propose_run_on(self) -> SubentryFlowResult:
        """Propose a run-on to whoever changes a machine, or store the machine.

        While a shop is being set up its demand is not complete.
        """
        machine_id = self.context.get("subentry_id")
        if machine_id is None or not self._found.readings:
            return await self._store()
        entry = self._get_entry()
        stored = {
            machine.subentry_id: machine.data
            for machine in entry.get_subentries_of_type(SUBENTRY_MACHINE)
        }
        sensed = [
            Sensed(
                sensor=to_entity_id(self.hass, data[CONF_SENSOR]) or data[CONF_SENSOR],
                unit=data[CONF_UNIT],
                levels=levels_of(StoredMachine.from_data(data)),
                hold=data[CONF_HOLD],
            )
            for data in (stored | {machine_id: self._data}).values()
            if CONF_UNIT in data and data[CONF_NEEDS_AIR]
        ]
        wait = await look_at_demand(self.hass, sensed, self._waiting)
        if isinstance(wait, NoProposal) or wait.best.wait == wait.present.wait:
            return await self._store()
        self._wait = wait
        return await self.async_step_run_on_found()

    async def _look_at_pauses(self) -> WaitProposal | NoProposal:
        usual = KIND_DEFAULTS[MachineKind(self._data[CONF_KIND])].hold
        hold = self._data[CONF_HOLD]
        # A machine that runs through is stopped when its work is over.
        if not self._found.readings or not (usual or hold):
            return NoProposal.TOO_FEW_PAUSES
        return await look_at_pauses(
            self.hass,
            self._found,
            levels_of(StoredMachine.from_data(self._data)),
            self._waiting,
        )

    @property
    def _waiting(self) -> Waiting:
        """Return how the machine in hand is waited for now."""
        collector = self._get_entry().data
        meter = collector.get(CONF_POWER)
        return Waiting(
            hold=self._data[CONF_HOLD],
            run_on=collector[CONF_RUN_ON],
            meter=meter and to_entity_id(self.hass, meter),
            starts_per_hour=collector.get(CONF_STARTS_PER_HOUR),
        )

    async def _tell(self) -> SubentryFlowResult:
        if self._found.figures is None:
            return await self.async_step_not_found()
        return await self.async_step_found()

    async def _told(self) -> dict[str, str]:
        words = await LearningTexts.load(self.hass)
        return {"name": self._name, "found": words.found(self._found)}

    @property
    def _sensor(self) -> str:
        """Return the present id of the machine's sensor."""
        stored: str = self._data[CONF_SENSOR]
        return to_entity_id(self.hass, stored) or stored
