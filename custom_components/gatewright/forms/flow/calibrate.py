"""Calibrates the computed airflow, gate by gate: pages of a system's options.

With a clean filter each machine's gates are opened in turn, in their usual way. The
suction gauge is read, or the owner types the reading of an anemometer or a manometer at
the port. Nothing is moved from here.
"""

from abc import abstractmethod
from typing import Any

from homeassistant.config_entries import (
    ConfigEntryState,
    ConfigFlowResult,
    OptionsFlow,
)
from homeassistant.data_entry_flow import AbortFlow
from homeassistant.helpers.selector import (
    BooleanSelector,
    NumberSelector,
    NumberSelectorConfig,
    NumberSelectorMode,
)
from homeassistant.util import dt as dt_util
import voluptuous as vol

from ...const import CONF_CALIBRATION, CONF_SUCTION
from ...core.airflow import AirflowError, Calibration, Sample
from ...features.airflow.calibration import How, fitted, sample, store_of, summary
from ...features.airflow.manager import STEADY, AirflowManager
from ...features.airflow.measured import measured
from ...features.airflow.units import units_of
from ...runtime.system_context import SystemContext, system_of
from ..selectors import choice_field, parts_field

CONF_CLEAN = "filter_clean"
CONF_MACHINES = "machines"
CONF_HOW = "how"
CONF_VALUE = "value"
SKIP = "skip"


class CalibrateSteps(OptionsFlow):
    """Calibrate the airflow, or discard a calibration."""

    _machines: list[str]
    _samples: list[Sample]
    _found: Calibration | None = None

    @abstractmethod
    async def async_step_init(self, user_input: None = None) -> ConfigFlowResult:
        """Offer the menu."""

    @property
    def _system(self) -> SystemContext:
        if self.config_entry.state is not ConfigEntryState.LOADED:
            raise AbortFlow("not_loaded")
        return system_of(self.config_entry)

    def calibration_options(self) -> list[str]:
        """Return the menu options: none without a computed airflow."""
        if self._system.of(AirflowManager).shop is None:
            return []
        known = CONF_CALIBRATION in self.config_entry.data
        return ["calibrate", *(["calibration_forget"] if known else [])]

    async def async_step_calibrate(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Explain the calibration, and ask at which machines."""
        shop = self._system.of(AirflowManager).shop
        if shop is None:
            return await self.async_step_init()
        names = {
            need.machine_id: need.name for need in shop.needs.values() if need.placed
        }
        errors: dict[str, str] = {}
        chosen = list(names)
        if user_input is not None:
            chosen = user_input.get(CONF_MACHINES, [])
            if not chosen:
                errors[CONF_MACHINES] = "nothing_chosen"
            elif not user_input.get(CONF_CLEAN):
                errors[CONF_CLEAN] = "filter_not_clean"
            else:
                self._machines = [machine for machine in names if machine in chosen]
                self._samples = []
                return await self.async_step_calibrate_at()
        schema = vol.Schema(
            {
                vol.Required(CONF_CLEAN, default=False): BooleanSelector(),
                vol.Optional(CONF_MACHINES, default=chosen): parts_field(names),
            }
        )
        return self.async_show_form(
            step_id="calibrate", data_schema=schema, errors=errors, last_step=False
        )

    async def async_step_calibrate_at(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Take a reading with one machine's gates open, or continue with the next."""
        errors: dict[str, str] = {}
        if user_input is not None:
            how = user_input[CONF_HOW]
            if how == SKIP:
                taken: Sample | None = None
            else:
                taken, error = self._read(How(how), user_input.get(CONF_VALUE))
                errors |= error
            if not errors:
                if taken is not None:
                    self._samples.append(taken)
                self._machines.pop(0)
                user_input = None
        if not self._machines:
            return await self.async_step_calibrate_found()
        return self._ask(errors, user_input or {})

    def _ask(self, errors: dict[str, str], typed: dict[str, Any]) -> ConfigFlowResult:
        air = self._system.of(AirflowManager)
        units = units_of(self.hass)
        gauge = measured(air.pressures, self.hass.states.get).get(CONF_SUCTION)
        usual = SKIP if gauge is None else How.GAUGE
        shop = air.shop
        machine = self._machines[0]
        need = None if shop is None else shop.needs[machine]
        number = NumberSelector(
            NumberSelectorConfig(min=0, step="any", mode=NumberSelectorMode.BOX)
        )
        value = vol.Optional(CONF_VALUE)
        if CONF_VALUE in typed:
            value.description = {"suggested_value": typed[CONF_VALUE]}
        return self.async_show_form(
            step_id="calibrate_at",
            data_schema=vol.Schema(
                {
                    vol.Required(
                        CONF_HOW, default=typed.get(CONF_HOW, usual)
                    ): choice_field("calibrate_how", (*How, SKIP)),
                    value: number,
                }
            ),
            errors=errors,
            description_placeholders={
                "machine": "" if need is None else need.name,
                "gates": "–"
                if need is None or shop is None
                else ", ".join(sorted(shop.names[gate] for gate in need.gates)) or "–",
                "reading": "–" if gauge is None else units.pressure.text(gauge),
                "velocity": units.velocity.sign,
                "pressure": units.pressure.sign,
                "left": str(len(self._machines)),
            },
            last_step=False,
        )

    def _read(
        self, how: How, value: float | None
    ) -> tuple[Sample | None, dict[str, str]]:
        """Return the reading at the present machine, or its error."""
        air = self._system.of(AirflowManager)
        shop, now = air.shop, air.now
        if shop is None or now is None or now.solution is None:
            return None, {"base": "collector_stands"}
        need = shop.needs[self._machines[0]]
        if set(now.gates) != set(need.gates):
            return None, {"base": "other_gates_open"}
        if self._system.now() - now.since < STEADY:
            return None, {"base": "not_steady"}
        units = units_of(self.hass)
        size = units.velocity.size if how is How.VELOCITY else units.pressure.size
        gauge = measured(air.pressures, self.hass.states.get).get(CONF_SUCTION)
        if how is How.GAUGE:
            if gauge is None:
                return None, {CONF_HOW: "no_gauge"}
            figure = gauge
        elif not value or value <= 0:
            return None, {CONF_VALUE: "value_missing"}
        else:
            figure = value * size
        try:
            return sample(shop.entered, need, now.gates, now.speed, how, figure), {}
        except AirflowError:
            return None, {CONF_VALUE: "value_missing"}

    async def async_step_calibrate_found(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Show the result, before and after; store it if the owner accepts."""
        air = self._system.of(AirflowManager)
        if user_input is not None and self._found is not None:
            when = dt_util.utcnow().isoformat(timespec="seconds")
            self.hass.config_entries.async_update_entry(
                self.config_entry,
                data={
                    **self.config_entry.data,
                    CONF_CALIBRATION: store_of(self._found, when),
                },
            )
            return self.async_abort(reason="calibrated")
        if not self._samples or air.shop is None:
            return self.async_abort(reason="nothing_read")
        self._found = await self.hass.async_add_executor_job(
            fitted, air.shop.entered, tuple(self._samples)
        )
        return self.async_show_form(
            step_id="calibrate_found",
            data_schema=vol.Schema({}),
            description_placeholders={
                "found": summary(self.hass, self._found, air.shop.names)
            },
            last_step=True,
        )

    async def async_step_calibration_forget(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Use the entered figures again."""
        if user_input is None:
            return self.async_show_form(
                step_id="calibration_forget", data_schema=vol.Schema({})
            )
        data = dict(self.config_entry.data)
        data.pop(CONF_CALIBRATION, None)
        self.hass.config_entries.async_update_entry(self.config_entry, data=data)
        return self.async_abort(reason="calibration_forgotten")
