"""What was measured of gates and motor, for the forms."""

from typing import TYPE_CHECKING, Any

from homeassistant.config_entries import ConfigEntry, ConfigEntryState
from homeassistant.core import HomeAssistant, callback

from ..text.texts import Texts

if TYPE_CHECKING:
    from ..engine import Engine


@callback
def measured_spin_up(hass: HomeAssistant, entry: ConfigEntry[Any]) -> str:
    """Return the measured spin-up time, as a form says it."""
    engine = _engine_of(entry)
    meter = None if engine is None else engine.sequence.motor.spin_up_meter
    return Texts.cached(hass).seconds(None if meter is None else meter.measured)


@callback
def measured_strokes(
    hass: HomeAssistant, entry: ConfigEntry[Any], gate_id: str
) -> dict[str, str]:
    """Return how long a gate takes to open and to close, as a form says it.

    One that only repeats what it was told has nothing measured.
    """
    engine = _engine_of(entry)
    travel = None
    if engine is not None and any(
        gate.feedback for gate in engine.layout.system.gates if gate.gate_id == gate_id
    ):
        travel = engine.sequence.gates.travel(gate_id)
    texts = Texts.cached(hass)
    return {
        place: texts.seconds(None if travel is None else travel.stroke(opening=opening))
        for place, opening in (("opens_in", True), ("closes_in", False))
    }


def _engine_of(entry: ConfigEntry[Any]) -> Engine | None:
    """Return what runs a system; None while nothing does."""
    if entry.state is not ConfigEntryState.LOADED:
        return None
    engine: Engine | None = getattr(entry, "runtime_data", None)
    return engine
