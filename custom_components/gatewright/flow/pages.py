"""The pages that ask for a whole system, one after the other."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping
from typing import Any, ClassVar, override

from homeassistant.const import ATTR_ASSUMED_STATE, CONF_NAME
from homeassistant.core import HomeAssistant, split_entity_id
from homeassistant.helpers.selector import BooleanSelector, TextSelector
import voluptuous as vol

from ..const import (
    CONF_ACTUATOR,
    CONF_ACTUATOR_SORT,
    CONF_GATE_KIND,
    CONF_GATES,
    CONF_HIDE_WRAPPED,
    CONF_INVERTED,
    CONF_KIND,
    CONF_OPEN_SENSOR,
    CONF_RUNNING_STATES,
    CONF_SENSOR,
    CONF_SWITCH,
    CONF_TRAVEL,
    CONF_UNIT,
)
from ..entities import to_entity_id
from ..finding.learning_texts import LearningTexts
from ..shop.kinds import ActuatorSort, MachineKind
from ..shop.plan import GateKind
from .claims import COLLECTOR_PART
from .collector import collector_fields, read_collector
from .draft import Draft, Part
from .fields import (
    Fields,
    OfferedEntity,
    choice_field,
    names_field,
    number_field,
    parts_field,
    states_field,
)
from .gate import ON_OFF, position_fields, read_gate
from .machine import read_machine
from .mistakes import Mistakes
from .names import (
    free_name,
    gate_name,
    guess_gates,
    guess_kind,
    machine_name,
    take_name,
)
from .parts import gate_part
from .picks import GATE_ACTUATOR, GATE_POSITION, MACHINE_SENSOR, Pick, pick_field, take
from .readings import Signal, describe, name_of

CONF_MACHINES = "machines"
CONF_PICKUPS = "pickups"
CONF_ASK_POSITIONS = "ask_positions"
CONF_HAND_SENSORS = "hand_sensors"
CONF_OPEN_INLETS = "open_inlets"
CONF_ACCEPTED = "accepted"


class Page(ABC):
    """One page: what it asks, and what it makes of the answer."""

    step: ClassVar[str]
    sections: ClassVar[Mapping[str, tuple[str, ...]]] = {}
    asked = True

    def __init__(self, draft: Draft) -> None:
        """Stand before the answer: nothing of this page is claimed yet."""
        self.draft = draft
        self.hass = draft.hass
        self.claims = draft.claims.copy()
        self.placeholders: dict[str, str] = {"system": draft.name}

    @property
    def key(self) -> str:
        """Return what the answer is kept under."""
        return self.step

    async def prepare(self) -> None:  # noqa: B027 - most pages know what to show
        """Find out what the page is to show."""

    @abstractmethod
    def fields(self) -> Fields:
        """Return what the page asks."""

    @abstractmethod
    def values(self) -> dict[str, Any]:
        """Return what the page shows before it is answered."""

    @abstractmethod
    def read(self, typed: Mapping[str, Any], mistakes: Mistakes) -> None:
        """Judge an answer and take it into the draft."""

    def _picker(self, pick: Pick, field: str) -> OfferedEntity:
        return pick_field(self.hass, pick, self.claims, {}, field, multiple=True)

    def _pick_each(
        self,
        name: str,
        pick: Pick,
        typed: Mapping[str, Any],
        mistakes: Mistakes,
        named: Callable[[HomeAssistant, str], str],
    ) -> Iterator[Part]:
        """Yield a part for each entity picked in a field, the same one only once."""
        seen: set[str] = set()
        for picked in typed.get(name, []):
            entity_id = to_entity_id(self.hass, picked) or picked
            if entity_id in seen:
                continue
            seen.add(entity_id)
            key = f"{name}:{entity_id}"
            self.draft.claims.begin(key, named(self.hass, entity_id))
            take(self.hass, pick, self.draft.claims, mistakes, name, entity_id)
            yield Part(
                key=key,
                part_id=self.draft.part_id(key),
                label=name_of(self.hass, entity_id),
                base={},
                entity_id=entity_id,
            )

    def _name_each(
        self, name: str, typed: Mapping[str, Any], mistakes: Mistakes
    ) -> Iterator[Part]:
        """Yield a part for each name typed in a field."""
        taken = dict(self.draft.taken)
        for text in typed.get(name, []):
            if not text.strip():
                continue
            part = take_name(text, taken, mistakes, name)
            taken[part.casefold()] = part
            key = f"{name}:{part}"
            yield Part(
                key=key, part_id=self.draft.part_id(key), label=part, base={}, name=part
            )


class CollectorPage(Page):
    """What the collector is."""

    step = "user"

    @override
    def fields(self) -> Fields:
        return collector_fields(self.hass, self.claims, {})

    @override
    def values(self) -> dict[str, Any]:
        return {CONF_HIDE_WRAPPED: True}

    @override
    def read(self, typed: Mapping[str, Any], mistakes: Mistakes) -> None:
        draft = self.draft
        draft.claims.begin(COLLECTOR_PART, str(typed.get(CONF_NAME)))
        draft.name, draft.data = read_collector(
            self.hass, typed, draft.claims, mistakes, {}
        )
        draft.taken[draft.name.casefold()] = draft.name
        draft.claims.collector = to_entity_id(self.hass, draft.data[CONF_SWITCH])


class MachinesPage(Page):
    """Which machines and pickups there are."""

    step = "machines"

    @override
    def fields(self) -> Fields:
        return {
            vol.Optional(CONF_MACHINES): self._picker(MACHINE_SENSOR, CONF_MACHINES),
            vol.Optional(CONF_PICKUPS): names_field(),
        }

    @override
    def values(self) -> dict[str, Any]:
        return {}

    @override
    def read(self, typed: Mapping[str, Any], mistakes: Mistakes) -> None:
        machines = self.draft.machines
        for machine in self._pick_each(
            CONF_MACHINES, MACHINE_SENSOR, typed, mistakes, machine_name
        ):
            machine.base[CONF_SENSOR] = machine.entity_id
            machines.append(machine)
        machines.extend(self._name_each(CONF_PICKUPS, typed, mistakes))
        if not machines:
            mistakes.add(CONF_MACHINES, "nothing_chosen")


class GatesPage(Page):
    """Which gates and inlets there are."""

    step = "gates"
    sections: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "other_gates": (CONF_HAND_SENSORS, CONF_OPEN_INLETS)
    }

    @override
    def fields(self) -> Fields:
        return {
            vol.Optional(CONF_GATES): self._picker(GATE_ACTUATOR, CONF_GATES),
            vol.Optional(CONF_ACTUATOR_SORT): choice_field(
                CONF_ACTUATOR_SORT, ActuatorSort
            ),
            vol.Required(CONF_ASK_POSITIONS): BooleanSelector(),
            vol.Optional(CONF_HAND_SENSORS): self._picker(
                GATE_POSITION, CONF_HAND_SENSORS
            ),
            vol.Optional(CONF_OPEN_INLETS): names_field(),
        }

    @override
    def values(self) -> dict[str, Any]:
        return {
            CONF_ACTUATOR_SORT: ActuatorSort.OTHER,
            CONF_ASK_POSITIONS: False,
        }

    @override
    def read(self, typed: Mapping[str, Any], mistakes: Mistakes) -> None:
        gates = self.draft.gates
        # Names that were typed come before those that are made up.
        for gate in self._name_each(CONF_OPEN_INLETS, typed, mistakes):
            gate.base[CONF_GATE_KIND] = GateKind.FIXED
            gate.asked = False
            gates.append(gate)
        for gate in self._pick_each(
            CONF_GATES, GATE_ACTUATOR, typed, mistakes, gate_name
        ):
            gate.base[CONF_GATE_KIND] = GateKind.POWERED
            gate.base[CONF_ACTUATOR] = gate.entity_id
            gate.base[CONF_ACTUATOR_SORT] = typed.get(
                CONF_ACTUATOR_SORT, ActuatorSort.OTHER
            )
            gate.asked = typed[CONF_ASK_POSITIONS] and not self._tells(gate.entity_id)
            gates.append(gate)
        for gate in self._pick_each(
            CONF_HAND_SENSORS, GATE_POSITION, typed, mistakes, gate_name
        ):
            gate.base[CONF_GATE_KIND] = GateKind.HAND
            gate.base[CONF_OPEN_SENSOR] = gate.entity_id
            gate.asked = False
            gates.append(gate)

    def _tells(self, entity_id: str) -> bool:
        """Return whether an actuator tells where it is, not only what it was told."""
        state = self.hass.states.get(entity_id)
        return split_entity_id(entity_id)[0] not in ON_OFF and not (
            state and state.attributes.get(ATTR_ASSUMED_STATE)
        )


class _PartPage(Page):
    """One gate or machine of several."""

    def __init__(self, draft: Draft, part: Part, asked: list[Part]) -> None:
        """Turn to a part."""
        super().__init__(draft)
        self.part = part
        self.asked = part in asked
        self.claims.begin(part.key, part.label)
        self.placeholders |= {
            "part": part.label,
            "number": str(asked.index(part) + 1) if self.asked else "",
            "count": str(len(asked)),
        }

    @property
    @override
    def key(self) -> str:
        return self.part.key

    def _names_of(self, parts: list[Part]) -> dict[str, str]:
        """Return the names that are taken for this part, which others have."""
        names = [part.name for part in parts if part is not self.part]
        return self.draft.taken | {name.casefold(): name for name in names if name}


class GatePage(_PartPage):
    """How one gate tells its position; the page of the others is not shown."""

    step = "gate"

    @override
    def fields(self) -> Fields:
        fields: Fields = {
            vol.Required(CONF_NAME): TextSelector(),
            **position_fields(self.hass, self.claims, {}),
            vol.Optional(CONF_TRAVEL): number_field(CONF_TRAVEL),
        }
        if split_entity_id(self.part.entity_id)[0] in ON_OFF:
            fields[vol.Required(CONF_INVERTED)] = BooleanSelector()
        return fields

    @override
    def values(self) -> dict[str, Any]:
        return {CONF_NAME: self._free_name(), CONF_INVERTED: False}

    @override
    def read(self, typed: Mapping[str, Any], mistakes: Mistakes) -> None:
        gate = self.part
        self.draft.claims.begin(gate.key, gate.label)
        gate.name, gate.data = read_gate(
            self.hass,
            {CONF_NAME: self._free_name(), **gate.base, **typed},
            self.draft.claims,
            mistakes,
            {},
            self._names_of(self.draft.gates),
        )

    def _free_name(self) -> str:
        """Return the name of an inlet, or one made from the actuator's."""
        return self.part.name or free_name(
            gate_name(self.hass, self.part.entity_id),
            self._names_of(self.draft.gates),
        )


class MachinePage(_PartPage):
    """What one machine is and which gates it needs."""

    step = "machine"

    @override
    def fields(self) -> Fields:
        gates = self._gates()
        fields: Fields = {
            vol.Required(CONF_NAME): TextSelector(),
            vol.Required(CONF_KIND): choice_field(CONF_KIND, MachineKind),
        }
        if gates:
            fields[vol.Optional(CONF_GATES)] = parts_field(gates)
        if sensor := self.part.entity_id:
            told = describe(self.hass, sensor)
            if isinstance(told, Signal) and not told.running:
                fields[vol.Optional(CONF_RUNNING_STATES)] = states_field(told.known)
        return fields

    @override
    def values(self) -> dict[str, Any]:
        name = self.part.name
        if self.part.entity_id:
            name = machine_name(self.hass, self.part.entity_id)
        return {
            CONF_NAME: free_name(name, self._names_of(self.draft.machines)),
            CONF_KIND: guess_kind(name),
            CONF_GATES: guess_gates(name, self._gates()),
        }

    @override
    def read(self, typed: Mapping[str, Any], mistakes: Mistakes) -> None:
        machine = self.part
        self.draft.claims.begin(machine.key, machine.label)
        machine.name, machine.data = read_machine(
            self.hass,
            {**typed, **machine.base},
            self.draft.claims,
            mistakes,
            {},
            {
                gate.part_id: gate_part(gate.part_id, gate.data)
                for gate in self.draft.gates
            },
            self._names_of(self.draft.machines),
        )

    def _gates(self) -> dict[str, str]:
        return {gate.part_id: gate.name for gate in self.draft.gates}


class LevelsPage(Page):
    """What the histories of the machines' sensors tell; not shown where they do not."""

    step = "levels"

    def __init__(self, draft: Draft) -> None:
        """Find nothing before it was looked."""
        super().__init__(draft)
        self._found: dict[str, dict[str, float | None]] = {}
        self.asked = False

    @override
    async def prepare(self) -> None:
        told = []
        for machine in self.draft.machines:
            if (unit := machine.data.get(CONF_UNIT)) is None:
                continue
            found = await self.draft.look(machine.entity_id, unit)
            told.append((machine.name, found))
            if (figures := found.figures) is not None:
                self._found[machine.part_id] = {**figures, **found.certain}
        self.asked = bool(self._found)
        words = await LearningTexts.load(self.hass)
        self.placeholders["found"] = words.overview(told)

    @override
    def fields(self) -> Fields:
        return {
            vol.Optional(CONF_ACCEPTED): parts_field(
                {
                    machine.part_id: machine.name
                    for machine in self.draft.machines
                    if machine.part_id in self._found
                }
            )
        }

    @override
    def values(self) -> dict[str, Any]:
        return {CONF_ACCEPTED: list(self._found)}

    @override
    def read(self, typed: Mapping[str, Any], mistakes: Mistakes) -> None:
        accepted = typed.get(CONF_ACCEPTED, [])
        for machine in self.draft.machines:
            if machine.part_id in accepted:
                machine.data |= self._found.get(machine.part_id, {})


def pages(draft: Draft) -> Iterator[Page]:
    """Yield the pages in their order; what comes depends on what was answered."""
    yield CollectorPage(draft)
    yield MachinesPage(draft)
    yield GatesPage(draft)
    asked = [gate for gate in draft.gates if gate.asked]
    for gate in draft.gates:
        yield GatePage(draft, gate, asked)
    for machine in draft.machines:
        yield MachinePage(draft, machine, draft.machines)
    yield LevelsPage(draft)
