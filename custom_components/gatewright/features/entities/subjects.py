"""What entities show and control: one subject for each part of a system.

Descriptions read a subject, never the system itself, so that the inside of a part can
change in this one place. A subject has no state of its own: it always returns the
present one.
"""

from abc import abstractmethod
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from functools import cached_property
from typing import override

from homeassistant.core import CALLBACK_TYPE, callback
from homeassistant.helpers.device_registry import DeviceInfo

from ...const import SUBENTRY_DUCT, SUBENTRY_GATE, SUBENTRY_MACHINE
from ...core.config import COLLECTOR, MachineConfig
from ...core.control.actuator import Actuator
from ...core.control.alarms import Condition
from ...core.control.enums import RefusedError
from ...core.control.ledger import MachineTotals
from ...core.control.machine import Machine
from ...core.inputs import GateMoved, RequestMade, RequestWithdrawn
from ...core.maintenance.config import ServiceInterval
from ...core.statistics.calendar import MachineTime
from ...core.stored.system import StoredSystem
from ...runtime.decoding import CoverPosition
from ...runtime.devices import device_info
from ...runtime.errors import refusal_error
from ...runtime.system_context import SystemContext
from ..airflow.manager import AirflowManager
from ..airflow.needs import MachineNeed
from ..commissioning.manager import SystemCheckManager
from ..maintenance.config import SERVICE_PREFIX
from ..maintenance.manager import MAINTENANCE, MaintenanceManager
from ..monitor_only.manager import MonitorOnlyManager
from ..statistics.manager import Reach, StatisticsManager

type Listener = Callable[[], None]


class Subject:
    """A part of a system; `subentry_id` is None for what belongs to the collector."""

    placeholders: Mapping[str, str] = {}
    """The placeholders in the names of its entities."""

    def __init__(
        self, system: SystemContext, part: str, *, subentry: bool = True
    ) -> None:
        """Represent a part: a subentry unless it belongs to the collector."""
        self.system = system
        self.hass = system.hass
        self.entry = system.entry
        self.part = part
        self.subentry_id = part if subentry else None
        self.sequence = system.sequence
        self.handle = system.handle
        """Takes an event, and does what follows."""
        self.ledger = system.shop.ledger
        self.shadow = system.find(MonitorOnlyManager)
        """The shadow results while the system only monitors."""
        self.airflow = system.of(AirflowManager)
        self.maintenance = system.of(MaintenanceManager)
        self.statistics = system.of(StatisticsManager)

    def unique_id(self, key: str) -> str:
        """Return the unique id of the part's entity with this key."""
        return f"{self.subentry_id or self.entry.entry_id}_{key}"

    @cached_property
    def device_info(self) -> DeviceInfo:
        """The device of its entities, as they are added with it."""
        return device_info(self.hass, self.entry, self.subentry_id)

    def instant(self, at: float | None) -> datetime | None:
        """Return the wall-clock time of an instant on the core's clock."""
        return self.system.instant(at)

    @property
    def title(self) -> str:
        """The name that the owner gave it."""
        if self.subentry_id is None:
            return self.entry.title
        return self.entry.subentries[self.subentry_id].title

    @property
    def available(self) -> bool:
        """Whether its entities have anything to show."""
        return True

    @property
    def settings(self) -> StoredSystem:
        """The system's settings."""
        return self.system.described.system

    @property
    def alarms(self) -> list[Condition]:
        """The active alarms of this part."""
        return [c for c in self.system.shop.alarms.standing if c.part == self.part]

    @callback
    def listen(self, listener: Listener) -> CALLBACK_TYPE:
        """Call `listener` when the part changes; return a function that removes it."""
        return self.system.listen(self.part, listener)

    @contextmanager
    def acting(self) -> Iterator[None]:
        """Run a person's command.

        A refusal by the core is raised as a translated error.
        """
        try:
            yield
        except RefusedError as err:
            raise refusal_error(err, self.title) from err


class WorkSubject(Subject):
    """A part whose working time is recorded."""

    @abstractmethod
    def spent(self, reach: Reach) -> MachineTime:
        """Return how its time was spent."""


class CollectorSubject(WorkSubject):
    """The collector, and with it the whole system."""

    def __init__(self, system: SystemContext) -> None:
        super().__init__(system, COLLECTOR, subentry=False)
        self.system_check = system.of(SystemCheckManager)

    @property
    def actuator(self) -> Actuator:
        """The core's view of the collector's switch."""
        return self.sequence.motor.actuator

    @property
    @override
    def alarms(self) -> list[Condition]:
        return list(self.system.shop.alarms.standing)

    @override
    def spent(self, reach: Reach) -> MachineTime:
        return self.statistics.spent_by_all(reach)


class MachineSubject(WorkSubject):
    """A machine or pickup."""

    @property
    @override
    def available(self) -> bool:
        """Return False while it lacks something that it needs to be served."""
        return self.part in self.sequence.machines

    @property
    def run(self) -> Machine:
        """The machine in the core, which has every available one."""
        return self.sequence.machines[self.part]

    @property
    def plan(self) -> MachineConfig:
        """The machine's settings."""
        return self.system.layout.plans[self.part]

    @property
    def totals(self) -> MachineTotals:
        """The machine's totals."""
        return self.ledger.of(self.part)

    @property
    def need(self) -> MachineNeed | None:
        """Its airflow need if all its gates are on ducts; else None."""
        shop = self.airflow.shop
        need = None if shop is None else shop.needs[self.part]
        return need if need is not None and need.placed else None

    @property
    def in_use(self) -> bool:
        """Whether it runs, or dust collection is requested at it."""
        return self.available and self.run.in_use

    @property
    def has_feedback(self) -> bool:
        """Whether the collector and all its gates report their state."""
        return self.sequence.has_feedback(self.part)

    @property
    def is_collecting(self) -> bool:
        """Whether dust is collected at it now."""
        return self.sequence.is_collecting(self.part, self.system.now())

    def request(self, wanted: bool) -> None:
        """Request or withdraw dust collection; raises `RefusedError`."""
        self.handle((RequestMade if wanted else RequestWithdrawn)(self.part))

    @override
    def spent(self, reach: Reach) -> MachineTime:
        return self.statistics.spent(reach, self.part)


class GateSubject(Subject):
    """A gate."""

    @property
    def actuator(self) -> Actuator | None:
        """The core's view of the gate; None for an opening that never moves."""
        return self.sequence.gates.actuator(self.part)

    @property
    @override
    def available(self) -> bool:
        actuator = self.actuator
        return actuator is not None and actuator.reachable

    @property
    def powered(self) -> bool:
        """Whether it can be driven."""
        return self.part in self.sequence.gates.powered()

    @property
    def is_open(self) -> bool | None:
        """Whether it's open; None in between or if unknown."""
        actuator = self.actuator
        return None if actuator is None else actuator.state_at(self.system.now())

    @property
    def slide(self) -> CoverPosition:
        """How far it's open and where it moves, as it reports."""
        return self.system.slides.get(self.part, CoverPosition())

    def move(self, *, opened: bool) -> None:
        """Move it by hand; raises `RefusedError`."""
        self.handle(GateMoved(self.part, opened))


class DuctSubject(Subject):
    """A duct."""


class ServiceSubject(Subject):
    """A recurring service of the collector."""

    def __init__(self, system: SystemContext, service: ServiceInterval) -> None:
        super().__init__(system, MAINTENANCE, subentry=False)
        self.service_id = service.service_id
        self.placeholders = {"service": service.name}
        self._last = service

    @property
    def service(self) -> ServiceInterval:
        """The interval, as last planned."""
        for service in self.maintenance.keeper.plan.services:
            if service.service_id == self.service_id:
                self._last = service
        return self._last

    @override
    def unique_id(self, key: str) -> str:
        """Return the service's own id for its remaining time, else one with the key."""
        own = f"{SERVICE_PREFIX}{self.service_id}"
        return super().unique_id(own if key == "left" else f"{own}_{key}")


_PARTS: Mapping[str, Callable[[SystemContext, str], Subject]] = {
    SUBENTRY_MACHINE: MachineSubject,
    SUBENTRY_GATE: GateSubject,
    SUBENTRY_DUCT: DuctSubject,
}


def subjects_of(system: SystemContext) -> Iterator[Subject]:
    """Yield a subject for every part of a system that may have entities."""
    yield CollectorSubject(system)
    for service in system.of(MaintenanceManager).keeper.plan.services:
        yield ServiceSubject(system, service)
    for part, stored in system.described.parts.items():
        if (build := _PARTS.get(stored.SUBENTRY_TYPE)) is not None:
            yield build(system, part)
