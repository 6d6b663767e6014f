"""The steps that show, from a machine's form, what the last week would have been."""

import asyncio
from collections.abc import Mapping
from typing import Any, get_args, override

from homeassistant.config_entries import SubentryFlowResult
from homeassistant.core import callback
import voluptuous as vol

from ..const import CONF_SENSOR
from ..entry_data import read_config
from ..forms.field import FormContext
from ..forms.kinds import BooleanField
from ..rehearsing.archive import has_recorder
from ..rehearsing.figures_text import figures_text
from ..rehearsing.proposal import propose_machine
from ..rehearsing.rehearsal import (
    CannotRehearse,
    Rehearsal,
    WhyNot,
    period,
    rehearse_system,
)
from ..shop.plan import PlanError
from ..text.texts import Texts
from .part import PartFlow
from .parts import NEW_PART

CONF_REHEARSE = "rehearse"

_LEAST_STEP = 0.01
"""The share by which a progress has to grow to be worth a message."""


class _RehearseField(BooleanField):
    """Asks for a rehearsal, where there is something to play."""

    faults = get_args(WhyNot.__value__)

    @override
    def is_there(self, context: FormContext) -> bool:
        return has_recorder(context.hass)


REHEARSE = _RehearseField(CONF_REHEARSE, required=True, default=False, stored=False)


class RehearseSteps(PartFlow):
    """Rehearses the machine as the form was filled in, and goes back to the form."""

    _rehearsing: asyncio.Task[Rehearsal] | None = None
    _rehearsed: Rehearsal | None = None
    _why_not: WhyNot = "rehearse_empty"
    _asked_from = "user"
    _asked_with: Mapping[str, Any]
    _asked_name: str
    _asked_data: Mapping[str, Any]

    async def rehearse(
        self, step: str, typed: Mapping[str, Any], name: str, data: Mapping[str, Any]
    ) -> SubentryFlowResult:
        """Rehearse a machine from a form's step; nothing that was typed is lost."""
        self._asked_from = step
        self._asked_with = {**typed, CONF_REHEARSE: False}
        self._asked_name, self._asked_data = name, data
        self._rehearsing = self._rehearsed = None
        if CONF_SENSOR not in data:
            self._why_not = "rehearse_without_sensor"
            return await self.async_step_rehearsed()
        return await self.async_step_rehearse()

    async def async_step_rehearse(self, user_input: None = None) -> SubentryFlowResult:
        """Show how far the rehearsal is."""
        if self._rehearsing is None:
            self._rehearsing = self.hass.async_create_task(self._play())
        if not self._rehearsing.done():
            return self.async_show_progress(
                step_id="rehearse",
                progress_action="rehearse",
                progress_task=self._rehearsing,
                description_placeholders={"name": self._asked_name},
            )
        try:
            self._rehearsed = self._rehearsing.result()
        except CannotRehearse as err:
            self._why_not = err.why
        except PlanError:
            self._why_not = "rehearse_bad_settings"
        return self.async_show_progress_done(next_step_id="rehearsed")

    async def async_step_rehearsed(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Say what would have been; then back to the form, or at once if nothing was."""
        mistakes = self.form.mistakes()
        if self._rehearsed is None:
            mistakes.add(CONF_REHEARSE, self._why_not)
        if user_input is not None or self._rehearsed is None:
            return self.show(self._asked_from, self._asked_with, mistakes)
        return self.async_show_form(
            step_id="rehearsed",
            data_schema=vol.Schema({}),
            errors={},
            description_placeholders={
                "name": self._asked_name,
                **figures_text(
                    Texts.cached(self.hass), self._rehearsed, self._rehearsed_id
                ),
            },
            last_step=False,
        )

    @callback
    @override
    def async_remove(self) -> None:
        """Give up a rehearsal that nobody waits for."""
        if self._rehearsing is not None:
            self._rehearsing.cancel()

    @property
    def _rehearsed_id(self) -> str:
        return self.part_id or NEW_PART

    async def _play(self) -> Rehearsal:
        told = 0.0

        def tell(share: float) -> None:
            nonlocal told
            if share - told >= _LEAST_STEP:
                told = share
                self.async_update_progress(min(1.0, share))

        config = read_config(self._get_entry())
        described = propose_machine(
            config, self._rehearsed_id, self._asked_name, self._asked_data
        )
        begins, ends = period(None, None, None)
        found = await rehearse_system(self.hass, described, begins, ends, tell)
        if self._rehearsed_id in found.records.unrecorded:
            raise CannotRehearse("rehearse_machine_not_recorded")
        return found
