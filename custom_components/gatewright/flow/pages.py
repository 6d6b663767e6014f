"""The pages that ask for a whole system, one after the other."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any, ClassVar, cast, override

from homeassistant.const import ATTR_ASSUMED_STATE, CONF_NAME
from homeassistant.core import HomeAssistant, split_entity_id

from .. import const
from ..entities import to_entity_id
from ..finding.learning_texts import LearningTexts
from ..forms.claims import COLLECTOR_PART, Claims
from ..forms.field import Answers, FormContext, Values
from ..forms.form import Form, Group, Shown
from ..forms.kinds import BooleanField, EntityField, PartsField, TextsField
from ..forms.mistakes import Mistakes
from ..forms.names import (
    NAME_ERRORS,
    free_name,
    gate_name,
    guess_gates,
    guess_kind,
    machine_name,
    take_name,
)
from ..forms.picks import GATE_ACTUATOR, GATE_POSITION, MACHINE_SENSOR, take
from ..forms.readings import Signal, describe, name_of
from ..shop.kinds import ActuatorSort
from ..shop.plan import GateKind
from .collector import COLLECTOR, COLLECTOR_GROUP
from .draft import Draft, Part
from .gate import GATE, ON_OFF
from .machine import MACHINE
from .parts import gate_part

CONF_MACHINES = "machines"
CONF_PICKUPS = "pickups"
CONF_ASK_POSITIONS = "ask_positions"
CONF_HAND_SENSORS = "hand_sensors"
CONF_OPEN_INLETS = "open_inlets"
CONF_ACCEPTED = "accepted"


class Page(ABC):
    """One page: what it asks, and what it makes of the answer."""

    step: ClassVar[str]
    form: ClassVar[Form]
    asked = True

    def __init__(self, draft: Draft) -> None:
        """Stand before the answer: nothing of this page is claimed yet."""
        self.draft = draft
        self.hass = draft.hass
        self.claims = draft.claims.copy()
        self.placeholders: dict[str, str] = {"system": draft.name}
        self._known: dict[str, Any] = {}

    @property
    def key(self) -> str:
        """Return what the answer is kept under."""
        return self.step

    async def prepare(self) -> None:  # noqa: B027 - most pages know what to show
        """Find out what the page is to show."""

    def values(self) -> dict[str, Any]:
        """Return what the page shows before it is answered."""
        return {field.key: field.new for field in self.form.fields}

    def show(self, answer: Values | None, mistakes: Mistakes) -> Shown:
        """Return the page as it was answered, or as it is before."""
        values = self._known | (self.values() if answer is None else dict(answer))
        shown = self.form.show(self._context(self.claims), values, mistakes)
        shown["description_placeholders"] |= self.placeholders
        return shown

    @abstractmethod
    def read(self, typed: Values, mistakes: Mistakes) -> None:
        """Judge an answer and take it into the draft."""

    def _context(self, claims: Claims) -> FormContext:
        """Return where the page stands."""
        return FormContext(hass=self.hass, claims=claims, taken=self.draft.taken)

    def _read(self, typed: Values, mistakes: Mistakes) -> Answers:
        """Judge an answer; what else the form has is as in that of a new part."""
        context = self.form.begun(self._context(self.draft.claims))
        return self.form.read(context, typed, mistakes)

    def _pick_each(
        self,
        name: str,
        typed: Values,
        mistakes: Mistakes,
        named: Callable[[HomeAssistant, str], str],
    ) -> Iterator[Part]:
        """Yield a part for each entity picked in a field, the same one only once."""
        pick, seen = cast("EntityField", self.form[name]).pick, set[str]()
        answers = Answers(self._context(self.draft.claims), {}, typed, mistakes)
        for picked in typed.get(name, []):
            entity_id = to_entity_id(self.hass, picked) or picked
            if entity_id in seen:
                continue
            seen.add(entity_id)
            key = f"{name}:{entity_id}"
            self.draft.claims.begin(key, named(self.hass, entity_id))
            take(answers, pick, name, entity_id)
            yield Part(
                key=key,
                part_id=self.draft.part_id(key),
                label=name_of(self.hass, entity_id),
                base={},
                entity_id=entity_id,
            )

    def _name_each(
        self, name: str, typed: Values, mistakes: Mistakes
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
    form = COLLECTOR.cut(COLLECTOR_GROUP)

    @override
    def read(self, typed: Values, mistakes: Mistakes) -> None:
        draft = self.draft
        draft.claims.begin(COLLECTOR_PART, str(typed.get(CONF_NAME)))
        answers = self._read(typed, mistakes)
        draft.name, draft.data = answers.name, answers.data
        draft.taken[draft.name.casefold()] = draft.name
        draft.claims.collector = to_entity_id(self.hass, draft.data[const.CONF_SWITCH])


class MachinesPage(Page):
    """Which machines and pickups there are."""

    step = "machines"
    form = Form(
        Group(
            "machines",
            EntityField(CONF_MACHINES, MACHINE_SENSOR, multiple=True),
            TextsField(CONF_PICKUPS),
            collapsed=False,
            errors=("nothing_chosen", *NAME_ERRORS),
        )
    )

    @override
    def read(self, typed: Values, mistakes: Mistakes) -> None:
        machines = self.draft.machines
        for machine in self._pick_each(CONF_MACHINES, typed, mistakes, machine_name):
            machine.base[const.CONF_SENSOR] = machine.entity_id
            machines.append(machine)
        machines.extend(self._name_each(CONF_PICKUPS, typed, mistakes))
        if not machines:
            mistakes.add(CONF_MACHINES, "nothing_chosen")


class GatesPage(Page):
    """Which gates and inlets there are."""

    step = "gates"
    form = Form(
        Group(
            "gates",
            EntityField(const.CONF_GATES, GATE_ACTUATOR, multiple=True),
            GATE[const.CONF_ACTUATOR_SORT],
            BooleanField(CONF_ASK_POSITIONS, required=True, new=False),
            collapsed=False,
        ),
        Group(
            "other_gates",
            EntityField(CONF_HAND_SENSORS, GATE_POSITION, multiple=True),
            TextsField(CONF_OPEN_INLETS),
            errors=NAME_ERRORS,
        ),
    )

    @override
    def read(self, typed: Values, mistakes: Mistakes) -> None:
        gates = self.draft.gates
        # Names that were typed come before those that are made up.
        for gate in self._name_each(CONF_OPEN_INLETS, typed, mistakes):
            gate.base[const.CONF_GATE_KIND] = GateKind.FIXED
            gate.asked = False
            gates.append(gate)
        for gate in self._pick_each(const.CONF_GATES, typed, mistakes, gate_name):
            gate.base[const.CONF_GATE_KIND] = GateKind.POWERED
            gate.base[const.CONF_ACTUATOR] = gate.entity_id
            gate.base[const.CONF_ACTUATOR_SORT] = typed.get(
                const.CONF_ACTUATOR_SORT, ActuatorSort.OTHER
            )
            gate.asked = typed[CONF_ASK_POSITIONS] and not self._tells(gate.entity_id)
            gates.append(gate)
        for gate in self._pick_each(CONF_HAND_SENSORS, typed, mistakes, gate_name):
            gate.base[const.CONF_GATE_KIND] = GateKind.HAND
            gate.base[const.CONF_OPEN_SENSOR] = gate.entity_id
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
        self._known = part.base
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

    @override
    def _context(self, claims: Claims) -> FormContext:
        context = super()._context(claims)
        context.stored = self._known
        context.part_names = {gate.part_id: gate.name for gate in self.draft.gates}
        context.taken = self._others()
        return context

    def _others(self) -> dict[str, str]:
        """Return the names that are taken for this part, which others have."""
        parts = self.draft.machines
        if self.part not in parts:
            parts = self.draft.gates
        names = [part.name for part in parts if part is not self.part]
        return self.draft.taken | {name.casefold(): name for name in names if name}

    @override
    def read(self, typed: Values, mistakes: Mistakes) -> None:
        part = self.part
        self.draft.claims.begin(part.key, part.label)
        answers = self._read({**typed, **part.base}, mistakes)
        part.name, part.data = answers.name, answers.data


def _is_on_off(context: FormContext) -> bool:
    return context.stored.get(const.CONF_ACTUATOR, "").partition(".")[0] in ON_OFF


class GatePage(_PartPage):
    """How one gate tells its position; the page of the others is not shown."""

    step = "gate"
    form = GATE.cut(
        Group(
            "gate",
            replace(GATE[CONF_NAME], required=True),
            GATE[const.CONF_OPEN_SENSOR],
            GATE[const.CONF_SHUT_SENSOR],
            GATE[const.CONF_TRAVEL],
            replace(GATE[const.CONF_INVERTED], exists=_is_on_off),
            collapsed=False,
        )
    )

    @override
    def values(self) -> dict[str, Any]:
        return super().values() | {CONF_NAME: self._free_name()}

    @override
    def read(self, typed: Values, mistakes: Mistakes) -> None:
        super().read({CONF_NAME: self._free_name(), **typed}, mistakes)

    def _free_name(self) -> str:
        """Return the name of an inlet, or one made from the actuator's."""
        return self.part.name or free_name(
            gate_name(self.hass, self.part.entity_id), self._others()
        )


def _is_unclear(context: FormContext) -> bool:
    """Return whether nobody knows which states of a machine's sensor mean running."""
    sensor = context.stored.get(const.CONF_SENSOR)
    told = describe(context.hass, sensor) if sensor else None
    return isinstance(told, Signal) and not told.running


class MachinePage(_PartPage):
    """What one machine is and which gates it needs."""

    step = "machine"
    form = MACHINE.cut(
        Group(
            "machine",
            replace(MACHINE[CONF_NAME], required=True),
            replace(MACHINE[const.CONF_KIND], required=True),
            MACHINE[const.CONF_GATES],
            replace(MACHINE[const.CONF_RUNNING_STATES], exists=_is_unclear),
            collapsed=False,
            errors=("machine_without_gates",),
        )
    )

    @override
    def values(self) -> dict[str, Any]:
        name = self.part.name
        if self.part.entity_id:
            name = machine_name(self.hass, self.part.entity_id)
        gates = self._context(self.claims).part_names
        return {
            CONF_NAME: free_name(name, self._others()),
            const.CONF_KIND: guess_kind(name),
            const.CONF_GATES: guess_gates(name, gates),
        }

    @override
    def _context(self, claims: Claims) -> FormContext:
        context = super()._context(claims)
        context.gates = {
            gate.part_id: gate_part(gate.part_id, gate.data)
            for gate in self.draft.gates
        }
        return context


class LevelsPage(Page):
    """What the histories of the machines' sensors tell; not shown where they do not."""

    step = "levels"
    form = Form(Group("levels", PartsField(CONF_ACCEPTED), collapsed=False))

    def __init__(self, draft: Draft) -> None:
        """Find nothing before it was looked."""
        super().__init__(draft)
        self._found: dict[str, dict[str, float | None]] = {}
        self.asked = False

    @override
    async def prepare(self) -> None:
        told = []
        for machine in self.draft.machines:
            if (unit := machine.data.get(const.CONF_UNIT)) is None:
                continue
            found = await self.draft.look(machine.entity_id, unit)
            told.append((machine.name, found))
            if (figures := found.figures) is not None:
                self._found[machine.part_id] = {**figures, **found.certain}
        self.asked = bool(self._found)
        words = await LearningTexts.load(self.hass)
        self.placeholders["found"] = words.overview(told)

    @override
    def values(self) -> dict[str, Any]:
        return {CONF_ACCEPTED: list(self._found)}

    @override
    def _context(self, claims: Claims) -> FormContext:
        context = super()._context(claims)
        names = {machine.part_id: machine.name for machine in self.draft.machines}
        context.part_names = {part: names[part] for part in self._found}
        return context

    @override
    def read(self, typed: Values, mistakes: Mistakes) -> None:
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
