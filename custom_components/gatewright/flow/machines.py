"""The steps for adding and changing a machine."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, override

from homeassistant.config_entries import (
    SOURCE_USER,
    ConfigEntryState,
    SubentryFlowResult,
)
from homeassistant.const import CONF_NAME

from ..const import CONF_HAND_GATES, CONF_START, CONF_UNIT
from ..finding.look import without_stale_certain
from ..record.time_to_air_text import time_to_air_text
from ..text.texts import Texts
from .claims import Claims
from .fields import flatten, form, gate_names
from .found import CONF_FIND, FoundSteps
from .machine import NEW, OWN_KEYS, SECTIONS, machine_fields, read_machine, values_of
from .mistakes import Mistakes
from .names import taken_names
from .need import need_placeholders, read_need
from .parts import NEW_PART, gate_parts, machine_part, machine_parts, unused_gates
from .rehearse import CONF_REHEARSE, RehearseSteps, rehearse_fields

if TYPE_CHECKING:
    from ..engine import Engine


class MachineFlow(FoundSteps, RehearseSteps):
    """Add or change a machine or pickup."""

    _first: dict[str, Any] | None = None
    _typed: Mapping[str, Any]

    async def async_step_user(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Add a machine."""
        mistakes = Mistakes(SECTIONS)
        if user_input is not None:
            self._typed = user_input
            self._name, self._data = self._read(user_input, mistakes, {})
            if not mistakes:
                return await self._find_or_store()
        return self._show("user", user_input, mistakes, {})

    async def async_step_reconfigure(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Change a machine."""
        before = self._before()
        mistakes = Mistakes(SECTIONS)
        if user_input is not None:
            self._typed = user_input
            self._name, self._data = self._read(user_input, mistakes, before)
            if not mistakes:
                return await self._find_or_store()
        return self._show("reconfigure", user_input, mistakes, before)

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
        machine = self._get_reconfigure_subentry()
        kept = {
            key: value for key, value in machine.data.items() if key not in OWN_KEYS
        }
        return self.async_update_and_abort(
            self._get_entry(), machine, title=self._name, data=kept | self._data
        )

    async def async_step_edit(self, user_input: None = None) -> SubentryFlowResult:
        """Go back to the form, as it was filled in."""
        return self.back_to_form("reconfigure", self._typed, Mistakes(SECTIONS))

    async def _find_or_store(self) -> SubentryFlowResult:
        """Find out when the machine runs, where that was asked for and can be."""
        if self._typed.get(CONF_FIND) and CONF_UNIT in self._data:
            return await self._find()
        return await self._store()

    @override
    async def _store(self) -> SubentryFlowResult:
        new = self.source == SOURCE_USER
        if self._typed.get(CONF_REHEARSE):
            step = "user" if new else "reconfigure"
            return await self.rehearse(step, self._typed, self._name, self._data)
        if new:
            return self.async_create_entry(title=self._name, data=self._data)
        if self._left_gates():
            return await self.async_step_left_gates()
        return await self.async_step_save()

    @override
    def _type(self, figures: Mapping[str, float | None], mistakes: Mistakes) -> None:
        typed = {**flatten(self._typed, SECTIONS), **figures}
        if CONF_START in figures:
            typed = without_stale_certain(typed)
        section_of = {field: name for name, held in SECTIONS.items() for field in held}
        retyped: dict[str, Any] = {name: {} for name in SECTIONS}
        for field, value in typed.items():
            if value is not None:
                place = section_of.get(field)
                (retyped if place is None else retyped[place])[field] = value
        before = {} if self.source == SOURCE_USER else self._before()
        name, data = self._read(retyped, mistakes, before)
        if not mistakes:
            # Found once: whoever comes back to the form is not led round again.
            self._typed = retyped | {CONF_FIND: False}
            self._name, self._data = name, data

    @override
    def back_to_form(
        self, step: str, typed: Mapping[str, Any], mistakes: Mistakes
    ) -> SubentryFlowResult:
        before = self._before() if step == "reconfigure" else {}
        return self._show(step, typed, mistakes, before)

    def _before(self) -> dict[str, Any]:
        """Return what the form showed at first."""
        if self._first is None:
            machine = self._get_reconfigure_subentry()
            gates = gate_parts(self._get_entry())
            self._first = values_of(self.hass, machine.title, machine.data, gates)
        return self._first

    @property
    def _machine_id(self) -> str:
        """Return the id of the machine in hand; a new one has none yet."""
        return self.context.get("subentry_id", NEW_PART)

    def _left_gates(self) -> list[str]:
        """Return the gates that this change leaves without any machine."""
        entry = self._get_entry()
        gates, machines = gate_parts(entry), machine_parts(entry)
        by_hand = entry.data[CONF_HAND_GATES]
        before = unused_gates(gates.values(), machines.values(), by_hand)
        machines[self._machine_id] = machine_part(self._machine_id, self._data)
        after = unused_gates(gates.values(), machines.values(), by_hand)
        return sorted(entry.subentries[gate].title for gate in after - before)

    def _read(
        self,
        user_input: Mapping[str, Any],
        mistakes: Mistakes,
        before: Mapping[str, Any],
    ) -> tuple[str, dict[str, Any]]:
        entry = self._get_entry()
        typed = flatten(user_input, SECTIONS)
        name, data = read_machine(
            self.hass,
            typed,
            Claims(self.hass, entry, self._machine_id),
            mistakes,
            before,
            gate_parts(entry),
            taken_names(self.hass, entry.entry_id, self._machine_id),
        )
        need = read_need(self.hass, typed, mistakes, before, self._stored())
        return name, data | need

    def _time_to_air(self) -> str:
        """Return how long the machine in hand waits for its air and why, if known."""
        entry = self._get_entry()
        engine: Engine | None = getattr(entry, "runtime_data", None)
        told = None
        if engine is not None and entry.state is ConfigEntryState.LOADED:
            told = engine.record.keeper.time_to_air(self._machine_id)
        texts = Texts.cached(self.hass)
        return time_to_air_text(texts, told, gate_names(entry))

    def _stored(self) -> Mapping[str, Any]:
        """Return the data of the machine in hand; a new one has none."""
        machine = self._get_entry().subentries.get(self._machine_id)
        return {} if machine is None else machine.data

    def _show(
        self,
        step: str,
        user_input: Mapping[str, Any] | None,
        mistakes: Mistakes,
        before: Mapping[str, Any],
    ) -> SubentryFlowResult:
        entry = self._get_entry()
        if user_input is None:
            values: Mapping[str, Any] = before or NEW
        else:
            values = flatten(user_input, SECTIONS)
        return self.async_show_form(
            step_id=step,
            data_schema=form(
                {
                    **machine_fields(
                        self.hass,
                        Claims(self.hass, entry, self._machine_id),
                        values,
                        before,
                        gate_names(entry),
                        new=step == "user",
                    ),
                    **rehearse_fields(self.hass),
                },
                values,
                SECTIONS,
                mistakes.places,
            ),
            errors=mistakes.errors,
            description_placeholders={
                "name": before.get(CONF_NAME, ""),
                "time_to_air": self._time_to_air(),
                **need_placeholders(self.hass, self._stored()),
                **mistakes.placeholders,
            },
        )
