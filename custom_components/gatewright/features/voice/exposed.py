"""What an assistant may see of the shop: what its owner exposed."""

from collections.abc import Iterator
from dataclasses import dataclass

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from ...const import DOMAIN
from ...core.airflow import Verdict
from ...core.control.alarms import Condition
from ...core.statistics.summary import Period
from ...runtime.entity_lookup import systems
from ...runtime.internals.exposure import may_see
from ...runtime.permissions import Requester
from ...runtime.system_context import SystemContext
from ..actions.targets import TargetPart
from ..airflow.manager import AirflowManager
from ..maintenance.manager import MaintenanceManager
from ..statistics.manager import StatisticsManager


@dataclass(frozen=True, slots=True)
class ExposedShop:
    """One system, with those of its machines that the assistant may see."""

    system: SystemContext
    machines: tuple[TargetPart, ...]
    asker: Requester

    @property
    def name(self) -> str:
        """The name that the owner gave the system."""
        return self.system.entry.title

    @property
    def with_air(self) -> list[TargetPart]:
        """The machines with dust collection now."""
        now = self.system.now()
        is_collecting = self.system.sequence.is_collecting
        return [part for part in self.machines if is_collecting(part.part, now)]

    def worth(self, verdict: Verdict) -> list[TargetPart]:
        """Return the machines with dust collection and this verdict."""
        judge = self.system.of(AirflowManager).served_verdict
        return [part for part in self.with_air if judge(part.part) is verdict]

    @property
    def pickups(self) -> list[TargetPart]:
        """The pickups without a motor where dust collection can be turned on now."""
        machines = self.system.sequence.machines
        return [
            part
            for part in self.machines
            if machines[part.part].sensor is None and machines[part.part].is_connected
        ]

    @property
    def alarms(self) -> list[Condition]:
        """The active alarms that may be named, oldest first."""
        active = self.system.shop.alarms.standing
        visible = [c for c in active if self.asker.sees_part(self.system, c.part)]
        return sorted(visible, key=lambda c: active[c].raised_at)

    @property
    def on_time_today(self) -> float:
        """How many seconds the collector has been on today."""
        summary = self.system.of(StatisticsManager).summary(Period.DAY)
        return float(summary["collector"]["on_time"])

    @property
    def bin_full(self) -> bool | None:
        """Whether the bin is full by its sensor; None without one."""
        if self.system.described.system.watching.bin_full is None:
            return None
        return self.system.sequence.bin.full

    @property
    def bin_share(self) -> float | None:
        """The bin's estimated fill level; None without an estimate."""
        forecast = self.system.of(MaintenanceManager).seen.forecast
        return None if forecast is None else min(1.0, max(0.0, forecast.share))


@callback
def views(asker: Requester, assistant: str | None) -> list[ExposedShop]:
    """Return the systems that a user may see and that are exposed to an assistant.

    Without an assistant the caller is a person.
    """
    return [
        ExposedShop(system, tuple(_machines(asker, system, assistant)), asker)
        for system in systems(asker.hass)
        if asker.sees(system.entry)
        and _exposed(asker.hass, assistant, f"{system.entry.entry_id}_collector")
    ]


def machines_of(asker: Requester, assistant: str | None) -> list[TargetPart]:
    """Return the machines that a user may see and that are exposed to an assistant.

    Machines of a hidden collector are included: whoever may turn on dust collection at
    a machine may do so through an assistant.
    """
    return [
        part
        for system in systems(asker.hass)
        if _exposed(asker.hass, assistant, f"{system.entry.entry_id}_collector")
        for part in _machines(asker, system, assistant)
    ]


def _machines(
    asker: Requester, system: SystemContext, assistant: str | None
) -> Iterator[TargetPart]:
    for machine_id in system.sequence.machines:
        if asker.sees_machine(machine_id) and _exposed(
            system.hass, assistant, f"{machine_id}_request"
        ):
            yield TargetPart(system, machine_id)


def _exposed(hass: HomeAssistant, assistant: str | None, unique_id: str) -> bool:
    if assistant is None:
        return True
    entity_id = er.async_get(hass).async_get_entity_id("switch", DOMAIN, unique_id)
    return entity_id is not None and may_see(hass, assistant, entity_id)
