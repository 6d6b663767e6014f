"""The form of a gate, and the steps for adding and changing one."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from homeassistant.config_entries import (
    ConfigSubentry,
    ConfigSubentryFlow,
    SubentryFlowResult,
)
from homeassistant.const import CONF_NAME
from homeassistant.core import HomeAssistant, split_entity_id
from homeassistant.helpers.selector import BooleanSelector, TextSelector
import voluptuous as vol

from ..const import (
    CONF_ACTUATOR,
    CONF_ACTUATOR_SORT,
    CONF_GATE_KIND,
    CONF_INVERTED,
    CONF_OPEN_FROM,
    CONF_OPEN_SENSOR,
    CONF_REST,
    CONF_SHUT_SENSOR,
    CONF_TRAVEL,
    SUBENTRY_GATE,
)
from ..entities import to_entity_id, to_stored
from ..shop.kinds import TRAVEL_DEFAULTS, ActuatorSort
from ..shop.plan import Gate, GateKind, Rest, gates_of
from ..suggestions.measured import measured_strokes
from .claims import Claims
from .fields import (
    Fields,
    choice_field,
    chosen_in,
    flatten,
    form,
    machine_names,
    number_field,
    number_of,
    parts_field,
)
from .mistakes import Mistakes
from .names import gate_name, take_name, taken_names
from .new_gate import CONF_USERS, add_gate, machines_lacking, read_users
from .parts import NEW_PART, machine_parts
from .picks import GATE_ACTUATOR, GATE_POSITION, pick_field, take
from .place import PLACE, place_fields, place_values, read_place
from .readings import INPUT_BOOLEAN

SECTIONS = {
    "movement": (
        CONF_ACTUATOR_SORT,
        CONF_INVERTED,
        CONF_TRAVEL,
        CONF_OPEN_FROM,
        CONF_REST,
    ),
    "place": PLACE,
}

_PICKS = {
    CONF_ACTUATOR: GATE_ACTUATOR,
    CONF_OPEN_SENSOR: GATE_POSITION,
    CONF_SHUT_SENSOR: GATE_POSITION,
}
_USUAL = Gate(gate_id="", name="")
ON_OFF = ("switch", INPUT_BOOLEAN)

NEW = {
    CONF_GATE_KIND: GateKind.POWERED,
    CONF_ACTUATOR_SORT: ActuatorSort.OTHER,
    CONF_INVERTED: False,
    CONF_REST: _USUAL.rest,
}
"""What the form of a new gate shows."""


def position_fields(
    hass: HomeAssistant, claims: Claims, values: Mapping[str, Any]
) -> Fields:
    """Return the fields for the sensors at both ends of a gate's stroke."""
    return {
        vol.Optional(field): pick_field(hass, GATE_POSITION, claims, values, field)
        for field in (CONF_OPEN_SENSOR, CONF_SHUT_SENSOR)
    }


def gate_fields(
    hass: HomeAssistant, claims: Claims, values: Mapping[str, Any], *, new: bool
) -> Fields:
    """Return the fields of a gate's form; a new gate can go without a name."""
    return {
        (vol.Optional if new else vol.Required)(CONF_NAME): TextSelector(),
        vol.Required(CONF_GATE_KIND): choice_field(CONF_GATE_KIND, GateKind),
        vol.Optional(CONF_ACTUATOR): pick_field(
            hass, GATE_ACTUATOR, claims, values, CONF_ACTUATOR
        ),
        **position_fields(hass, claims, values),
        vol.Optional(CONF_ACTUATOR_SORT): choice_field(
            CONF_ACTUATOR_SORT, ActuatorSort
        ),
        vol.Required(CONF_INVERTED): BooleanSelector(),
        vol.Optional(CONF_TRAVEL): number_field(CONF_TRAVEL),
        vol.Optional(CONF_OPEN_FROM): number_field(CONF_OPEN_FROM),
        vol.Required(CONF_REST): choice_field(CONF_REST, Rest),
    }


def values_of(
    hass: HomeAssistant, title: str, data: Mapping[str, Any]
) -> dict[str, Any]:
    """Return what a form shows for a stored gate."""
    return {
        CONF_ACTUATOR_SORT: ActuatorSort.OTHER,
        **data,
        CONF_NAME: title,
        **{field: to_entity_id(hass, data.get(field, "")) for field in _PICKS},
    }


def read_gate(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    claims: Claims,
    mistakes: Mistakes,
    before: Mapping[str, Any],
    taken: Mapping[str, str],
) -> tuple[str, dict[str, Any]]:
    """Judge a typed gate; return its name and the data to store.

    `before` is what the form showed at first, empty for a new gate; `taken` are the
    names that are taken.
    """
    picked: dict[str, str] = {}
    for field, pick in _PICKS.items():
        kept = chosen_in(before, field)
        for entity_id in take(
            hass, pick, claims, mistakes, field, typed.get(field), kept
        ):
            picked[field] = entity_id

    name = typed.get(CONF_NAME)
    if not name and not before and picked:
        name = gate_name(hass, next(iter(picked.values())))
    name = take_name(name, taken, mistakes, CONF_NAME)

    actuator = picked.get(CONF_ACTUATOR)
    kind = GateKind(typed[CONF_GATE_KIND])
    match kind:
        case GateKind.POWERED if actuator is None:
            mistakes.add(CONF_ACTUATOR, "actuator_missing")
        case GateKind.HAND | GateKind.FIXED if actuator is not None:
            mistakes.add(CONF_ACTUATOR, "actuator_unused")
    if kind is GateKind.HAND and not picked.keys() & {
        CONF_OPEN_SENSOR,
        CONF_SHUT_SENSOR,
    }:
        mistakes.add(CONF_OPEN_SENSOR, "hand_without_sensor")
    if kind is GateKind.FIXED:
        for field in (CONF_OPEN_SENSOR, CONF_SHUT_SENSOR):
            if field in picked:
                mistakes.add(field, "sensor_unused")
    inverted = typed.get(CONF_INVERTED, False)
    if inverted and actuator and split_entity_id(actuator)[0] not in ON_OFF:
        mistakes.add(CONF_INVERTED, "inverted_not_switch")

    sort = ActuatorSort.OTHER
    if kind is GateKind.POWERED:
        sort = ActuatorSort(typed.get(CONF_ACTUATOR_SORT, sort))
    followed = _follow_sort(typed, before, sort)
    usual = TRAVEL_DEFAULTS[sort]
    far: dict[str, float] = {}
    if typed.get(CONF_OPEN_FROM) is not None:
        far[CONF_OPEN_FROM] = number_of(typed, CONF_OPEN_FROM, mistakes, 0)
    return name, far | {
        CONF_GATE_KIND: kind.value,
        # Where none is stored, as by earlier versions, it is another.
        **({} if sort is ActuatorSort.OTHER else {CONF_ACTUATOR_SORT: sort.value}),
        **{field: to_stored(hass, entity_id) for field, entity_id in picked.items()},
        CONF_INVERTED: inverted,
        CONF_TRAVEL: number_of(followed, CONF_TRAVEL, mistakes, usual),
        CONF_REST: Rest(typed.get(CONF_REST, _USUAL.rest)).value,
    }


def _follow_sort(
    typed: Mapping[str, Any], before: Mapping[str, Any], sort: ActuatorSort
) -> dict[str, Any]:
    """Forget a travel time that was usual for the sort before and was left so."""
    followed = dict(typed)
    was = ActuatorSort(before.get(CONF_ACTUATOR_SORT, sort))
    left = typed.get(CONF_TRAVEL) == before.get(CONF_TRAVEL) == TRAVEL_DEFAULTS[was]
    if was is not sort and left:
        followed[CONF_TRAVEL] = None
    return followed


class GateFlow(ConfigSubentryFlow):
    """Add or change a gate."""

    async def async_step_user(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Add a gate."""
        mistakes = Mistakes(SECTIONS)
        if user_input is not None:
            name, data = self._read(user_input, mistakes, {})
            users = read_users(self._get_entry(), user_input, mistakes)
            if not mistakes:
                if users:
                    return self._add_for(users, name, data)
                return self.async_create_entry(title=name, data=data)
        lacking = machines_lacking(self._get_entry())
        new = NEW | place_values(self.hass, self._get_entry(), {})
        return self._show("user", user_input, mistakes, new | {CONF_USERS: lacking})

    def _add_for(
        self, users: list[str], name: str, data: dict[str, Any]
    ) -> SubentryFlowResult:
        """Add a gate to the system and to the machines that use it."""
        entry = self._get_entry()
        gate = ConfigSubentry(
            data=MappingProxyType(data),
            subentry_type=SUBENTRY_GATE,
            title=name,
            unique_id=None,
        )
        add_gate(self.hass, entry, gate, users)
        titles = [entry.subentries[machine].title for machine in users]
        # Home Assistant cannot be told the id of a gate that it creates itself.
        return self.async_abort(
            reason="gate_added",
            description_placeholders={"name": name, "machines": ", ".join(titles)},
        )

    async def async_step_reconfigure(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Change a gate."""
        gate = self._get_reconfigure_subentry()
        before = {
            **values_of(self.hass, gate.title, gate.data),
            **place_values(self.hass, self._get_entry(), gate.data),
        }
        mistakes = Mistakes(SECTIONS)
        if user_input is not None:
            name, data = self._read(user_input, mistakes, before, gate.subentry_id)
            if not mistakes:
                kept = {
                    key: value
                    for key, value in gate.data.items()
                    if key not in OWN_KEYS
                }
                return self.async_update_and_abort(
                    self._get_entry(), gate, title=name, data=kept | data
                )
        return self._show("reconfigure", user_input, mistakes, before, gate.subentry_id)

    def _read(
        self,
        user_input: Mapping[str, Any],
        mistakes: Mistakes,
        before: Mapping[str, Any],
        gate_id: str = "",
    ) -> tuple[str, dict[str, Any]]:
        entry = self._get_entry()
        typed = flatten(user_input, SECTIONS)
        name, data = read_gate(
            self.hass,
            typed,
            Claims(self.hass, entry, gate_id or NEW_PART),
            mistakes,
            before,
            taken_names(self.hass, entry.entry_id, gate_id),
        )
        shown = before or place_values(self.hass, entry, {})
        place = read_place(self.hass, entry, typed, mistakes, shown, gate_id)
        return name, data | place

    def _show(
        self,
        step: str,
        user_input: Mapping[str, Any] | None,
        mistakes: Mistakes,
        before: Mapping[str, Any],
        gate_id: str = "",
    ) -> SubentryFlowResult:
        entry = self._get_entry()
        claims = Claims(self.hass, entry, gate_id or NEW_PART)
        values = before if user_input is None else flatten(user_input, SECTIONS)
        fields = gate_fields(self.hass, claims, before, new=step == "user")
        fields |= place_fields(self.hass, entry)
        if step == "user" and (machines := machine_names(entry)):
            fields[vol.Optional(CONF_USERS)] = parts_field(machines)
        users = [
            entry.subentries[machine_id].title
            for machine_id, machine in machine_parts(entry).items()
            if gate_id in gates_of(machine)
        ]
        return self.async_show_form(
            step_id=step,
            data_schema=form(fields, values, SECTIONS, mistakes.places),
            errors=mistakes.errors,
            description_placeholders={
                "name": before.get(CONF_NAME, ""),
                "machines": ", ".join(users) or "–",
                **measured_strokes(self.hass, entry, gate_id),
                **mistakes.placeholders,
            },
        )


OWN_KEYS = {CONF_GATE_KIND, *_PICKS, *SECTIONS["movement"], *PLACE}
"""The keys of the stored data that the form decides; others stay as they are."""
