"""What the collector's motor has done, and when it needs service."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from .config import ServiceInterval


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceState:
    """How far one interval is used up.

    `used` is a share, 1 and more where it is due. `left`, `starts_left` and
    `days_left` are seconds of running, starts and days, never below 0; None where
    the interval does not count them.
    """

    service_id: str
    used: float
    left: float | None
    starts_left: int | None
    days_left: int | None

    @property
    def due(self) -> bool:
        """Whether it is time."""
        return self.used >= 1


@dataclass(slots=True)
class _Since:
    """What was done since an interval was last reset; `reset_at` is s since 1970."""

    seconds: float = 0.0
    starts: int = 0
    reset_at: float | None = None


class MotorService:
    """Longest run and service intervals of one collector."""

    def __init__(self, services: tuple[ServiceInterval, ...]) -> None:
        self.longest_run = 0.0
        self.this_run = 0.0
        self.services = services
        self._since: dict[str, _Since] = {}

    def run(self, seconds: float, starts: int, when: datetime) -> None:
        """Note seconds of running and starts, up to an aware datetime.

        Starts are taken to have come after the seconds.
        """
        self.this_run += seconds
        self.longest_run = max(self.longest_run, self.this_run)
        if starts:
            self.this_run = 0.0
        for service in self.services:
            since = self._of(service.service_id, when)
            since.seconds += seconds
            since.starts += starts

    def stopped(self) -> None:
        """Note that the collector is not running."""
        self.this_run = 0.0

    def reset(self, service_id: str, when: datetime) -> None:
        """Note that something was done; raises `KeyError` for what is not planned."""
        if all(service.service_id != service_id for service in self.services):
            raise KeyError(service_id)
        self._since[service_id] = _Since(reset_at=when.timestamp())

    def reset_at(self, service_id: str, when: datetime) -> datetime | None:
        """Return when something was last done, in the zone of `when`."""
        since = self._since.get(service_id)
        if since is None or since.reset_at is None:
            return None
        return datetime.fromtimestamp(since.reset_at, when.tzinfo)

    def states(self, when: datetime) -> list[ServiceState]:
        """Return how far every interval is used up at an aware datetime."""
        return [self._state(service, when) for service in self.services]

    def save(self) -> dict[str, Any]:
        """Return everything as plain data."""
        return {
            "longest_run": self.longest_run,
            "this_run": self.this_run,
            "services": {
                service_id: {
                    "seconds": since.seconds,
                    "starts": since.starts,
                    "reset_at": since.reset_at,
                }
                for service_id, since in self._since.items()
            },
        }

    def restore(self, data: Mapping[str, Any]) -> None:
        """Take over what `save` returned."""
        # None would fail only once a longer run is compared with it.
        self.longest_run = float(data.get("longest_run", 0.0))
        self.this_run = float(data.get("this_run", 0.0))
        self._since = {
            service_id: _Since(
                float(kept.get("seconds", 0.0)),
                int(kept.get("starts", 0)),
                kept.get("reset_at"),
            )
            for service_id, kept in data.get("services", {}).items()
        }

    def _of(self, service_id: str, when: datetime) -> _Since:
        since = self._since.setdefault(service_id, _Since())
        if since.reset_at is None:
            # Days count from when it was first heard of.
            since.reset_at = when.timestamp()
        return since

    def _state(self, service: ServiceInterval, when: datetime) -> ServiceState:
        since = self._of(service.service_id, when)
        reset_at = self.reset_at(service.service_id, when) or when
        # Calendar days, so that a change of the clock is not a day.
        days = max(timedelta(), when.date() - reset_at.date()).days
        spent = (
            (service.after, since.seconds),
            (service.starts, since.starts),
            (service.days, days),
        )
        return ServiceState(
            service_id=service.service_id,
            used=max((done / limit for limit, done in spent if limit), default=0.0),
            left=None
            if service.after is None
            else max(0.0, service.after - since.seconds),
            starts_left=None
            if service.starts is None
            else max(0, service.starts - since.starts),
            days_left=None if service.days is None else max(0, service.days - days),
        )
