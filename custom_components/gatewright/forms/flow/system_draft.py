"""A system being set up: the result of its pages' answers."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from homeassistant.core import HomeAssistant

from ...features.calibration.evaluation import Found, look
from ..entity_usage import EntityUsage
from ..names import free_name, taken_names
from .parts import gate_part, machine_part, unused_gates


@dataclass(slots=True, kw_only=True)
class DraftPart:
    """A gate or a machine of the draft.

    `label` identifies it to a person before it has a name, `base` is what is known
    about it without asking.
    """

    key: str
    part_id: str
    label: str
    base: dict[str, Any]
    entity_id: str = ""
    name: str = ""
    data: dict[str, Any] = field(default_factory=dict)
    asked: bool = True
    left_out: bool = False


class Draft:
    """The result of the answers so far."""

    def __init__(
        self,
        hass: HomeAssistant,
        part_id: Callable[[str], str],
        found: dict[tuple[str, str], Found],
    ) -> None:
        """Start empty; `part_id` gives each gate and machine its id.

        `found` keeps the sensors' results from one draft to the next.
        """
        self.hass = hass
        self._found = found
        self.part_id = part_id
        self.claims = EntityUsage(hass)
        self.taken = taken_names(hass)
        self.name = ""
        # The collector's power sensor, if it was found rather than chosen.
        self.meter: str | None = None
        self.data: dict[str, Any] = {}
        self.gates: list[DraftPart] = []
        self.machines: list[DraftPart] = []

    async def look(self, entity_id: str, unit: str) -> Found:
        """Return the evaluation of a sensor's history; it's evaluated once."""
        key = entity_id, unit
        if key not in self._found:
            self._found[key] = await look(self.hass, entity_id, unit)
        return self._found[key]

    def unused_gates(self) -> list[str]:
        """Return the names of the gates that no machine uses."""
        machines = [machine for machine in self.machines if not machine.left_out]
        unused = unused_gates(
            [gate_part(gate.part_id, gate.data) for gate in self.gates],
            [machine_part(part.part_id, part.data) for part in machines],
            (),
        )
        return sorted(gate.name for gate in self.gates if gate.part_id in unused)

    def name_gates_apart(self) -> None:
        """Rename gates with a machine's name: "Planer" becomes "Planer gate"."""
        machines = {machine.name.casefold() for machine in self.machines}
        taken = {*self.taken, *machines, *(gate.name.casefold() for gate in self.gates)}
        for gate in self.gates:
            if gate.name.casefold() in machines:
                gate.name = free_name(f"{gate.name} gate", taken)
                taken.add(gate.name.casefold())
