"""The steps for adding and changing a machine."""

from collections.abc import Mapping
from typing import Any, override

from homeassistant.config_entries import SubentryFlowResult

from ..const import CONF_HAND_GATES, CONF_START, CONF_UNIT
from ..finding.look import without_stale_certain
from ..forms.field import Answers, FormContext, Values
from ..forms.mistakes import Mistakes
from .found import FoundSteps
from .machine import CONF_FIND, MACHINE
from .part import gate_names
from .parts import NEW_PART, gate_parts, machine_part, machine_parts, unused_gates
from .rehearse import CONF_REHEARSE, RehearseSteps


class MachineFlow(FoundSteps, RehearseSteps):
    """Add or change a machine or pickup."""

    form = MACHINE

    _first: Values | None = None
    _typed: Values

    @override
    def begun(self, context: FormContext) -> FormContext:
        context.gates = gate_parts(context.system)
        context.part_names = gate_names(context.system)
        # Whatever is stored meanwhile, the form is read by what it showed at first.
        if self._first is None:
            self._first = super().begun(context).shown
        context.shown = self._first
        return context

    @override
    async def take(self, answers: Answers, user_input: Values) -> SubentryFlowResult:
        """Find out when the machine runs, where that was asked for and can be."""
        self._typed = user_input
        self._name, self._data = answers.name, answers.data
        if answers.typed.get(CONF_FIND) and CONF_UNIT in self._data:
            return await self._find()
        return await self.store_found()

    async def async_step_left_gates(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Tell which gates would be without a machine, and what can be done."""
        return self.async_show_menu(
            step_id="left_gates",
            menu_options=["save", "edit"],
            description_placeholders={"gates": ", ".join(self._left_gates())},
        )

    async def async_step_save(self, user_input: None = None) -> SubentryFlowResult:
        """Store a changed machine."""
        return self.store(self._name, self._data)

    async def async_step_edit(self, user_input: None = None) -> SubentryFlowResult:
        """Go back to the form, as it was filled in."""
        return self.show("reconfigure", self._typed)

    @override
    async def store_found(self) -> SubentryFlowResult:
        if self._typed.get(CONF_REHEARSE):
            step = "reconfigure" if self.part_id else "user"
            return await self.rehearse(step, self._typed, self._name, self._data)
        if self.part_id and self._left_gates():
            return await self.async_step_left_gates()
        return self.store(self._name, self._data)

    @override
    def _type(self, figures: Mapping[str, float | None], mistakes: Mistakes) -> None:
        typed: Mapping[str, Any] = {**self.form.flat(self._typed), **figures}
        if CONF_START in figures:
            typed = without_stale_certain(typed)
        retyped = self.form.nested(typed)
        answers = self.form.read(self.form_context(), retyped, mistakes)
        if not mistakes:
            # Found once: whoever comes back to the form is not led round again.
            self._typed = retyped | {CONF_FIND: False}
            self._name, self._data = answers.name, answers.data

    def _left_gates(self) -> list[str]:
        """Return the gates that this change leaves without any machine."""
        entry = self._get_entry()
        gates, machines = gate_parts(entry), machine_parts(entry)
        by_hand = entry.data[CONF_HAND_GATES]
        before = unused_gates(gates.values(), machines.values(), by_hand)
        machine_id = self.part_id or NEW_PART
        machines[machine_id] = machine_part(machine_id, self._data)
        after = unused_gates(gates.values(), machines.values(), by_hand)
        return sorted(entry.subentries[gate].title for gate in after - before)
