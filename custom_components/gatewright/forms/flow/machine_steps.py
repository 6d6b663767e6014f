"""The steps for adding and changing a machine."""

from collections.abc import Mapping
from typing import override

from homeassistant.config_entries import SubentryFlowResult

from ...const import CONF_HAND_GATES, CONF_SENSOR, CONF_START, CONF_UNIT
from ...features.calibration.evaluation import without_stale_certain
from ..field import Answers, FormContext, Values
from ..form_errors import FormErrors
from .levels_steps import FoundSteps
from .machine import CONF_FIND, MACHINE, MACHINE_PAGES
from .part_steps import gate_names, page_step
from .parts import NEW_PART, gate_parts, machine_part, machine_parts, unused_gates
from .simulate_steps import CONF_SIMULATE, SimulateSteps


class MachineFlow(FoundSteps, SimulateSteps):
    """Add or change a machine or pickup."""

    form = MACHINE
    pages = MACHINE_PAGES

    _first: Values | None = None
    _typed: Values

    @override
    def begun(self, context: FormContext) -> FormContext:
        context.gates = gate_parts(context.system)
        context.part_names = gate_names(context.system)
        # A page is read against what it showed at first, whatever is stored meanwhile.
        shown = super().begun(context).shown
        if self._first is None:
            self._first = shown
        page = (field.key for field in self.pages[self.step].fields)
        context.shown = {**shown, **{key: self._first[key] for key in page}}
        return context

    async_step_detection = page_step("detection")
    async_step_afterwards = page_step("afterwards")
    async_step_more = page_step("more")
    async_step_need = page_step("need")

    @override
    def offered(self, stored: Values) -> list[str]:
        sensed = CONF_SENSOR in stored
        return [
            step for step in super().offered(stored) if sensed or step != "detection"
        ]

    @override
    async def take(
        self, step: str, answers: Answers, user_input: Values
    ) -> SubentryFlowResult:
        """Find the levels, if that was chosen and is possible."""
        self._typed = user_input
        self._name, self._data = answers.name, answers.data
        if answers.typed.get(CONF_FIND) and CONF_UNIT in self._data:
            return await self._find()
        return await self.store_found()

    async def async_step_left_gates(
        self, user_input: None = None
    ) -> SubentryFlowResult:
        """Show which gates would lose their last machine, and the alternatives."""
        return self.async_show_menu(
            step_id="left_gates",
            menu_options=["save", "edit"],
            description_placeholders={"gates": ", ".join(self._left_gates())},
        )

    async def async_step_save(self, user_input: None = None) -> SubentryFlowResult:
        """Store a changed machine."""
        return self.store(self._name, self._data)

    async def async_step_edit(self, user_input: None = None) -> SubentryFlowResult:
        """Return to the form, as it was filled in."""
        return self.show(self.step, self._typed)

    @override
    async def store_found(self) -> SubentryFlowResult:
        if self._typed.get(CONF_SIMULATE):
            return await self.simulate(self.step, self._typed, self._name, self._data)
        if self.part_id and self._left_gates():
            return await self.async_step_left_gates()
        return self.store(self._name, self._data)

    @override
    def _type(self, figures: Mapping[str, float | None], mistakes: FormErrors) -> None:
        page, context = self.pages[self.step], self.form_context()
        typed = {**page.typed(context, self._typed), **figures}
        if CONF_START in figures:
            kept = without_stale_certain(typed)
            typed = {key: kept.get(key) for key in typed}
        answers = page.read(context, typed, mistakes)
        if not mistakes:
            # Only once: whoever returns to the form isn't asked again.
            self._typed = typed | {CONF_FIND: False}
            self._name, self._data = answers.name, answers.data

    def _left_gates(self) -> list[str]:
        """Return the gates that this change leaves without a machine."""
        entry = self._get_entry()
        gates, machines = gate_parts(entry), machine_parts(entry)
        by_hand = entry.data[CONF_HAND_GATES]
        before = unused_gates(gates.values(), machines.values(), by_hand)
        machine_id = self.part_id or NEW_PART
        machines[machine_id] = machine_part(machine_id, self._data)
        after = unused_gates(gates.values(), machines.values(), by_hand)
        return sorted(entry.subentries[gate].title for gate in after - before)
