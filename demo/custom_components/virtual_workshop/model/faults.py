"""The faults of the workshop's parts."""

from enum import StrEnum


class Fault(StrEnum):
    """One way in which a part fails. A fault stays until it's repaired, unless noted otherwise."""

    GATE_STUCK = "gate_stuck"
    """The slide does not move; its motor pushes and gives up after a while."""
    GATE_SLOW = "gate_slow"
    """The slide needs four times as long."""
    GATE_UNPOWERED = "gate_unpowered"
    """The actuator is unavailable and the slide stays where it is."""

    PLUG_OFFLINE = "plug_offline"
    """The meter and its relay are unavailable; the machine is not affected."""
    PLUG_FROZEN = "plug_frozen"
    """The meter keeps repeating its last reading."""
    PLUG_SILENT = "plug_silent"
    """The meter stops reporting; its last reading remains."""
    PLUG_UNKNOWN = "plug_unknown"
    """The meter is online without a reading."""
    PLUG_FALSE_ZERO = "plug_false_zero"
    """The meter reports zero once, then the truth again."""
    PLUG_NEGATIVE = "plug_negative"
    """The meter is wired the wrong way around: its readings are negative."""
    PLUG_UNIT = "plug_unit"
    """The meter changes its unit: kW instead of W, mA instead of A."""
    PLUG_VOLTS = "plug_volts"
    """The meter reports the voltage in place of its power."""

    BREAKER_TRIPPED = "breaker_tripped"
    """The collector's relay is on but its motor has no supply."""
    MOTOR_CUTOUT = "motor_cutout"
    """The collector's relay drops out and does not hold."""
    CONTACTOR_WELDED = "contactor_welded"
    """The collector's relay cannot switch off and says so."""
    CONTACTOR_WELDED_HIDDEN = "contactor_welded_hidden"
    """The collector's relay reports off while its motor keeps running."""
    COLLECTOR_OFFLINE = "collector_offline"
    """The collector's relay and meter are unavailable; the motor is not affected."""

    CONTACT_LOST = "contact_lost"
    """A contact (hose attached, hand gate open) is unavailable."""

    COMMAND_ERROR = "command_error"
    """Commands fail with Home Assistant's own error."""
    COMMAND_TIMEOUT = "command_timeout"
    """Commands fail with a plain time-out, as a device library raises it."""
    COMMAND_HANG = "command_hang"
    """Commands do not return until the fault is mended."""
    COMMAND_LOST = "command_lost"
    """Commands return, and nothing happens."""
    COMMAND_LATE = "command_late"
    """Commands take effect, and are confirmed, 15 seconds late."""
    COMMAND_BOUNCE = "command_bounce"
    """Commands work, but the report says the new state, the old one, and then the truth."""

    AIR_SUPPLY_LOW = "air_supply_low"
    """No compressed air: pneumatic gates do not move."""
    FILTER_CLOGGED = "filter_clogged"
    """The pressure over the filter is four times what it should be."""
    SMOKE = "smoke"
    """The smoke detector reports smoke."""
    MAINS_OUT = "mains_out"
    """The whole workshop is without power; Home Assistant runs on a battery."""


class Part(StrEnum):
    """The kinds of parts that a fault applies to."""

    GATE = "gate"
    HAND_GATE = "hand_gate"
    PLUG = "plug"
    CLAMP = "clamp"
    MOVABLE = "movable"
    COLLECTOR = "collector"
    SITE = "site"


COMMAND_FAULTS = frozenset(
    {
        Fault.COMMAND_ERROR,
        Fault.COMMAND_TIMEOUT,
        Fault.COMMAND_HANG,
        Fault.COMMAND_LOST,
        Fault.COMMAND_LATE,
        Fault.COMMAND_BOUNCE,
    }
)

_READING_FAULTS = frozenset(
    {
        Fault.PLUG_OFFLINE,
        Fault.PLUG_FROZEN,
        Fault.PLUG_SILENT,
        Fault.PLUG_UNKNOWN,
        Fault.PLUG_FALSE_ZERO,
        Fault.PLUG_NEGATIVE,
        Fault.PLUG_UNIT,
        Fault.PLUG_VOLTS,
    }
)

POSSIBLE: dict[Part, frozenset[Fault]] = {
    Part.GATE: COMMAND_FAULTS
    | {Fault.GATE_STUCK, Fault.GATE_SLOW, Fault.GATE_UNPOWERED},
    Part.HAND_GATE: frozenset({Fault.CONTACT_LOST}),
    Part.PLUG: COMMAND_FAULTS | _READING_FAULTS,
    Part.CLAMP: _READING_FAULTS,
    Part.MOVABLE: frozenset({Fault.CONTACT_LOST}),
    Part.COLLECTOR: COMMAND_FAULTS
    | (_READING_FAULTS - {Fault.PLUG_OFFLINE})
    | {
        Fault.BREAKER_TRIPPED,
        Fault.MOTOR_CUTOUT,
        Fault.CONTACTOR_WELDED,
        Fault.CONTACTOR_WELDED_HIDDEN,
        Fault.COLLECTOR_OFFLINE,
    },
    Part.SITE: frozenset(
        {Fault.AIR_SUPPLY_LOW, Fault.FILTER_CLOGGED, Fault.SMOKE, Fault.MAINS_OUT}
    ),
}
