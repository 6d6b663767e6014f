"""The results of monitor-only mode, and the question after a week."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from homeassistant.components.switch import DOMAIN as SWITCH_DOMAIN
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.event import async_track_time_interval
from homeassistant.util import dt as dt_util

from ...const import DOMAIN
from ...core.simulation.shadow_control import MonitoredShop, totals_of
from ...runtime.entity_lookup import enable
from ...runtime.issues import delete_issue, raise_issue
from ...runtime.system_context import SystemContext
from ...texts.figures import duration, share_text
from .mode import WATCHED, monitor_only_since

WEEK = timedelta(days=7)
ISSUE = "watched_week"

_LOOK = timedelta(hours=1)


class MonitorOnlyManager:
    """What belongs to a system in monitor-only mode.

    `before` are the real totals when it began, so that both can be compared for the
    same time.
    """

    def __init__(
        self, system: SystemContext, shop: MonitoredShop, memory: Mapping[str, Any]
    ):
        kept = memory.get(WATCHED) or {}
        self._system = system
        self._shop = shop
        self._before = kept.get("before") or totals_of(shop.ledger)
        asked = kept.get("asked")
        self._asked = None if asked is None else dt_util.parse_datetime(asked)
        self._unsub: CALLBACK_TYPE | None = None

    @callback
    def start(self) -> None:
        """Ask after each week, and enable the switch that ends the mode."""
        hass, entry = self._system.hass, self._system.entry
        registry = er.async_get(hass)
        known = registry.async_get_entity_id(
            SWITCH_DOMAIN, DOMAIN, f"{entry.entry_id}_monitor_only"
        )
        enable(registry, registry.async_get(known) if known else None)
        self._unsub = async_track_time_interval(
            self._system.hass, self._look_at_time, _LOOK, cancel_on_shutdown=True
        )
        self._look_at_time(dt_util.utcnow())

    @callback
    def stop(self) -> None:
        """Stop asking."""
        if self._unsub is not None:
            self._unsub()
            self._unsub = None
        if self._system.entry.disabled_by is not None:
            forget_question(self._system.hass, self._system.entry)

    def memory(self) -> dict[str, Any]:
        """Return what has to survive a restart."""
        return {
            "would": self._shop.would.ledger.save(self._system.now()),
            "before": self._before,
            "asked": None if self._asked is None else self._asked.isoformat(),
        }

    @property
    def would_run(self) -> bool:
        """Whether the collector would run now."""
        return self._shop.would.sequence.motor.turning

    @property
    def look(self) -> object:
        """Return the values whose changes entities show."""
        totals = self._shop.would.ledger.collector
        return self.would_run, totals.starts

    @property
    def would(self) -> dict[str, float]:
        """Return the shadow totals since the mode began."""
        self._shop.would.ledger.book(self._system.now())
        return totals_of(self._shop.would.ledger)

    def would_time_to_air(self, machine_id: str) -> float | None:
        """Return the median shadow time to air in s of a machine's last runs."""
        return self._shop.would.ledger.times_to_air.usual(machine_id)

    @property
    def was(self) -> dict[str, float]:
        """Return the real totals since the mode began."""
        now = totals_of(self._shop.ledger)
        return {key: max(0.0, now[key] - self._before[key]) for key in now}

    @property
    def asked_about(self) -> str:
        """The week that the question is about, by its beginning."""
        since = self._asked or monitor_only_since(self._system.described.system)
        return "" if since is None else since.isoformat()

    @callback
    def wait_another_week(self) -> None:
        """Ask again in a week."""
        self._asked = dt_util.utcnow()
        forget_question(self._system.hass, self._system.entry)

    def words(self) -> dict[str, str]:
        """Return the figures for a text."""
        since = monitor_only_since(self._system.described.system)
        days = 0 if since is None else (dt_util.utcnow() - since).days
        would, was = self.would, self.was
        return {
            "name": self._system.entry.title,
            "days": str(days),
            "run_time": duration(would["run_time"]),
            "would_starts": f"{would['starts']:.0f}",
            "would_on_time": duration(would["on_time"]),
            "would_coverage": share_text(collected_share_of(would)),
            "was_starts": f"{was['starts']:.0f}",
            "was_on_time": duration(was["on_time"]),
            "was_coverage": share_text(collected_share_of(was)),
        }

    @callback
    def _look_at_time(self, now: datetime) -> None:
        since = self._asked or monitor_only_since(self._system.described.system)
        if since is None or now - since < WEEK:
            return
        entry = self._system.entry
        raise_issue(
            self._system.hass,
            _issue_id(entry),
            ISSUE,
            self.words(),
            data={
                "entry_id": entry.entry_id,
                "what": ISSUE,
                "asked": self.asked_about,
            },
        )


def start_monitor_only(
    system: SystemContext, memory: Mapping[str, Any]
) -> MonitorOnlyManager | None:
    """Return the manager of a system in monitor-only mode; None for a live system."""
    shop = system.shop
    if isinstance(shop, MonitoredShop):
        return MonitorOnlyManager(system, shop, memory)
    forget_question(system.hass, system.entry)
    return None


@callback
def forget_question(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Delete the question."""
    delete_issue(hass, _issue_id(entry))


def collected_share_of(totals: Mapping[str, float]) -> float | None:
    """Return the collected share of the running time; None without any."""
    if totals["run_time"] <= 0:
        return None
    return min(1.0, totals["collecting_time"] / totals["run_time"])


def _issue_id(entry: ConfigEntry[Any]) -> str:
    return f"{ISSUE}_{entry.entry_id}"
