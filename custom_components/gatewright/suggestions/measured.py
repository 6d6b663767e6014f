"""What was measured of gates and motor, for the forms."""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ..system_context import loaded_system
from ..wording import Wording

_NOTHING = "–"


@callback
def measured_spin_up(hass: HomeAssistant, entry: ConfigEntry[Any]) -> str:
    """Return the measured spin-up time, as a form says it."""
    system = loaded_system(entry)
    return seconds(
        hass,
        None if system is None else system.sequence.motor.spin_up_meter.measured,
    )


@callback
def measured_strokes(
    hass: HomeAssistant, entry: ConfigEntry[Any], gate_id: str
) -> dict[str, str]:
    """Return how long a gate takes to open and to close, as a form says it.

    One that only repeats what it was told has nothing measured.
    """
    system = loaded_system(entry)
    travel = None
    if system is not None and any(
        gate.feedback for gate in system.layout.system.gates if gate.gate_id == gate_id
    ):
        travel = system.sequence.gates.travel(gate_id)
    return {
        place: seconds(hass, None if travel is None else travel.stroke(opening=opening))
        for place, opening in (("opens_in", True), ("closes_in", False))
    }


@callback
def seconds(hass: HomeAssistant, time: float | None) -> str:
    """Return a time in s as the language writes it, or a dash where there is none."""
    if time is None:
        return _NOTHING
    return f"{Wording.of_the_hub(hass).decimal(f'{time:.1f}')} s"
