"""Everything that can happen to a system, as data.

`ShopControl.handle(event, now)` takes each of these. A value of None means "not known". An `own_entities`
report stems from our own command; an actuator that is `no_feedback` is there and doesn't say how
it stands. What a person asks for may be refused.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from .config import SystemConfig
from .control.alarms import Condition


class Mode(StrEnum):
    """A mode of the whole system that a person turns on and off."""

    AUTOMATIC = "automatic"
    START_BLOCK = "start_block"


# What machines say ---------------------------------------------------------------


class MachineReading(NamedTuple):
    """A reading of a machine, in its own unit; a signal reads 1.0 or 0.0.

    By far the most are these, and a tuple is made faster than anything else.
    """

    machine_id: str
    value: float | None


@dataclass(frozen=True, slots=True)
class RelayReported:
    """The relay in the plug of a machine reported whether it is on."""

    machine_id: str
    on: bool | None


@dataclass(frozen=True, slots=True)
class HoseReported:
    """A movable machine reported whether its hose is connected."""

    machine_id: str
    connected: bool | None


@dataclass(frozen=True, slots=True)
class WorkForetold:
    """A sensor said whether somebody is about to work at a machine."""

    machine_id: str
    present: bool | None


# What actuators say --------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class GateReported:
    """A gate reported: True open, False closed, None between the two.

    `position` is how far it is open, 0 to 1, where it says so.
    """

    gate_id: str
    value: bool | None
    reachable: bool = True
    own: bool = False
    no_feedback: bool = False
    position: float | None = None


@dataclass(frozen=True, slots=True)
class CollectorReported:
    """The collector's switch reported whether it is on; None is as good as no report."""

    value: bool | None
    reachable: bool = True
    own: bool = False
    no_feedback: bool = False


@dataclass(frozen=True, slots=True)
class CollectorPower:
    """A reading of the collector's power, in W."""

    watts: float | None


@dataclass(frozen=True, slots=True)
class LinkedDeviceReported:
    """A linked device reported whether it is on."""

    device_id: str
    value: bool | None
    reachable: bool = True
    own: bool = False


@dataclass(frozen=True, slots=True)
class ActuatorInput:
    """Something that concerns what is known of one actuator, whatever it drives."""

    part: str


@dataclass(frozen=True, slots=True)
class CommandDispatched(ActuatorInput):
    """A command left: from now on it may take effect."""


@dataclass(frozen=True, slots=True)
class CommandHeldUp(ActuatorInput):
    """A command waits for an earlier one that has not returned."""


@dataclass(frozen=True, slots=True)
class CommandRefused(ActuatorInput):
    """The command that left last was not taken."""


# What people ask for -------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RetryAsked(ActuatorInput):
    """A person has an actuator tried again that was given up."""


@dataclass(frozen=True, slots=True)
class RequestMade:
    """A person asked for dust collection at a machine, for `limit` s at most.

    Without a `limit` the machine's own applies.
    """

    machine_id: str
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class RequestWithdrawn:
    """A request was taken back."""

    machine_id: str


@dataclass(frozen=True, slots=True)
class CollectorTurned:
    """A person turned the collector on, or everything off."""

    on: bool


@dataclass(frozen=True, slots=True)
class GateMoved:
    """A person has a gate opened or closed."""

    gate_id: str
    opened: bool


@dataclass(frozen=True, slots=True)
class HandGatesChosen:
    """A person chose the gates for a collector turned on by hand; none are the plan's."""

    gates: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ModeSet:
    """A mode was turned on or off."""

    mode: Mode
    on: bool


@dataclass(frozen=True, slots=True)
class FireShutdownReset:
    """A person ended a fire alarm shutdown; refused while a detector gives the alarm."""


# What watches over the collector --------------------------------------------------


@dataclass(frozen=True, slots=True)
class DetectorReported:
    """A detector reported whether it gives the alarm."""

    detector: str
    alarm: bool | None


@dataclass(frozen=True, slots=True)
class BinReported:
    """The bin's sensor reported whether it is full."""

    full: bool


@dataclass(frozen=True, slots=True)
class ConditionReported:
    """A condition for an alarm that the core can't see for itself came or went."""

    condition: Condition
    present: bool


# What the ducts need -------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class BleedGatesChosen:
    """The gates to open beside the wanted ones, so that the main keeps its velocity."""

    gates: frozenset[str]


@dataclass(frozen=True, slots=True)
class EmptyingTimeFound:
    """How long in s the ducts need to empty after the last demand."""

    seconds: float


# What the owner changed ----------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PlanChanged:
    """The owner changed the description of the system."""

    system: SystemConfig


@dataclass(frozen=True, slots=True)
class ActuatorExchanged:
    """The entity behind the collector or a gate was exchanged for another."""

    part: str


@dataclass(frozen=True, slots=True)
class EntitiesDisabled:
    """These are all the parts whose entity the owner has disabled."""

    parts: frozenset[str]


@dataclass(frozen=True, slots=True)
class TimePassed:
    """Nothing but time: look again."""


type Reported = (
    MachineReading
    | RelayReported
    | HoseReported
    | WorkForetold
    | GateReported
    | CollectorReported
    | CollectorPower
    | LinkedDeviceReported
    | CommandDispatched
    | CommandHeldUp
    | CommandRefused
)
type Asked = (
    RetryAsked
    | RequestMade
    | RequestWithdrawn
    | CollectorTurned
    | GateMoved
    | HandGatesChosen
    | ModeSet
    | FireShutdownReset
)
type Noted = (
    DetectorReported
    | BinReported
    | ConditionReported
    | BleedGatesChosen
    | EmptyingTimeFound
    | PlanChanged
    | ActuatorExchanged
    | EntitiesDisabled
    | TimePassed
)
type Input = Reported | Asked | Noted
"""Everything: what devices report, what people ask for, what else changed."""
