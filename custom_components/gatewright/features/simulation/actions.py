"""The action that simulates a system."""

from collections.abc import Mapping
from typing import Any

from homeassistant.const import ATTR_CONFIG_ENTRY_ID
from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.helpers import config_validation as cv
import voluptuous as vol

from ...const import (
    CONF_SHUTOFF_DELAY,
    CONF_SPIN_DOWN,
    CONF_START_CONFIRM,
    CONF_STOP_CONFIRM,
)
from ...core.config import ConfigError
from ...runtime.errors import validation_error
from ...runtime.parsing import moment, number
from ...runtime.permissions import Permission, Requester, register_action
from ...runtime.system_context import GatewrightConfigEntry, system_of
from .manager import CannotSimulateError, period, simulate_system
from .proposed_config import (
    COLLECTOR_SETTINGS,
    LEVEL_SETTINGS,
    MACHINE_SETTINGS,
    proposed_config,
)
from .response import answer_of, names_of

SERVICE_SIMULATE = "simulate"

_START = "start"
_END = "end"
_DAYS = "days"
_MACHINES = "machines"
_MACHINE = "machine"

_LONGEST_WAIT = 600.0
"""The longest time in s that a setting accepts."""

_time = number(0, _LONGEST_WAIT)
_level = number(0, 50_000)

_STORED = {
    "shutoff_delay": CONF_SHUTOFF_DELAY,
    "spin_down": CONF_SPIN_DOWN,
    "start_confirm_time": CONF_START_CONFIRM,
    "stop_confirm_time": CONF_STOP_CONFIRM,
}
"""The settings whose stored key differs from the field."""

_FIELDS = {stored: field for field, stored in _STORED.items()}

_MACHINE_FIELDS: dict[Any, Any] = {
    vol.Optional(_FIELDS.get(setting, setting)): _level
    if setting in LEVEL_SETTINGS
    else _time
    for setting in MACHINE_SETTINGS
}

_SCHEMA = vol.Schema(
    {
        vol.Required(ATTR_CONFIG_ENTRY_ID): cv.string,
        vol.Optional(_START): moment,
        vol.Optional(_END): moment,
        vol.Optional(_DAYS): number(0.01, 31),
        **{vol.Optional(_FIELDS[setting]): _time for setting in COLLECTOR_SETTINGS},
        vol.Optional(_MACHINES, default=list): vol.All(
            cv.ensure_list,
            [
                {
                    vol.Required(_MACHINE): cv.string,
                    **_MACHINE_FIELDS,
                }
            ],
        ),
    }
)


@callback
def async_setup_simulating(hass: HomeAssistant) -> None:
    """Register the action."""
    register_action(
        hass,
        SERVICE_SIMULATE,
        _simulate,
        _SCHEMA,
        deed=Permission.READ,
        supports_response=SupportsResponse.ONLY,
    )


async def _simulate(call: ServiceCall, asker: Requester) -> ServiceResponse:
    """Return what would have happened in a recorded time, and what did."""
    entry = asker.system(call.data[ATTR_CONFIG_ENTRY_ID])
    data = call.data
    described = proposed_config(
        system_of(entry).described,
        collector={
            key: data[_FIELDS[key]]
            for key in COLLECTOR_SETTINGS
            if _FIELDS[key] in data
        },
        machines=_changed_machines(entry, asker, data[_MACHINES]),
    )
    try:
        begins, ends = period(data.get(_START), data.get(_END), data.get(_DAYS))
        found = await simulate_system(call.hass, described, begins, ends)
    except CannotSimulateError as err:
        raise validation_error(err.why, name=entry.title) from err
    except ConfigError as err:
        part = err.problems[0].part
        seen = asker.sees_part(system_of(entry), part)
        machine = entry.subentries.get(part) if seen else None
        raise validation_error(
            "simulate_bad_settings",
            name=entry.title if machine is None else machine.title,
        ) from err
    system = system_of(entry)
    return answer_of(found, names_of(found), lambda part: asker.sees_part(system, part))


def _changed_machines(
    entry: GatewrightConfigEntry, asker: Requester, typed: list[Mapping[str, Any]]
) -> dict[str, dict[str, Any]]:
    """Return the changed settings by the machines' ids; callers use names or ids.

    A machine that the user may not see counts as missing.
    """
    machines = [
        machine
        for machine in system_of(entry).described.machines.values()
        if asker.sees_machine(machine.part_id)
    ]
    changed: dict[str, dict[str, Any]] = {}
    for settings in typed:
        wanted = settings[_MACHINE].casefold()
        machine = next(
            (
                part
                for part in machines
                if wanted in (part.name.casefold(), part.part_id.casefold())
            ),
            None,
        )
        if machine is None:
            raise validation_error(
                "simulate_no_such_machine",
                machine=settings[_MACHINE],
                name=entry.title,
            )
        asked = {_STORED.get(key, key): value for key, value in settings.items()}
        levels = [key for key in asked if key in MACHINE_SETTINGS[1:]]
        if levels and machine.sensor is None:
            raise validation_error("simulate_not_sensed", machine=machine.name)
        if machine.unit is None and not {*LEVEL_SETTINGS}.isdisjoint(levels):
            raise validation_error("simulate_no_levels", machine=machine.name)
        changed[machine.part_id] = {
            key: value for key, value in asked.items() if key != _MACHINE
        }
    return changed
