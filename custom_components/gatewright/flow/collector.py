"""The form of a system's collector, and its step for changing one."""

from collections.abc import Mapping
from typing import Any

from homeassistant.config_entries import ConfigFlowResult
from homeassistant.const import CONF_NAME
from homeassistant.core import HomeAssistant
from homeassistant.helpers.selector import BooleanSelector, TextSelector
import voluptuous as vol

from ..const import (
    CONF_COAST,
    CONF_CONFIRM,
    CONF_HAND_GATES,
    CONF_HIDE_WRAPPED,
    CONF_MOTOR_PHASES,
    CONF_MOTOR_POLES,
    CONF_MOTOR_RATING,
    CONF_POWER,
    CONF_REST_TIME,
    CONF_RUN_ON,
    CONF_SPIN_UP,
    CONF_START_DELAY,
    CONF_START_WHEN,
    CONF_STARTS_PER_HOUR,
    CONF_SWITCH,
    CONF_WATCH_SINCE,
    CONF_WHEEL_DIAMETER,
    CONF_WHEEL_WEIGHT,
)
from ..entities import to_entity_id, to_stored
from ..readable import readable_data
from ..shop.plan import Collector, StartWhen
from ..suggestions.measured import measured_spin_up
from .air import AIR, DRIVING, air_fields, air_placeholders, air_values, read_air_form
from .claims import Claims
from .fields import (
    Fields,
    choice_field,
    chosen_in,
    flatten,
    form,
    gate_names,
    number_field,
    number_of,
    parts_field,
)
from .mistakes import Mistakes
from .motor import follow_rating, motor_fields, motor_values, read_motor
from .names import take_name, taken_names
from .picks import COLLECTOR_POWER, COLLECTOR_SWITCH, pick_field, take
from .upkeep import (
    UPKEEP_SECTIONS,
    read_upkeep_form,
    upkeep_fields,
    upkeep_placeholders,
    upkeep_values,
)
from .watch import WATCH, read_watch, watch_fields, watch_placeholders, watch_values
from .watch_only import (
    GoLiveStep,
    check_watch_only,
    read_watch_only,
    watch_only_fields,
    watch_only_values,
)

SECTIONS = {
    "timing": (
        CONF_START_WHEN,
        CONF_RUN_ON,
        CONF_COAST,
        CONF_SPIN_UP,
        CONF_START_DELAY,
        CONF_CONFIRM,
    ),
    "motor": (
        CONF_MOTOR_RATING,
        CONF_MOTOR_PHASES,
        CONF_MOTOR_POLES,
        CONF_WHEEL_DIAMETER,
        CONF_WHEEL_WEIGHT,
        CONF_REST_TIME,
        CONF_STARTS_PER_HOUR,
    ),
    "by_hand": (CONF_HAND_GATES,),
    "watch": WATCH,
    **UPKEEP_SECTIONS,
    "air": AIR,
    "driving": DRIVING,
}

_USUAL = Collector(name="")
_TIMES = {
    CONF_RUN_ON: _USUAL.run_on,
    CONF_COAST: _USUAL.coast,
    CONF_START_DELAY: _USUAL.start_delay,
    CONF_CONFIRM: _USUAL.confirm,
    CONF_REST_TIME: _USUAL.rest,
}


def collector_fields(
    hass: HomeAssistant, claims: Claims, values: Mapping[str, Any]
) -> Fields:
    """Return the fields that are asked for at once: what the collector is."""
    return {
        vol.Required(CONF_NAME): TextSelector(),
        vol.Required(CONF_SWITCH): pick_field(
            hass, COLLECTOR_SWITCH, claims, values, CONF_SWITCH
        ),
        vol.Optional(CONF_POWER): pick_field(
            hass, COLLECTOR_POWER, claims, values, CONF_POWER
        ),
        vol.Required(CONF_HIDE_WRAPPED, default=True): BooleanSelector(),
        **watch_only_fields(),
    }


def detail_fields(
    hass: HomeAssistant,
    claims: Claims,
    values: Mapping[str, Any],
    gates: Mapping[str, str],
) -> Fields:
    """Return the fields that can be left as they are: how the collector runs."""
    # A choice that was made can be changed, not taken back.
    chosen = vol.Required if values.get(CONF_START_WHEN) else vol.Optional
    return {
        **motor_fields(hass),
        chosen(CONF_START_WHEN): choice_field(CONF_START_WHEN, StartWhen),
        **{
            vol.Optional(name): number_field(name)
            for name in (*_TIMES, CONF_SPIN_UP, CONF_STARTS_PER_HOUR)
        },
        **({vol.Optional(CONF_HAND_GATES): parts_field(gates)} if gates else {}),
        **watch_fields(hass, claims, values),
        **upkeep_fields(hass, claims, values),
        **air_fields(hass, claims, values),
    }


def values_of(
    hass: HomeAssistant, title: str, data: Mapping[str, Any], gates: Mapping[str, str]
) -> dict[str, Any]:
    """Return what a form shows for a stored collector."""
    return {
        **data,
        CONF_NAME: title,
        CONF_SWITCH: to_entity_id(hass, data[CONF_SWITCH]),
        CONF_POWER: to_entity_id(hass, data.get(CONF_POWER, "")),
        CONF_HAND_GATES: [gate for gate in data[CONF_HAND_GATES] if gate in gates],
        **watch_only_values(data),
        **motor_values(hass, data),
        **watch_values(hass, data),
        **upkeep_values(hass, data),
        **air_values(hass, data),
    }


def read_collector(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    claims: Claims,
    mistakes: Mistakes,
    before: Mapping[str, Any],
    system: str = "",
) -> tuple[str, dict[str, Any]]:
    """Judge a typed collector; return its name and the data to store.

    `before` is what the form showed at first, empty for a new collector.
    """
    name = take_name(
        typed.get(CONF_NAME), taken_names(hass, system), mistakes, CONF_NAME
    )
    data: dict[str, Any] = {}
    for field, pick in ((CONF_SWITCH, COLLECTOR_SWITCH), (CONF_POWER, COLLECTOR_POWER)):
        kept = chosen_in(before, field)
        for entity_id in take(
            hass, pick, claims, mistakes, field, typed.get(field), kept
        ):
            data[field] = to_stored(hass, entity_id)
    for field, usual in _TIMES.items():
        data[field] = number_of(typed, field, mistakes, usual)
    for field in (CONF_STARTS_PER_HOUR, CONF_SPIN_UP):
        if typed.get(field) is not None:
            data[field] = number_of(typed, field, mistakes, 0)
    # An old system that was never asked waits for its gate until its owner has chosen.
    if start_when := typed.get(CONF_START_WHEN) or (
        None if before else StartWhen.GATE_OPENING
    ):
        data[CONF_START_WHEN] = StartWhen(start_when).value
    data[CONF_HAND_GATES] = typed.get(CONF_HAND_GATES, [])
    data[CONF_HIDE_WRAPPED] = typed[CONF_HIDE_WRAPPED]
    return name, data | read_watch_only(typed, before)


class CollectorFlow(GoLiveStep):
    """Change a system's collector."""

    async def async_step_reconfigure(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Change the collector; the system takes it up without a restart."""
        entry = self._get_reconfigure_entry()
        gates = gate_names(entry)
        stored = readable_data(entry)
        before = values_of(self.hass, entry.title, stored, gates)
        values = before
        mistakes = Mistakes(SECTIONS)
        if user_input is not None:
            values = flatten(user_input, SECTIONS)
            name, data = self._read(values, mistakes, before)
            for gate in data[CONF_HAND_GATES]:
                if gate not in gates:
                    mistakes.add(CONF_HAND_GATES, "unknown_gate")
            check_watch_only(entry, data, mistakes)
            if not mistakes:
                kept = {
                    key: value
                    for key, value in entry.data.items()
                    if key not in OWN_KEYS
                }
                return await self.store_system(entry, name, kept | data)
        claims = Claims(self.hass, entry)
        fields = {
            **collector_fields(self.hass, claims, before),
            **detail_fields(self.hass, claims, before, gates),
        }
        return self.async_show_form(
            step_id="reconfigure",
            data_schema=form(fields, values, SECTIONS, mistakes.places),
            errors=mistakes.errors,
            description_placeholders={
                "name": entry.title,
                "measured_spin_up": measured_spin_up(self.hass, entry),
                **watch_placeholders(self.hass),
                **upkeep_placeholders(self.hass),
                **air_placeholders(self.hass),
                **mistakes.placeholders,
            },
        )

    def _read(
        self, typed: Mapping[str, Any], mistakes: Mistakes, before: Mapping[str, Any]
    ) -> tuple[str, dict[str, Any]]:
        """Judge the form; return the collector's name and the data to store."""
        entry = self._get_reconfigure_entry()
        stored = readable_data(entry)
        claims = Claims(self.hass, entry)
        details = read_motor(self.hass, typed, mistakes, before, stored)
        if not mistakes:
            typed = follow_rating(typed, before, stored, details)
        name, data = read_collector(
            self.hass, typed, claims, mistakes, before, entry.entry_id
        )
        details |= read_watch(self.hass, typed, claims, mistakes, before, stored)
        details |= read_upkeep_form(self.hass, typed, claims, mistakes, before, stored)
        details |= read_air_form(self.hass, typed, claims, mistakes, before, stored)
        return name, data | details


OWN_KEYS = {
    CONF_SWITCH,
    CONF_POWER,
    CONF_HIDE_WRAPPED,
    CONF_WATCH_SINCE,
    *(field for held in SECTIONS.values() for field in held),
} - {CONF_START_WHEN}
"""The keys of the stored data that the form decides; others stay as they are.

When the collector starts may have been decided among the repairs while the form stood
open.
"""
