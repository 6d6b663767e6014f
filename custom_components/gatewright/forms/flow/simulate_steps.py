"""The steps that simulate the last week from a machine's form."""

import asyncio
from collections.abc import Mapping
from typing import Any, get_args, override

from homeassistant.config_entries import SubentryFlowResult
from homeassistant.core import callback
import voluptuous as vol

from ...const import CONF_SENSOR
from ...core.config import ConfigError
from ...features.simulation.figures_text import figures_text
from ...features.simulation.manager import (
    CannotSimulateError,
    SimulatedWeek,
    WhyNot,
    period,
    simulate_system,
)
from ...features.simulation.proposed_config import propose_machine
from ...features.simulation.recorder import has_recorder
from ...runtime.entry_data import read_config
from ...texts.texts import Texts
from ..field import FormContext
from ..kinds import BooleanField
from .part_steps import PartFlow
from .parts import NEW_PART

CONF_SIMULATE = "simulate"

_LEAST_STEP = 0.01
"""The least growth of a progress that is worth a message."""


class _SimulateField(BooleanField):
    """Asks for a simulation, if there's a history."""

    faults = get_args(WhyNot.__value__)

    @override
    def is_there(self, context: FormContext) -> bool:
        return has_recorder(context.hass)


SIMULATE = _SimulateField(CONF_SIMULATE, required=True, default=False, stored=False)


class SimulateSteps(PartFlow):
    """Simulates the machine as it was filled in, and returns to the form."""

    _simulating: asyncio.Task[SimulatedWeek] | None = None
    _simulated: SimulatedWeek | None = None
    _why_not: WhyNot = "simulate_empty"
    _asked_from = "user"
    _asked_with: Mapping[str, Any]
    _asked_name: str
    _asked_data: Mapping[str, Any]

    async def simulate(
        self, step: str, typed: Mapping[str, Any], name: str, data: Mapping[str, Any]
    ) -> SubentryFlowResult:
        """Simulate a machine from a form's step; nothing that was typed is lost."""
        self._asked_from = step
        self._asked_with = {**typed, CONF_SIMULATE: False}
        self._asked_name, self._asked_data = name, data
        self._simulating = self._simulated = None
        if CONF_SENSOR not in data:
            self._why_not = "simulate_without_sensor"
            return await self.async_step_simulated()
        return await self.async_step_simulate()

    async def async_step_simulate(self, user_input: None = None) -> SubentryFlowResult:
        """Show the progress of the simulation."""
        if self._simulating is None:
            self._simulating = self.hass.async_create_task(self._play())
        if not self._simulating.done():
            return self.async_show_progress(
                step_id="simulate",
                progress_action="simulate",
                progress_task=self._simulating,
                description_placeholders={"name": self._asked_name},
            )
        try:
            self._simulated = self._simulating.result()
        except CannotSimulateError as err:
            self._why_not = err.why
        except ConfigError:
            self._why_not = "simulate_bad_settings"
        return self.async_show_progress_done(next_step_id="simulated")

    async def async_step_simulated(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Show the result; then return to the form, or at once without one."""
        mistakes = self.pages[self._asked_from].mistakes()
        if self._simulated is None:
            mistakes.add(CONF_SIMULATE, self._why_not)
        if user_input is not None or self._simulated is None:
            return self.show(self._asked_from, self._asked_with, mistakes)
        return self.async_show_form(
            step_id="simulated",
            data_schema=vol.Schema({}),
            errors={},
            description_placeholders={
                "name": self._asked_name,
                **figures_text(
                    Texts.cached(self.hass), self._simulated, self._simulated_id
                ),
            },
            last_step=False,
        )

    @callback
    @override
    def async_remove(self) -> None:
        """Cancel a simulation that nobody waits for."""
        if self._simulating is not None:
            self._simulating.cancel()

    @property
    def _simulated_id(self) -> str:
        return self.part_id or NEW_PART

    async def _play(self) -> SimulatedWeek:
        reported = 0.0

        def report(share: float) -> None:
            nonlocal reported
            if share - reported >= _LEAST_STEP:
                reported = share
                self.async_update_progress(min(1.0, share))

        config = read_config(self._get_entry())
        described = propose_machine(
            config, self._simulated_id, self._asked_name, self._asked_data
        )
        begins, ends = period(None, None, None)
        found = await simulate_system(self.hass, described, begins, ends, report)
        if self._simulated_id in found.records.unrecorded:
            raise CannotSimulateError("simulate_machine_not_recorded")
        return found
