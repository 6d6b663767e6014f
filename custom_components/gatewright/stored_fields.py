"""What each stored value of a system has to be, so that it can be read."""

from collections.abc import Callable, Mapping
from enum import StrEnum
import math
from types import MappingProxyType
from typing import Any, Final

from . import const
from .air.needs import IN_DUCT
from .airflow import HOODS, INLETS, MATERIALS, MATERIALS_CARRIED, HoseState, Seal
from .const import SUBENTRY_DUCT, SUBENTRY_GATE, SUBENTRY_MACHINE
from .shop.kinds import ActuatorSort, MachineKind
from .shop.plan import BinAnswer, Collector, GateKind, OnLost, Rest, StartWhen
from .shop.upkeep.plan import CleaningKind
from .upkeep.settings import SERVICE_ID, SERVICE_NAME

type Test = Callable[[Any], bool]

_MOST: Final = 1e7
"""No figure of a form is larger."""


def is_number(value: Any) -> bool:
    """Whether a stored value is a number that a form could have taken."""
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and math.isfinite(value)
        and 0 <= value <= _MOST
    )


def _signed(value: Any) -> bool:
    return is_number(abs(value)) if isinstance(value, int | float) else False


def _text(value: Any) -> bool:
    return isinstance(value, str)


def _flag(value: Any) -> bool:
    return isinstance(value, bool)


def _texts(value: Any) -> bool:
    return isinstance(value, list | tuple) and all(map(_text, value))


def _text_or_texts(value: Any) -> bool:
    return _text(value) or _texts(value)


def _one_of(choices: type[StrEnum] | Mapping[str, Any] | tuple[str, ...]) -> Test:
    known = {str(choice) for choice in choices}
    return lambda value: _text(value) and value in known


def _text_or_number(value: Any) -> bool:
    return _text(value) or is_number(value)


def _rows(**fields: Test) -> Test:
    def test(value: Any) -> bool:
        return isinstance(value, list | tuple) and all(
            isinstance(row, Mapping)
            and all(key in row and holds(row[key]) for key, holds in fields.items())
            for row in value
        )

    return test


def _points(value: Any) -> bool:
    return isinstance(value, list | tuple) and all(
        isinstance(point, list | tuple)
        and len(point) == 2
        and all(map(is_number, point))
        for point in value
    )


def _services(value: Any) -> bool:
    named = _rows(**{SERVICE_ID: _text, SERVICE_NAME: _text})
    return named(value) and all(
        all(_text(figure) or is_number(figure) for figure in row.values())
        for row in value
    )


_OF_GATES: Final[dict[str, Test]] = {
    const.CONF_GATE_KIND: _one_of(GateKind),
    const.CONF_TRAVEL: is_number,
    const.CONF_OPEN_FROM: is_number,
    const.CONF_REST: _one_of(Rest),
    const.CONF_ACTUATOR: _text,
    const.CONF_OPEN_SENSOR: _text,
    const.CONF_SHUT_SENSOR: _text,
    const.CONF_INVERTED: _flag,
    const.CONF_ACTUATOR_SORT: _one_of(ActuatorSort),
    const.CONF_DUCT: _text,
    const.CONF_SEAL: _one_of(Seal),
    const.CONF_HOSE_STATE: _one_of(HoseState),
    const.CONF_HOOD: _one_of((*HOODS, IN_DUCT)),
    **dict.fromkeys(
        (
            const.CONF_PORT_DIAMETER,
            const.CONF_HOSE_DIAMETER,
            const.CONF_HOSE_LENGTH,
            const.CONF_DROP_DIAMETER,
            const.CONF_DROP_LENGTH,
            const.CONF_DROP_ELBOWS,
            const.CONF_ENTRY_ANGLE,
        ),
        is_number,
    ),
}
_OF_MACHINES: Final[dict[str, Test]] = {
    const.CONF_KIND: _one_of(MachineKind),
    const.CONF_GATES: _texts,
    const.CONF_NEEDS_AIR: _flag,
    const.CONF_HOLD: is_number,
    const.CONF_SENSOR: _text,
    const.CONF_UNIT: _text,
    const.CONF_ON_LOST: _one_of(OnLost),
    const.CONF_RUNNING_STATES: _texts,
    const.CONF_ATTACHED: _text,
    const.CONF_FORETOLD: _text,
    const.CONF_RELAY: _text,
    const.CONF_HOSE_CONFIRM: is_number,
    const.CONF_COMPANIONS: _texts,
    const.CONF_CLEARING: _rows(
        **{const.CONF_GATES: _texts, const.CONF_DURATION: is_number}
    ),
    **dict.fromkeys(
        (
            const.CONF_START,
            const.CONF_STOP,
            const.CONF_CERTAIN,
            const.CONF_START_SETTLE,
            const.CONF_STOP_SETTLE,
            const.CONF_GRACE,
            const.CONF_SILENCE,
            const.CONF_REQUEST_LIMIT,
            const.CONF_RUN_LIMIT,
            const.CONF_SIZE,
            const.CONF_REQUIRED_FLOW,
        ),
        is_number,
    ),
}
_OF_DUCTS: Final[dict[str, Test]] = {
    const.CONF_DIAMETER: is_number,
    const.CONF_LENGTH: is_number,
    const.CONF_DUCT_MATERIAL: _one_of(MATERIALS),
    const.CONF_ENTRY_ANGLE: is_number,
    const.CONF_INTO: _text,
    const.CONF_VERTICAL: _flag,
    const.CONF_ELBOWS: _rows(
        count=is_number, angle=is_number, radius=is_number, construction=_text
    ),
}
OF_PARTS: Final = {
    SUBENTRY_GATE: _OF_GATES,
    SUBENTRY_MACHINE: _OF_MACHINES,
    SUBENTRY_DUCT: _OF_DUCTS,
}
"""What each value of a part has to be, where it is there."""

NEEDED: Final = {
    SUBENTRY_GATE: (const.CONF_GATE_KIND, const.CONF_TRAVEL, const.CONF_REST),
    SUBENTRY_MACHINE: (
        const.CONF_KIND,
        const.CONF_GATES,
        const.CONF_NEEDS_AIR,
        const.CONF_HOLD,
    ),
    SUBENTRY_DUCT: (
        const.CONF_DIAMETER,
        const.CONF_LENGTH,
        const.CONF_DUCT_MATERIAL,
        const.CONF_ENTRY_ANGLE,
    ),
}
NEEDED_OF_SENSED: Final = (
    const.CONF_START_SETTLE,
    const.CONF_STOP_SETTLE,
    const.CONF_GRACE,
    const.CONF_ON_LOST,
)
_USUAL: Final = Collector(name="")

COLLECTOR_DEFAULTS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        const.CONF_RUN_ON: _USUAL.run_on,
        const.CONF_COAST: _USUAL.coast,
        const.CONF_START_DELAY: _USUAL.start_delay,
        const.CONF_CONFIRM: _USUAL.confirm,
        const.CONF_REST_TIME: _USUAL.rest,
        const.CONF_HAND_GATES: [],
        const.CONF_HIDE_WRAPPED: True,
    }
)
"""What counts where one of these, which are always stored, cannot be read."""

OF_COLLECTOR: Final[dict[str, Test]] = {
    const.CONF_SWITCH: _text,
    const.CONF_HAND_GATES: _texts,
    const.CONF_EMERGENCY: _text_or_texts,
    const.CONF_BIN_ANSWER: _one_of(BinAnswer),
    const.CONF_START_WHEN: _one_of(StartWhen),
    const.CONF_CLEANING_KIND: _one_of(CleaningKind),
    const.CONF_DISCHARGE: _one_of(const.DischargeKind),
    const.CONF_CARRIED: _one_of(MATERIALS_CARRIED),
    const.CONF_INLET: _one_of(INLETS),
    const.CONF_MOTOR_PHASES: _text,
    const.CONF_FAN_POINTS: _points,
    const.CONF_MOTOR_POLES: _text_or_number,
    const.CONF_SERVICES: _services,
    **dict.fromkeys(
        (
            const.CONF_HIDE_WRAPPED,
            const.CONF_CLEANING_RUNNING,
            const.CONF_SPEED_CONTROL,
            const.CONF_RELIEF,
            const.CONF_TRANSPORT_RUN_ON,
            const.CONF_TOGETHER_ALARM,
        ),
        _flag,
    ),
    **dict.fromkeys(
        (
            const.CONF_POWER,
            const.CONF_BIN_FULL,
            const.CONF_AIR_SUPPLY,
            const.CONF_FILTER_PRESSURE,
            const.CONF_BIN_LEVEL,
            const.CONF_CLEANING,
            const.CONF_ROOM_CLEANER,
            const.CONF_PARTICLES,
            const.CONF_SUCTION,
            const.CONF_DRIVE,
            const.CONF_WATCH_SINCE,
        ),
        _text,
    ),
    **dict.fromkeys(
        (
            const.CONF_BIN_EMPTY_READING,
            const.CONF_BIN_FULL_READING,
            const.CONF_TEMPERATURE,
            const.CONF_ALTITUDE,
        ),
        _signed,
    ),
    **dict.fromkeys(
        (
            const.CONF_RUN_ON,
            const.CONF_COAST,
            const.CONF_START_DELAY,
            const.CONF_CONFIRM,
            const.CONF_SPIN_UP,
            const.CONF_REST_TIME,
            const.CONF_STARTS_PER_HOUR,
            const.CONF_AIR_SUPPLY_LOW,
            const.CONF_FILTER_LIMIT,
            const.CONF_MOTOR_RATING,
            const.CONF_WHEEL_DIAMETER,
            const.CONF_WHEEL_WEIGHT,
            const.CONF_AIR_MARGIN,
            const.CONF_BIN_VOLUME,
            const.CONF_BIN_WARN,
            const.CONF_BIN_USUAL,
            const.CONF_FILTER_HOURS,
            const.CONF_FILTER_LIFE,
            const.CONF_FILTER_WORN,
            const.CONF_CLEANING_WAIT,
            const.CONF_CLEANING_TIME,
            const.CONF_CLEANING_TIMES,
            const.CONF_CLEANING_PAUSE,
            const.CONF_CLEANING_HOURS,
            const.CONF_CLEANING_ABOVE,
            const.CONF_ENERGY_PRICE,
            const.CONF_ROOM_VOLUME,
            const.CONF_ROOM_FLOW,
            const.CONF_ROOM_CHANGES,
            const.CONF_PARTICLES_CLEAN,
            const.CONF_FREE_FLOW,
            const.CONF_MAX_SUCTION,
            const.CONF_INLET_DIAMETER,
            const.CONF_SEPARATOR_FLOW,
            const.CONF_SEPARATOR_LOSS,
            const.CONF_FILTER_FLOW,
            const.CONF_FILTER_LOSS,
            const.CONF_STACK_DIAMETER,
            const.CONF_STACK_LENGTH,
            const.CONF_DRIVE_FLOOR,
            const.CONF_DRIVE_CEILING,
        ),
        is_number,
    ),
}

TOGETHER: Final = (
    (const.CONF_FREE_FLOW, const.CONF_MAX_SUCTION),
    (const.CONF_SEPARATOR_FLOW, const.CONF_SEPARATOR_LOSS),
    (const.CONF_FILTER_LOSS, const.CONF_FILTER_FLOW),
    (const.CONF_BIN_LEVEL, const.CONF_BIN_EMPTY_READING),
    (const.CONF_BIN_LEVEL, const.CONF_BIN_FULL_READING),
    (const.CONF_SPEED_CONTROL, const.CONF_DRIVE_FLOOR),
    (const.CONF_SPEED_CONTROL, const.CONF_DRIVE_CEILING),
)
"""What says nothing without the other: the first goes where the second is not there."""

UPKEEP_FIELDS: Final = (
    const.CONF_SERVICES,
    const.CONF_CLEANING,
    const.CONF_FILTER_HOURS,
    const.CONF_FILTER_LIFE,
    const.CONF_FILTER_LIMIT,
    const.CONF_BIN_LEVEL,
    const.CONF_BIN_VOLUME,
    const.CONF_ROOM_CLEANER,
)
AIR_FIELDS: Final = (
    const.CONF_FAN_POINTS,
    const.CONF_FREE_FLOW,
    const.CONF_SEPARATOR_LOSS,
    const.CONF_FILTER_LOSS,
    const.CONF_DISCHARGE,
    const.CONF_INLET_DIAMETER,
    const.CONF_ALTITUDE,
    const.CONF_TEMPERATURE,
)
