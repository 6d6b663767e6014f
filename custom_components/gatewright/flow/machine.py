"""The form of a machine or pickup: what it asks, and what is stored of the answers."""

from collections.abc import Mapping
from typing import Any

from homeassistant.const import CONF_NAME
from homeassistant.core import HomeAssistant
from homeassistant.helpers.selector import BooleanSelector, TextSelector
import voluptuous as vol

from ..const import (
    CONF_ATTACHED,
    CONF_CERTAIN,
    CONF_CLEARING,
    CONF_COMPANIONS,
    CONF_FORETOLD,
    CONF_GATES,
    CONF_GRACE,
    CONF_HOLD,
    CONF_HOSE_CONFIRM,
    CONF_KIND,
    CONF_NEEDS_AIR,
    CONF_ON_LOST,
    CONF_RELAY,
    CONF_REQUEST_LIMIT,
    CONF_RUN_LIMIT,
    CONF_RUNNING_STATES,
    CONF_SENSOR,
    CONF_SILENCE,
    CONF_START,
    CONF_START_SETTLE,
    CONF_STOP,
    CONF_STOP_SETTLE,
    CONF_UNIT,
)
from ..entities import to_entity_id, to_stored
from ..shop.kinds import KIND_DEFAULTS, MachineKind
from ..shop.plan import Gate, OnLost
from .claims import Claims
from .clearing import (
    CONF_CLEARING_GATES,
    clearing_fields,
    clearing_values,
    read_clearing,
)
from .detection import ANY_LEVEL, read_limits, read_sensing, told_by
from .fields import (
    ANY_LEVELS,
    CONF_CLEARING_TIME,
    LEVEL_LIMITS,
    LIMITS,
    Fields,
    Limit,
    choice_field,
    chosen_in,
    number_field,
    number_of,
    parts_field,
    states_field,
    touched,
)
from .found import CONF_FIND
from .mistakes import Mistakes
from .names import guess_kind, machine_name, take_name
from .need import NEED, need_fields, need_values
from .parts import NEW_PART, machine_part, machine_problems
from .picks import (
    ATTACHED,
    COMPANION,
    FORETOLD,
    MACHINE_SENSOR,
    RELAY,
    pick_field,
    take,
)
from .readings import Reading, Refused, Signal

SECTIONS = {
    "detection": (
        CONF_RUNNING_STATES,
        CONF_START,
        CONF_STOP,
        CONF_CERTAIN,
        CONF_START_SETTLE,
        CONF_STOP_SETTLE,
        CONF_GRACE,
        CONF_ON_LOST,
        CONF_SILENCE,
        CONF_RUN_LIMIT,
        CONF_RELAY,
    ),
    "afterwards": (
        CONF_HOLD,
        CONF_NEEDS_AIR,
        CONF_CLEARING_GATES[0],
        CONF_CLEARING_TIME[0],
        CONF_CLEARING_GATES[1],
        CONF_CLEARING_TIME[1],
    ),
    "need": NEED,
    "ahead": (CONF_FORETOLD,),
    "movable": (CONF_ATTACHED, CONF_HOSE_CONFIRM),
    "more": (CONF_COMPANIONS, CONF_REQUEST_LIMIT),
}

OWN_KEYS = {
    CONF_KIND,
    CONF_SENSOR,
    CONF_UNIT,
    CONF_GATES,
    CONF_CLEARING,
    *(field for held in SECTIONS.values() for field in held),
}
"""The keys of the stored data that the form decides; others stay as they are."""

_PICKS = {
    CONF_ATTACHED: ATTACHED,
    CONF_COMPANIONS: COMPANION,
    CONF_FORETOLD: FORETOLD,
    CONF_RELAY: RELAY,
}

_FIELDS_OF_THE_CORE = {"certain": CONF_CERTAIN, CONF_CLEARING: CONF_CLEARING_GATES[0]}
"""Where the form shows what the core finds wrong under another name."""

NEW = {CONF_FIND: True, CONF_NEEDS_AIR: True, CONF_ON_LOST: OnLost.STOPPED}
"""What the form of a new machine shows."""


def machine_fields(
    hass: HomeAssistant,
    claims: Claims,
    values: Mapping[str, Any],
    before: Mapping[str, Any],
    gates: Mapping[str, str],
    *,
    new: bool,
) -> Fields:
    """Return the fields of a machine's form, for the sensor that `values` names.

    A new machine can go without a name and a kind.
    """
    optional = vol.Optional if new else vol.Required
    told = told_by(hass, before, values.get(CONF_SENSOR))
    limit = LEVEL_LIMITS[told.unit] if isinstance(told, Reading) else ANY_LEVEL
    states = told.known if isinstance(told, Signal) else ()

    return {
        optional(CONF_NAME): TextSelector(),
        optional(CONF_KIND): choice_field(CONF_KIND, MachineKind),
        vol.Optional(CONF_SENSOR): pick_field(
            hass, MACHINE_SENSOR, claims, before, CONF_SENSOR
        ),
        vol.Optional(CONF_FIND): BooleanSelector(),
        **({vol.Optional(CONF_GATES): parts_field(gates)} if gates else {}),
        vol.Optional(CONF_RUNNING_STATES): states_field(states),
        vol.Optional(CONF_START): number_field(CONF_START, limit),
        vol.Optional(CONF_STOP): number_field(CONF_STOP, limit),
        vol.Optional(CONF_CERTAIN): number_field(CONF_CERTAIN, limit),
        vol.Optional(CONF_START_SETTLE): number_field(CONF_START_SETTLE),
        vol.Optional(CONF_STOP_SETTLE): number_field(CONF_STOP_SETTLE),
        vol.Optional(CONF_GRACE): number_field(CONF_GRACE),
        vol.Required(CONF_ON_LOST): choice_field(CONF_ON_LOST, OnLost),
        vol.Optional(CONF_SILENCE): number_field(CONF_SILENCE),
        vol.Optional(CONF_RUN_LIMIT): number_field(CONF_RUN_LIMIT),
        vol.Optional(CONF_RELAY): pick_field(hass, RELAY, claims, before, CONF_RELAY),
        vol.Optional(CONF_HOLD): number_field(CONF_HOLD),
        vol.Required(CONF_NEEDS_AIR): BooleanSelector(),
        **clearing_fields(gates),
        **need_fields(hass),
        vol.Optional(CONF_FORETOLD): pick_field(
            hass, FORETOLD, claims, before, CONF_FORETOLD
        ),
        vol.Optional(CONF_ATTACHED): pick_field(
            hass, ATTACHED, claims, before, CONF_ATTACHED
        ),
        vol.Optional(CONF_HOSE_CONFIRM): number_field(CONF_HOSE_CONFIRM),
        vol.Optional(CONF_COMPANIONS): pick_field(
            hass, COMPANION, claims, before, CONF_COMPANIONS, multiple=True
        ),
        vol.Optional(CONF_REQUEST_LIMIT): number_field(CONF_REQUEST_LIMIT),
    }


def values_of(
    hass: HomeAssistant, title: str, data: Mapping[str, Any], gates: Mapping[str, Gate]
) -> dict[str, Any]:
    """Return what a form shows for a stored machine."""
    # Zero is how a form says that there is no limit; an empty field takes the usual
    # one when the machine gets a reading.
    silence = data.get(CONF_SILENCE, 0) / 60 if CONF_UNIT in data else None
    run_limit = data.get(CONF_RUN_LIMIT)
    return {
        CONF_FIND: False,
        CONF_ON_LOST: OnLost.STOPPED,
        **data,
        CONF_NAME: title,
        CONF_SENSOR: to_entity_id(hass, data.get(CONF_SENSOR, "")),
        CONF_GATES: [gate for gate in data[CONF_GATES] if gate in gates],
        CONF_ATTACHED: to_entity_id(hass, data.get(CONF_ATTACHED, "")),
        CONF_FORETOLD: to_entity_id(hass, data.get(CONF_FORETOLD, "")),
        CONF_RELAY: to_entity_id(hass, data.get(CONF_RELAY, "")),
        CONF_COMPANIONS: [
            entity_id
            for stored in data[CONF_COMPANIONS]
            if (entity_id := to_entity_id(hass, stored))
        ],
        CONF_SILENCE: silence,
        CONF_RUN_LIMIT: run_limit and run_limit / 60,
        CONF_REQUEST_LIMIT: data.get(CONF_REQUEST_LIMIT, 0) / 60,
        **clearing_values(data[CONF_CLEARING], gates),
        **need_values(hass, data),
    }


def read_machine(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    claims: Claims,
    mistakes: Mistakes,
    before: Mapping[str, Any],
    gates: Mapping[str, Gate],
    taken: Mapping[str, str],
) -> tuple[str, dict[str, Any]]:
    """Judge a typed machine; return its name and the data to store.

    `before` is what the form showed at first, empty for a new machine; `taken` are
    the names that are taken.
    """
    kept = chosen_in(before, CONF_SENSOR)
    picked = typed.get(CONF_SENSOR)
    sensors = take(hass, MACHINE_SENSOR, claims, mistakes, CONF_SENSOR, picked, kept)
    sensor = next(iter(sensors), None)
    name = typed.get(CONF_NAME)
    if not name and not before and sensor:
        name = machine_name(hass, sensor)
    name = take_name(name, taken, mistakes, CONF_NAME)
    kind = MachineKind(typed.get(CONF_KIND) or guess_kind(name))

    data: dict[str, Any] = {
        CONF_KIND: kind.value,
        CONF_GATES: list(typed.get(CONF_GATES, [])),
        CONF_NEEDS_AIR: typed.get(CONF_NEEDS_AIR, True),
    }
    limit = ANY_LEVEL
    told: Reading | Signal | Refused | None = None
    if sensor:
        data[CONF_SENSOR] = to_stored(hass, sensor)
        told = told_by(hass, before, sensor)
        if isinstance(told, Reading):
            limit = LEVEL_LIMITS[told.unit]
        data |= read_sensing(hass, typed, mistakes, before, sensor, told)
    elif any(touched(typed, before, field) for field in ANY_LEVELS):
        mistakes.add(CONF_START, "levels_without_reading")
    elif touched(typed, before, CONF_RUNNING_STATES):
        mistakes.add(CONF_RUNNING_STATES, "states_without_signal")
    data |= read_limits(typed, mistakes, before, told)
    data |= _read_times(_follow_kind(typed, before, kind), mistakes, kind)
    data[CONF_CLEARING] = read_clearing(
        _follow_kind(typed, before, kind),
        mistakes,
        before,
        gates,
        KIND_DEFAULTS[kind].clearing,
    )
    for field, pick in _PICKS.items():
        kept = chosen_in(before, field)
        chosen = take(hass, pick, claims, mistakes, field, typed.get(field), kept)
        stored = [to_stored(hass, entity_id) for entity_id in chosen]
        if field == CONF_COMPANIONS:
            data[field] = stored
        elif stored:
            data[field] = stored[0]
    if typed.get(CONF_HOSE_CONFIRM) is not None:
        data[CONF_HOSE_CONFIRM] = number_of(typed, CONF_HOSE_CONFIRM, mistakes, 0)
    _add_problems(mistakes, gates, data, limit)
    return name, data


def _usual_for(kind: MachineKind) -> dict[str, float]:
    """Return what a kind brings along, as the form shows it."""
    usual = KIND_DEFAULTS[kind]
    return {
        CONF_HOLD: usual.hold,
        **dict.fromkeys(CONF_CLEARING_TIME, usual.clearing),
        CONF_REQUEST_LIMIT: (usual.request_limit or 0) / 60,
    }


def _follow_kind(
    typed: Mapping[str, Any], before: Mapping[str, Any], kind: MachineKind
) -> dict[str, Any]:
    """Forget the times that were usual for the kind before and were left so."""
    followed = dict(typed)
    if before and before[CONF_KIND] != kind:
        for field, usual in _usual_for(MachineKind(before[CONF_KIND])).items():
            if typed.get(field) == before.get(field) == usual:
                followed[field] = None
    return followed


def _read_times(
    typed: Mapping[str, Any], mistakes: Mistakes, kind: MachineKind
) -> dict[str, Any]:
    usual = _usual_for(kind)
    data = {CONF_HOLD: number_of(typed, CONF_HOLD, mistakes, usual[CONF_HOLD])}
    # Zero is how a form says that a request may last for ever.
    if minutes := number_of(
        typed, CONF_REQUEST_LIMIT, mistakes, usual[CONF_REQUEST_LIMIT]
    ):
        data[CONF_REQUEST_LIMIT] = minutes * 60
    return data


def _add_problems(
    mistakes: Mistakes, gates: Mapping[str, Gate], data: Mapping[str, Any], level: Limit
) -> None:
    """Add what the core finds wrong with a machine."""
    for problem in machine_problems(gates.values(), machine_part(NEW_PART, data)):
        field = problem.field
        place = _FIELDS_OF_THE_CORE.get(field, field)
        if problem.code not in ("negative", "not_positive"):
            mistakes.add(place, problem.code)
        elif field != CONF_CLEARING:
            limit = level if place in ANY_LEVELS else LIMITS[field]
            mistakes.add(place, f"bad_{place}", str(limit))
