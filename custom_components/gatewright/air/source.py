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

    @property
    def drive(self) -> str | None:
        """The entity of the fan's drive; None without one."""

    @property
    def pressures(self) -> dict[str, str]:
        """The entities of the pressure sensors by their fields."""

    def too_low(self, machine_id: str) -> bool | None:
        """Whether a machine in use, with its gates open, gets too little."""

    def load_filter(self, loading: float) -> None:
        """Compute from now on with the filter as it is, not as a clean one."""

    def listen(self, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` whenever a figure changes; returns how to stop that."""

    def tell(self) -> None:
        """Have everything that shows the air look again."""
