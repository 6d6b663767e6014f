"""What other airflow modules need from the airflow manager."""

from collections.abc import Callable
from typing import Protocol

from homeassistant.core import CALLBACK_TYPE

from ...core.airflow import Diagnosis
from .ducts import AirShop
from .snapshot import AirNow


class AirSource(Protocol):
    """The airflow of one system, as its gates and collector are now."""

    shop: AirShop | None
    now: AirNow | None
    diagnosis: Diagnosis | None
    readings: dict[str, float]

    @property
    def drive(self) -> str | None:
        """The entity of the fan's drive; None without one."""

    @property
    def pressures(self) -> dict[str, str]:
        """The pressure sensors' entities by their fields."""

    def too_low(self, machine_id: str) -> bool | None:
        """Return whether a machine in use, with open gates, gets too little flow."""

    def load_filter(self, loading: float) -> None:
        """Compute with the filter's present loading from now on."""

    def listen(self, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` when any figure changes; return how to remove it."""

    def notify(self) -> None:
        """Notify everything that shows the airflow."""
