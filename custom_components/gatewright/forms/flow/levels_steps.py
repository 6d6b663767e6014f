"""The steps that find a machine's levels: from its history, or in a guided minute."""

from abc import abstractmethod
import asyncio
from collections.abc import Callable, Coroutine, Mapping
from typing import Any

from homeassistant.config_entries import SubentryFlowResult
import voluptuous as vol

from ... import const
from ...core.calibration.hold_time import NoProposal, WaitProposal
from ...core.kinds import KIND_DEFAULTS, MachineKind
from ...core.stored.parts import StoredMachine
from ...features.calibration.evaluation import (
    FIGURES,
    Found,
    Sensed,
    Waiting,
    levels_of,
    look,
    look_at_demand,
    look_at_pauses,
)
from ...features.calibration.guided_minute import (
    LONGEST_WAIT,
    OFF_TIME,
    WORK_TIME,
    GuidedMinute,
)
from ...features.calibration.learning_texts import LearningLine, LearningTexts
from ...runtime.entity_references import to_entity_id
from ..entity_usage import EntityUsage
from ..field import FormContext
from ..form import Form, Group
from ..form_errors import FormErrors
from ..numbers import NumberField
from .detection import DETECTION, LEVEL_LIMITS, LEVELS
from .part_steps import PartFlow


def figures_form(unit: str) -> Form:
    """Return the form of the proposed figures, for a reading in a unit."""
    limits = dict.fromkeys(LEVELS, LEVEL_LIMITS[unit])
    fields = {field.key: field for field in DETECTION.fields}
    return Form(
        Group(
            "figures",
            *(
                NumberField(key, limits[key]) if key in limits else fields[key]
                for key in FIGURES
            ),
            collapsed=False,
        )
    )


class FoundSteps(PartFlow):
    """Proposes what was found, and takes the owner's decision.

    These steps come between a valid form and storing it; whatever happens in them, the
    typed data is kept.
    """

    _name: str
    _data: dict[str, Any]
    _found: Found
    _wait: WaitProposal
    _minute: GuidedMinute
    _watching: asyncio.Task[Any] | None = None

    @abstractmethod
    async def store_found(self) -> SubentryFlowResult:
        """Store the machine as it is now."""

    @abstractmethod
    def _type(self, figures: Mapping[str, float | None], mistakes: FormErrors) -> None:
        """Put figures into the form as if they were typed, and validate it again."""

    async def _find(self) -> SubentryFlowResult:
        """Evaluate the sensor's history, and show the result."""
        self._found = await look(self.hass, self._sensor, self._data[const.CONF_UNIT])
        if self._found.figures is None:
            return await self.async_step_not_found()
        return await self.async_step_found()

    async def async_step_found(self, user_input: None = None) -> SubentryFlowResult:
        """Show the result, and ask what to do with it."""
        options = ["accept", "figures", "guided", "keep"]
        return await self._offer("found", options, lambda w: w.found(self._found))

    async def async_step_not_found(self, user_input: None = None) -> SubentryFlowResult:
        """Show why nothing was found, and the alternatives."""
        options = ["guided", "figures", "keep"]
        return await self._offer("not_found", options, lambda w: w.found(self._found))

    async def async_step_accept(self, user_input: None = None) -> SubentryFlowResult:
        """Accept the result."""
        mistakes = FormErrors()
        self._type(self._found.figures or {}, mistakes)
        if mistakes:
            # The form's limits are narrower than the result.
            return await self.async_step_figures(self._found.figures)
        self._data |= self._found.certain
        return await self._go_on()

    async def async_step_keep(self, user_input: None = None) -> SubentryFlowResult:
        """Keep the form's or the collector's present figures."""
        return await self.store_found()

    async def async_step_figures(
        self, user_input: Mapping[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Let the owner change the figures."""
        mistakes = FormErrors()
        if user_input is not None:
            self._type({name: user_input.get(name) for name in FIGURES}, mistakes)
            if not mistakes:
                return await self._go_on()
        shown = user_input or self._found.figures or self._data
        form = figures_form(self._data[const.CONF_UNIT])
        context = FormContext(
            hass=self.hass, claims=EntityUsage(self.hass), name=self._name
        )
        return self.async_show_form(
            step_id="figures", **form.show(context, shown, mistakes)
        )

    # The guided minute ------------------------------------------------------------

    async def async_step_guided(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Ask for the machine to be left off."""
        if user_input is not None:
            self._minute = GuidedMinute(
                self.hass, self._sensor, self._data[const.CONF_UNIT]
            )
            return await self.async_step_guided_off()
        return self._ask("guided")

    async def async_step_guided_off(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Watch the machine while it is off."""
        task = self._watch(self._minute.watch_off)
        if not task.done():
            return self._wait_for("guided_off", task)
        self._watching = None
        return self.async_show_progress_done(next_step_id="guided_switch")

    async def async_step_guided_switch(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Ask for the machine to be turned on."""
        if user_input is not None:
            return await self.async_step_guided_on()
        return self._ask("guided_switch")

    async def async_step_guided_on(self, user_input: None = None) -> SubentryFlowResult:
        """Watch the machine until it has run long enough."""
        task = self._watch(self._minute.watch_on)
        if not task.done():
            return self._wait_for("guided_on", task)
        self._found, self._watching = task.result(), None
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

    def _watch(
        self, watch: Callable[[Callable[[float], None]], Coroutine[Any, Any, Any]]
    ) -> asyncio.Task[Any]:
        """Return the guided minute, created the first time."""
        if self._watching is None:
            self._watching = self.hass.async_create_background_task(
                watch(self.async_update_progress), "guided minute"
            )
        return self._watching

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
        """Propose the best hold."""
        options = ["take_hold", "keep_hold"]
        return await self._offer("hold_found", options, lambda w: w.wait(self._wait))

    async def async_step_take_hold(self, user_input: None = None) -> SubentryFlowResult:
        """Accept the proposed hold."""
        # A proposal is at most half of what the form allows.
        self._type({const.CONF_HOLD: self._wait.best.wait}, FormErrors())
        return await self._propose_shutoff_delay()

    async def async_step_keep_hold(self, user_input: None = None) -> SubentryFlowResult:
        """Keep the present hold."""
        return await self._propose_shutoff_delay()

    async def async_step_run_on_found(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Propose the best shut-off delay for the whole shop."""
        return await self._offer(
            "run_on_found",
            ["take_run_on", "keep_run_on"],
            lambda words: words.wait(self._wait, LearningLine.SHUTOFF_DELAY),
            self._get_entry().title,
        )

    async def async_step_take_run_on(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Set the collector's proposed shut-off delay."""
        entry = self._get_entry()
        self.hass.config_entries.async_update_entry(
            entry, data={**entry.data, const.CONF_SHUTOFF_DELAY: self._wait.best.wait}
        )
        return await self.store_found()

    async_step_keep_run_on = async_step_keep

    # ------------------------------------------------------------------------------

    async def _go_on(self) -> SubentryFlowResult:
        """Propose a hold if there is one, or store the machine."""
        wait = await self._look_at_pauses()
        if isinstance(wait, NoProposal) or wait.best.wait == wait.present.wait:
            return await self._propose_shutoff_delay()
        self._wait = wait
        return await self.async_step_hold_found()

    async def _propose_shutoff_delay(self) -> SubentryFlowResult:
        """Propose a shut-off delay when a machine is changed, or store the machine.

        While a shop is being set up, its demand is incomplete.
        """
        machine_id = self.context.get("subentry_id")
        if machine_id is None or not self._found.readings:
            return await self.store_found()
        entry = self._get_entry()
        stored = {
            machine.subentry_id: machine.data
            for machine in entry.get_subentries_of_type(const.SUBENTRY_MACHINE)
        }
        sensed = [
            Sensed(
                sensor=to_entity_id(self.hass, data[const.CONF_SENSOR])
                or data[const.CONF_SENSOR],
                unit=data[const.CONF_UNIT],
                levels=levels_of(StoredMachine.from_data(data)),
                hold=data[const.CONF_HOLD],
            )
            for data in (stored | {machine_id: self._data}).values()
            if const.CONF_UNIT in data and data[const.CONF_COLLECT_WHILE_RUNNING]
        ]
        wait = await look_at_demand(self.hass, sensed, self._waiting)
        if isinstance(wait, NoProposal) or wait.best.wait == wait.present.wait:
            return await self.store_found()
        self._wait = wait
        return await self.async_step_run_on_found()

    async def _look_at_pauses(self) -> WaitProposal | NoProposal:
        usual = KIND_DEFAULTS[MachineKind(self._data[const.CONF_KIND])].hold
        hold = self._data[const.CONF_HOLD]
        # A machine that runs continuously is turned off after its work.
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
        """Return how this machine is waited for now."""
        collector = self._get_entry().data
        meter = collector.get(const.CONF_POWER)
        return Waiting(
            hold=self._data[const.CONF_HOLD],
            shutoff_delay=collector[const.CONF_SHUTOFF_DELAY],
            meter=meter and to_entity_id(self.hass, meter),
            starts_per_hour=collector.get(const.CONF_STARTS_PER_HOUR),
        )

    async def _offer(
        self,
        step: str,
        options: list[str],
        text: Callable[[LearningTexts], str],
        name: str = "",
    ) -> SubentryFlowResult:
        """Show a result, and offer what can be done with it."""
        words = await LearningTexts.load(self.hass)
        return self.async_show_menu(
            step_id=step,
            menu_options=options,
            description_placeholders={
                "name": name or self._name,
                "found": text(words),
            },
        )

    @property
    def _sensor(self) -> str:
        """Return the present id of the machine's sensor."""
        stored: str = self._data[const.CONF_SENSOR]
        return to_entity_id(self.hass, stored) or stored
