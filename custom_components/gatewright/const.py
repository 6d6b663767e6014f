"""Names shared by the Home Assistant side of Gatewright."""

from enum import StrEnum
from typing import Final

DOMAIN: Final = "gatewright"

SUBENTRY_GATE: Final = "gate"
SUBENTRY_MACHINE: Final = "machine"

# The collector: data of the config entry.
CONF_SWITCH: Final = "switch"
CONF_POWER: Final = "power"
CONF_RUN_ON: Final = "run_on"
CONF_COAST: Final = "coast"
CONF_START_DELAY: Final = "start_delay"
CONF_CONFIRM: Final = "confirm"
CONF_REST_TIME: Final = "rest_time"
CONF_STARTS_PER_HOUR: Final = "starts_per_hour"
CONF_HAND_GATES: Final = "hand_gates"
CONF_HIDE_WRAPPED: Final = "hide_wrapped"
CONF_EMERGENCY: Final = "emergency"
CONF_BIN_FULL: Final = "bin_full"
CONF_BIN_ANSWER: Final = "bin_answer"
CONF_AIR_SUPPLY: Final = "air_supply"
CONF_AIR_SUPPLY_LOW: Final = "air_supply_low"
CONF_FILTER_PRESSURE: Final = "filter_pressure"
CONF_FILTER_LIMIT: Final = "filter_limit"
CONF_MOTOR_RATING: Final = "motor_rating"
CONF_MOTOR_POLES: Final = "motor_poles"

# A gate: data of a subentry.
CONF_GATE_KIND: Final = "gate_kind"
CONF_ACTUATOR: Final = "actuator"
CONF_INVERTED: Final = "inverted"
CONF_OPEN_SENSOR: Final = "open_sensor"
CONF_SHUT_SENSOR: Final = "shut_sensor"
CONF_TRAVEL: Final = "travel"
CONF_REST: Final = "rest"

# A machine: data of a subentry.
CONF_KIND: Final = "kind"
CONF_GATES: Final = "gates"
CONF_SENSOR: Final = "sensor"
CONF_UNIT: Final = "unit"
CONF_RUNNING_STATES: Final = "running_states"
CONF_START: Final = "start"
CONF_STOP: Final = "stop"
CONF_START_SETTLE: Final = "start_settle"
CONF_STOP_SETTLE: Final = "stop_settle"
CONF_GRACE: Final = "grace"
CONF_ON_LOST: Final = "on_lost"
CONF_HOLD: Final = "hold"
CONF_CLEARING: Final = "clearing"
CONF_DURATION: Final = "duration"
CONF_NEEDS_AIR: Final = "needs_air"
CONF_ATTACHED: Final = "attached"
CONF_COMPANIONS: Final = "companions"
CONF_REQUEST_LIMIT: Final = "request_limit"
CONF_RUN_LIMIT: Final = "run_limit"
CONF_SILENCE: Final = "silence"

UNIT_WATT: Final = "W"
UNIT_AMPERE: Final = "A"


class BinAnswer(StrEnum):
    """What happens when the bin is full: only tell, start no more, or end after this."""

    WARN = "warn"
    REFUSE = "refuse"
    FINISH = "finish"
