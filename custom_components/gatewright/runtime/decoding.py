"""Decodes entity states for the core.

It separates three cases: a usable state, an unusable one (`unknown`, a text that is no
number), and a missing entity.
"""

from collections.abc import Callable
import math
from typing import NamedTuple

from homeassistant.components.cover import ATTR_CURRENT_POSITION
from homeassistant.const import (
    ATTR_ASSUMED_STATE,
    ATTR_UNIT_OF_MEASUREMENT,
    STATE_CLOSED,
    STATE_CLOSING,
    STATE_OFF,
    STATE_ON,
    STATE_OPEN,
    STATE_OPENING,
    STATE_UNAVAILABLE,
    STATE_UNKNOWN,
    UnitOfElectricCurrent,
    UnitOfEnergy,
    UnitOfPower,
    UnitOfPressure,
)
from homeassistant.core import State
from homeassistant.exceptions import HomeAssistantError
from homeassistant.util.unit_conversion import (
    ElectricCurrentConverter,
    EnergyConverter,
    PowerConverter,
    PressureConverter,
)

from ..const import UNIT_AMPERE, UNIT_JOULE, UNIT_PASCAL, UNIT_WATT

OPEN_FROM = 95.0
"""Position in percent from which a gate counts as open; at the same distance from the
other end it counts as closed."""

_CONVERTERS = {
    UNIT_WATT: (PowerConverter, UnitOfPower.WATT),
    UNIT_JOULE: (EnergyConverter, UnitOfEnergy.JOULE),
    UNIT_AMPERE: (ElectricCurrentConverter, UnitOfElectricCurrent.AMPERE),
    UNIT_PASCAL: (PressureConverter, UnitOfPressure.PA),
}


MILLIGRAMS = {
    "µg/m³": 0.001,
    "μg/m³": 0.001,
    "ug/m3": 0.001,
    "mg/m³": 1.0,
    "g/m³": 1000.0,
}
"""A particle sensor's units in mg/m3."""


class Feedback(NamedTuple):
    """An actuator's report: True for on or open, None in between; or its absence.

    With `no_feedback` it's online without reporting its state. `position` is how far
    it's open, 0 to 1, if it reports that.
    """

    value: bool | None
    reachable: bool
    no_feedback: bool = False
    position: float | None = None


class CoverPosition(NamedTuple):
    """A cover's or valve's slide: percent open, and its direction of movement."""

    position: int | None = None
    opening: bool | None = None


AWAY = Feedback(None, reachable=False)
NO_POSITION = CoverPosition()


class NumberReader:
    """Reads a power, current, pressure or energy in W, A, Pa or J from any unit."""

    __slots__ = ("_read", "_unit", "_wanted")

    def __init__(self, unit: str) -> None:
        """Read in `unit`: W, A, Pa or J."""
        self._wanted = unit
        self._unit: str | None = unit
        self._read: Callable[[str], float] | None = float

    def __call__(self, state: State | None) -> float | None:
        """Return the reading; None for an unusable state or unit."""
        if state is None:
            return None
        unit = state.attributes.get(ATTR_UNIT_OF_MEASUREMENT)
        if unit != self._unit:
            self._unit = unit
            self._read = _reader(unit, self._wanted)
        if self._read is None:
            return None
        try:
            return self._read(state.state)
        except ValueError:
            return None


class SignalReader:
    """Reads 1 or 0 from an entity with a list of the states that mean running."""

    __slots__ = ("_running",)

    def __init__(self, running: frozenset[str]) -> None:
        self._running = running

    def __call__(self, state: State | None) -> float | None:
        """Return 1.0 or 0.0; None for an unusable state."""
        if state is None or state.state in (STATE_UNAVAILABLE, STATE_UNKNOWN):
            return None
        return 1.0 if state.state in self._running else 0.0


def read_flag(state: State | None) -> bool | None:
    """Return an on/off entity's state; None if it's unusable."""
    if state is None:
        return None
    if state.state == STATE_ON:
        return True
    return False if state.state == STATE_OFF else None


def read_switch(state: State | None, *, inverted: bool = False) -> Feedback:
    """Return the feedback of a switch, fan or toggle."""
    if state is None:
        return AWAY
    if (report := _presence(state)) is not None:
        return report
    value = read_flag(state)
    return Feedback(value if value is None else value is not inverted, reachable=True)


def read_slide(state: State | None, open_from: float = OPEN_FROM) -> Feedback:
    """Return the feedback of a cover or valve; partly open is in between."""
    if state is None:
        return AWAY
    if (report := _presence(state)) is not None:
        return report
    # A position takes precedence: some covers report `opening` forever.
    position = state.attributes.get(ATTR_CURRENT_POSITION)
    if isinstance(position, int | float) and math.isfinite(position):
        value = None
        if position >= open_from:
            value = True
        elif position <= 100.0 - open_from:
            value = False
        return Feedback(value, reachable=True, position=position / 100)
    if state.state == STATE_OPEN:
        return Feedback(True, reachable=True)
    return Feedback(False if state.state == STATE_CLOSED else None, reachable=True)


def read_look(state: State | None) -> CoverPosition:
    """Return what a cover or valve shows besides open or closed."""
    if state is None:
        return NO_POSITION
    position = state.attributes.get(ATTR_CURRENT_POSITION)
    moving = {STATE_OPENING: True, STATE_CLOSING: False}.get(state.state)
    if not isinstance(position, int | float) or not math.isfinite(position):
        return CoverPosition(None, moving)
    return CoverPosition(round(position), moving)


def read_ends(opened: bool | None, closed: bool | None) -> bool | None:
    """Return a slide's feedback from the sensors at the ends of its stroke.

    Each is None if there's no such sensor or it's unusable. A single sensor decides
    alone; two that contradict each other give no position.
    """
    if opened is None:
        return None if closed is None else not closed
    if closed is None:
        return opened
    return None if opened is closed else opened


def _presence(state: State) -> Feedback | None:
    """Return the feedback of an unknown or offline entity, else None.

    An entity that never knows its state (`assumed_state`) still takes commands. For any
    other, the caller decides: a gate's slide may not know its position until its first
    move, but a collector has to be online first.
    """
    if state.state == STATE_UNAVAILABLE:
        return AWAY
    if state.state == STATE_UNKNOWN:
        assumed = bool(state.attributes.get(ATTR_ASSUMED_STATE))
        return Feedback(None, reachable=assumed, no_feedback=True)
    return None


def _reader(unit: str | None, wanted: str) -> Callable[[str], float] | None:
    """Return what reads a state's text in a unit; raises `ValueError` where it is no number."""
    if unit == wanted:
        return float
    converter, target = _CONVERTERS[wanted]
    try:
        convert = converter.converter_factory(unit, target)
    except HomeAssistantError:
        return None
    return lambda text: convert(float(text))
