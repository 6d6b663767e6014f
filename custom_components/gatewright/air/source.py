"""What the parts of the airflow need of the monitor that keeps it computed."""

from collections.abc import Callable
from typing import Protocol

from homeassistant.core import CALLBACK_TYPE

from ..airflow import Diagnosis
from .ducts import AirShop
from .now import AirNow


class AirSource(Protocol):
    """The air of one system, as its gates and its collector stand."""

    shop: AirShop | None
    now: AirNow | None
    diagnosis: Diagnosis | None
    readings: dict[str, float]

    def entity(self, field: str) -> str | None:
        """Return the entity that stands in a field of the collector."""

    def too_low(self, machine_id: str) -> bool | None:
        """Whether a machine in use, with its gates open, gets too little."""

    def load_filter(self, loading: float) -> None:
        """Compute from now on with the filter as it is, not as a clean one."""

    def listen(self, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` whenever a figure changes; returns how to stop that."""

    def tell(self) -> None:
        """Have everything that shows the air look again."""
