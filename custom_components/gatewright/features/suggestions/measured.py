"""Measured times of gates and motor, for the forms."""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ...runtime.system_context import loaded_system
from ...texts.texts import Texts


@callback
def measured_spin_up(hass: HomeAssistant, entry: ConfigEntry[Any]) -> str:
    """Return the measured spin-up time as a form's text."""
    system = loaded_system(entry)
    meter = None if system is None else system.sequence.motor.spin_up_meter
    return Texts.cached(hass).seconds(None if meter is None else meter.measured)


@callback
def measured_strokes(
    hass: HomeAssistant, entry: ConfigEntry[Any], gate_id: str
) -> dict[str, str]:
    """Return a gate's measured opening and closing times as a form's text.

    A gate that only repeats its last command has no measurements.
    """
    system = loaded_system(entry)
    travel = None
    if system is not None and any(
        gate.feedback for gate in system.layout.system.gates if gate.gate_id == gate_id
    ):
        travel = system.sequence.gates.travel(gate_id)
    texts = Texts.cached(hass)
    return {
        place: texts.seconds(None if travel is None else travel.stroke(opening=opening))
        for place, opening in (("opens_in", True), ("closes_in", False))
    }
