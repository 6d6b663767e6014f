"""What an assistant may see of the shop: what its owner exposed to it."""

from collections.abc import Iterator
from dataclasses import dataclass

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from ..actions.targets import Part
from ..air.live import AirMonitor
from ..airflow import Verdict
from ..const import DOMAIN
from ..gatekeeper import Asker
from ..internals.exposure import may_see
from ..own import systems
from ..record.book import RecordBook
from ..shop.alarms import Condition
from ..shop.record.summary import Period
from ..system_context import SystemContext
from ..upkeep.hub import UpkeepHub


@dataclass(frozen=True, slots=True)
class View:
    """One system, and those of its machines that the assistant may see."""

    system: SystemContext
    machines: tuple[Part, ...]
    asker: Asker

    @property
    def name(self) -> str:
        """The name that the owner gave the system."""
        return self.system.entry.title

    @property
    def with_air(self) -> list[Part]:
        """The machines that have air now."""
        now = self.system.now()
        has_air = self.system.sequence.has_air
        return [part for part in self.machines if has_air(part.part, now)]

    def worth(self, verdict: Verdict) -> list[Part]:
        """Return the machines that have air of which a verdict is true."""
        judge = self.system.of(AirMonitor).served_verdict
        return [part for part in self.with_air if judge(part.part) is verdict]

    @property
    def pickups(self) -> list[Part]:
        """The pickups without a motor that can be asked for now."""
        machines = self.system.sequence.machines
        return [
            part
            for part in self.machines
            if machines[part.part].sensor is None and machines[part.part].is_attached
        ]

    @property
    def alarms(self) -> list[Condition]:
        """The alarms that stand and may be told, the oldest first."""
        standing = self.system.shop.alarms.standing
        told = [c for c in standing if self.asker.sees_part(self.system, c.part)]
        return sorted(told, key=lambda c: standing[c].raised_at)

    @property
    def on_time_today(self) -> float:
        """How many seconds the collector has been on today."""
        summary = self.system.of(RecordBook).summary(Period.DAY)
        return float(summary["collector"]["on_time"])

    @property
    def bin_full(self) -> bool | None:
        """Whether the bin is full by its sensor; None without one."""
        if self.system.described.system.watching.bin_full is None:
            return None
        return self.system.sequence.bin.full

    @property
    def bin_share(self) -> float | None:
        """How full the bin is reckoned to be; None where it is not."""
        forecast = self.system.of(UpkeepHub).seen.forecast
        return None if forecast is None else min(1.0, max(0.0, forecast.share))


@callback
def views(asker: Asker, assistant: str | None) -> list[View]:
    """Return the systems that somebody may see and that are exposed to an assistant.

    Without one it is a person who asks.
    """
    return [
        View(system, tuple(_machines(asker, system, assistant)), asker)
        for system in systems(asker.hass)
        if asker.sees(system.entry)
        and _exposed(asker.hass, assistant, f"{system.entry.entry_id}_collector")
    ]


def machines_of(asker: Asker, assistant: str | None) -> list[Part]:
    """Return the machines that somebody may see and that are exposed to an assistant.

    Those of a collector that is not to be seen as well: whoever may turn on dust
    collection at a machine may do so through an assistant.
    """
    return [
        part
        for system in systems(asker.hass)
        if _exposed(asker.hass, assistant, f"{system.entry.entry_id}_collector")
        for part in _machines(asker, system, assistant)
    ]


def _machines(
    asker: Asker, system: SystemContext, assistant: str | None
) -> Iterator[Part]:
    for machine_id in system.sequence.machines:
        if asker.sees_machine(machine_id) and _exposed(
            system.hass, assistant, f"{machine_id}_request"
        ):
            yield Part(system, machine_id)


def _exposed(hass: HomeAssistant, assistant: str | None, unique_id: str) -> bool:
    if assistant is None:
        return True
    entity_id = er.async_get(hass).async_get_entity_id("switch", DOMAIN, unique_id)
    return entity_id is not None and may_see(hass, assistant, entity_id)
