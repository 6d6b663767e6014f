"""The pages that set up a whole system, one after the other."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, override

from homeassistant.const import ATTR_ASSUMED_STATE, CONF_NAME
from homeassistant.core import split_entity_id

from ... import const
from ...core.config import GateKind
from ...runtime.entity_references import to_entity_id
from ...texts.texts import Texts
from ..entity_picker import (
    COLLECTOR_POWER,
    GATE_ACTUATOR,
    GATE_POSITION,
    MACHINE_SENSOR,
    meter_of,
    offer,
)
from ..entity_usage import COLLECTOR_PART, EntityUsage
from ..field import FormContext, Values
from ..form import Form, Group
from ..form_errors import FormErrors
from ..kinds import BooleanField, ChoiceField, EntityField, TextsField
from ..names import (
    NAME_ERRORS,
    free_name,
    gate_name,
    guess_gates,
    guess_kind,
    guess_sort,
    machine_name,
)
from ..sensor_description import name_of
from .collector import COLLECTOR
from .gate import GATE, ON_OFF
from .levels_page import LevelsPage
from .machine import MACHINE, STATES_IF_UNCLEAR
from .monitor_only import CONF_MONITOR_ONLY
from .parts import gate_part
from .setup_page import Page
from .setup_upload import SetupFileField
from .system_draft import Draft, DraftPart

CONF_SETUP_FILE = "setup_file"
CONF_MACHINES = "machines"
CONF_PICKUPS = "pickups"
CONF_ASK_POSITIONS = "ask_positions"
CONF_HAND_SENSORS = "hand_sensors"
CONF_OPEN_INLETS = "open_inlets"
CONF_WITHOUT_GATE = "without_gate"
OPEN_INLET, LEAVE_OUT = "open_inlet", "leave_out"


class CollectorPage(Page):
    """What the collector is."""

    step = "user"
    form = COLLECTOR.cut(
        Group(
            "collector",
            COLLECTOR[CONF_NAME],
            # A set-up file has a switch of its own.
            replace(COLLECTOR[const.CONF_SWITCH], required=False),
            collapsed=False,
            errors=("switch_missing",),
        ),
        Group(
            "more",
            COLLECTOR[const.CONF_POWER],
            COLLECTOR[CONF_MONITOR_ONLY],
            COLLECTOR[const.CONF_HIDE_WRAPPED],
            SetupFileField(CONF_SETUP_FILE),
        ),
    )

    _name = ""

    @override
    async def prepare(self) -> None:
        texts = await Texts.load(self.hass)
        name = texts("suggested_name", "collector")
        self._name = free_name(name, self.draft.taken)

    @override
    def values(self) -> dict[str, Any]:
        return super().values() | {CONF_NAME: self._name}

    @override
    def read(self, typed: Values, mistakes: FormErrors) -> None:
        draft = self.draft
        draft.claims.begin(COLLECTOR_PART, str(typed.get(CONF_NAME)))
        if not typed.get(const.CONF_SWITCH):
            mistakes.add(const.CONF_SWITCH, "switch_missing")
            self.judge(typed, mistakes)
            return
        if typed.get(const.CONF_POWER) is None and (meter := self._meter(typed)):
            draft.meter = meter
            typed = {**typed, const.CONF_POWER: meter}
        answers = self.judge(typed, mistakes)
        draft.name, draft.data = answers.name, answers.data
        draft.taken[draft.name.casefold()] = draft.name
        draft.claims.collector = to_entity_id(self.hass, draft.data[const.CONF_SWITCH])

    def _meter(self, typed: Values) -> str | None:
        """Return the power sensor of the switch's own plug, if it's free."""
        meter = meter_of(self.hass, typed[const.CONF_SWITCH])
        free = offer(self.hass, COLLECTOR_POWER, self.claims, [])
        return meter if meter in free else None


class MachinesPage(Page):
    """Which machines and pickups exist."""

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
    def read(self, typed: Values, mistakes: FormErrors) -> None:
        machines = self.draft.machines
        for machine in self.pick_each(CONF_MACHINES, typed, mistakes, machine_name):
            machine.base[const.CONF_SENSOR] = machine.entity_id
            machines.append(machine)
        machines.extend(self.name_each(CONF_PICKUPS, typed, mistakes))
        if not machines:
            mistakes.add(CONF_MACHINES, "nothing_chosen")


class GatesPage(Page):
    """Which gates and inlets exist."""

    step = "gates"
    form = Form(
        Group(
            "gates",
            EntityField(const.CONF_GATES, GATE_ACTUATOR, multiple=True),
            collapsed=False,
        ),
        Group(
            "other_gates",
            replace(GATE[const.CONF_ACTUATOR_SORT], new=None),
            BooleanField(CONF_ASK_POSITIONS, required=True, new=False),
            EntityField(CONF_HAND_SENSORS, GATE_POSITION, multiple=True),
            TextsField(CONF_OPEN_INLETS),
            errors=NAME_ERRORS,
        ),
    )

    @override
    def read(self, typed: Values, mistakes: FormErrors) -> None:
        gates = self.draft.gates
        # Typed names come before generated ones.
        for gate in self.name_each(CONF_OPEN_INLETS, typed, mistakes):
            gate.base[const.CONF_GATE_KIND] = GateKind.FIXED
            gate.asked = False
            gates.append(gate)
        for gate in self.pick_each(const.CONF_GATES, typed, mistakes, gate_name):
            gate.base[const.CONF_GATE_KIND] = GateKind.POWERED
            gate.base[const.CONF_ACTUATOR] = gate.entity_id
            gate.base[const.CONF_ACTUATOR_SORT] = typed.get(
                const.CONF_ACTUATOR_SORT
            ) or guess_sort(name_of(self.hass, gate.entity_id))
            gate.asked = typed[CONF_ASK_POSITIONS] and not self._reports_position(
                gate.entity_id
            )
            gates.append(gate)
        for gate in self.pick_each(CONF_HAND_SENSORS, typed, mistakes, gate_name):
            gate.base[const.CONF_GATE_KIND] = GateKind.HAND
            gate.base[const.CONF_OPEN_SENSOR] = gate.entity_id
            gate.asked = False
            gates.append(gate)

    def _reports_position(self, entity_id: str) -> bool:
        """Return whether an actuator reports a position, not only its last command."""
        state = self.hass.states.get(entity_id)
        return split_entity_id(entity_id)[0] not in ON_OFF and not (
            state and state.attributes.get(ATTR_ASSUMED_STATE)
        )


class _PartPage(Page):
    """One of several gates or machines."""

    def __init__(self, draft: Draft, part: DraftPart, asked: list[DraftPart]) -> None:
        super().__init__(draft)
        self.part = part
        self.known = part.base
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
    def form_context(self, claims: EntityUsage) -> FormContext:
        context = super().form_context(claims)
        context.stored = self.known
        context.part_names = {gate.part_id: gate.name for gate in self.draft.gates}
        context.taken = self._others()
        return context

    def _others(self) -> dict[str, str]:
        """Return the names that other parts have taken."""
        parts = self.draft.machines
        if self.part not in parts:
            parts = self.draft.gates
        names = [part.name for part in parts if part is not self.part]
        return self.draft.taken | {name.casefold(): name for name in names if name}

    @override
    def read(self, typed: Values, mistakes: FormErrors) -> None:
        part = self.part
        self.draft.claims.begin(part.key, part.label)
        answers = self.judge({**typed, **part.base}, mistakes)
        part.name, part.data = answers.name, answers.data


def _is_on_off(context: FormContext) -> bool:
    return context.stored.get(const.CONF_ACTUATOR, "").partition(".")[0] in ON_OFF


class GatePage(_PartPage):
    """How one gate reports its position; other gates have no such page."""

    step = "gate"
    form = GATE.cut(
        Group(
            "gate",
            replace(GATE[CONF_NAME], required=True),
            GATE[const.CONF_OPEN_SENSOR],
            GATE[const.CONF_CLOSED_SENSOR],
            GATE[const.CONF_TRAVEL],
            replace(GATE[const.CONF_INVERTED], exists=_is_on_off),
            collapsed=False,
        )
    )

    @override
    def values(self) -> dict[str, Any]:
        return super().values() | {CONF_NAME: self._free_name()}

    @override
    def read(self, typed: Values, mistakes: FormErrors) -> None:
        super().read({CONF_NAME: self._free_name(), **typed}, mistakes)

    def _free_name(self) -> str:
        """Return an inlet's name, or one made from the actuator's."""
        return self.part.name or free_name(
            gate_name(self.hass, self.part.entity_id), self._others()
        )


def _lacks_gate(context: FormContext) -> bool:
    """Return whether none of the shop's gates is chosen for a machine."""
    return bool(context.part_names) and not context.values.get(const.CONF_GATES)


class MachinePage(_PartPage):
    """What one machine is, and which gates it needs."""

    step = "machine"
    form = MACHINE.cut(
        Group(
            "machine",
            replace(MACHINE[CONF_NAME], required=True),
            replace(MACHINE[const.CONF_KIND], required=True),
            MACHINE[const.CONF_GATES],
            ChoiceField(CONF_WITHOUT_GATE, (OPEN_INLET, LEAVE_OUT), exists=_lacks_gate),
            STATES_IF_UNCLEAR,
            collapsed=False,
            errors=("machine_without_gates",),
        )
    )

    @override
    def values(self) -> dict[str, Any]:
        name = self.part.name
        if self.part.entity_id:
            name = machine_name(self.hass, self.part.entity_id)
        gates = self.form_context(self.claims).part_names
        return {
            CONF_NAME: free_name(name, self._others()),
            const.CONF_KIND: guess_kind(name),
            const.CONF_GATES: guess_gates(name, gates, self._other_machines()),
        }

    def _other_machines(self) -> list[str]:
        """Return what the shop's other machines are called, as far as is known."""
        return [
            machine_name(self.hass, other.entity_id) if other.entity_id else other.name
            for other in self.draft.machines
            if other is not self.part
        ]

    @override
    def read(self, typed: Values, mistakes: FormErrors) -> None:
        chosen = typed.get(CONF_WITHOUT_GATE)
        self.part.left_out = chosen == LEAVE_OUT
        if self.part.left_out:
            return
        if chosen == OPEN_INLET:
            inlet = self._inlet(str(typed.get(CONF_NAME)), mistakes)
            gates = [*typed.get(const.CONF_GATES, ()), inlet.part_id]
            typed = {**typed, const.CONF_GATES: gates}
        super().read(typed, mistakes)

    def _inlet(self, name: str, mistakes: FormErrors) -> DraftPart:
        """Add an always-open inlet for this machine to the draft."""
        draft, key = self.draft, f"inlet:{self.part.key}"
        inlet = DraftPart(
            key=key,
            part_id=draft.part_id(key),
            label=name,
            base={const.CONF_GATE_KIND: GateKind.FIXED},
            name=free_name(f"{name} inlet", self._others()),
        )
        draft.gates.append(inlet)
        GatePage(draft, inlet, []).read({}, mistakes)
        return inlet

    @override
    def form_context(self, claims: EntityUsage) -> FormContext:
        context = super().form_context(claims)
        context.gates = {
            gate.part_id: gate_part(gate.part_id, gate.data)
            for gate in self.draft.gates
        }
        return context


def pages(draft: Draft) -> Iterator[Page]:
    """Yield the pages in order; which come depends on the answers."""
    yield CollectorPage(draft)
    yield MachinesPage(draft)
    yield GatesPage(draft)
    asked = [gate for gate in draft.gates if gate.asked]
    for gate in draft.gates:
        yield GatePage(draft, gate, asked)
    for machine in draft.machines:
        yield MachinePage(draft, machine, draft.machines)
    yield LevelsPage(draft)
