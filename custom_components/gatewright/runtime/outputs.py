"""The actuators of one system, driven for the core."""

from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant

from ..core.config import COLLECTOR
from ..core.control.actuator import Actuator, Order
from ..core.inputs import CommandDispatched, CommandHeldUp
from .actuator_driver import ActuatorDriver, OwnContexts
from .config_loader import LoadedConfig


class Output(NamedTuple):
    """The entity of an actuator; `inverted` if on means closed."""

    entity_id: str
    inverted: bool = False


def outputs_of(layout: LoadedConfig) -> dict[str, Output]:
    """Return a system's actuators by part: collector, gates, all other switches."""
    found: dict[str, Output] = {}
    if (entity_id := layout.switch.entity_id) is not None:
        found[COLLECTOR] = Output(entity_id)
    for gate_id, gate in layout.gates.items():
        if gate.actuator is not None and gate.actuator.entity_id is not None:
            found[gate_id] = Output(gate.actuator.entity_id, gate.inverted)
    for part, source in (layout.linked_devices | layout.maintenance_switches()).items():
        if source.entity_id is not None:
            found[part] = Output(source.entity_id)
    return found


class Outputs:
    """One driver for each actuator."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry,
        contexts: OwnContexts,
        report: Callable[[CommandDispatched | CommandHeldUp], None],
        ended: Callable[[str, str | None], None],
    ) -> None:
        """Start without drivers; each will `report` the result of an order.

        `ended` is called when a call has returned: with None, or with what went wrong.
        """
        self._hass = hass
        self._entry = entry
        self._contexts = contexts
        self._report = report
        self._ended = ended
        self.drivers: dict[str, ActuatorDriver] = {}
        self._known: dict[str, Actuator | None] = {}

    def connect(
        self, outputs: Mapping[str, Output], actuator: Callable[[str], Actuator | None]
    ) -> None:
        """Connect these actuators; an unchanged one keeps its driver.

        `actuator` returns the core's view of one: if that is new, so are its orders.
        """
        known, self._known = self._known, {part: actuator(part) for part in outputs}
        before, self.drivers = self.drivers, {}
        for part, output in outputs.items():
            driver = before.get(part)
            if driver is None or (driver.entity_id, driver.inverted) != output:
                driver = ActuatorDriver(
                    self._hass,
                    self._entry,
                    part,
                    output.entity_id,
                    self._contexts,
                    self._report,
                    self._ended,
                    inverted=output.inverted,
                )
            elif self._known[part] is not known.get(part):
                driver.forget()
            self.drivers[part] = driver
        for part, driver in before.items():
            if self.drivers.get(part) is not driver:
                driver.close()

    def give(self, orders: Iterable[tuple[str, Order]]) -> None:
        """Give each actuator its order, if it has a driver."""
        for part, order in tuple(orders):
            if (driver := self.drivers.get(part)) is not None:
                driver.give(order)

    def close(self) -> None:
        """Stop all drivers."""
        self.connect({}, lambda _: None)

    def refused(self) -> frozenset[str]:
        """Return the parts whose last call failed."""
        return frozenset(
            part
            for part, driver in self.drivers.items()
            if driver.last_error is not None
        )
