"""The form of a duct, and the steps for adding and changing one."""

from collections.abc import Mapping
from typing import Any, override

from homeassistant.config_entries import (
    ConfigEntry,
    ConfigSubentryFlow,
    SubentryFlowResult,
)
from homeassistant.const import CONF_NAME
from homeassistant.core import HomeAssistant
from homeassistant.helpers.selector import (
    BooleanSelector,
    SelectOptionDict,
    SelectSelector,
    SelectSelectorConfig,
    SelectSelectorMode,
    TextSelector,
)
import voluptuous as vol

from ..air.ducts import USUAL_MATERIAL, into_of
from ..airflow import MATERIALS
from ..const import (
    CONF_DIAMETER,
    CONF_DUCT,
    CONF_DUCT_MATERIAL,
    CONF_ELBOWS,
    CONF_ENTRY_ANGLE,
    CONF_INTO,
    CONF_LENGTH,
    CONF_VERTICAL,
    SUBENTRY_DUCT,
    SUBENTRY_GATE,
)
from .fields import (
    CONF_ELBOW_ANGLE,
    CONF_ELBOW_CONSTRUCTION,
    CONF_ELBOW_COUNT,
    CONF_ELBOW_RADIUS,
    Fields,
    choice_field,
    flatten,
    form,
    number_field,
    number_of,
)
from .mistakes import Mistakes
from .names import take_name, taken_names
from .quantities import quantity_field, quantity_of, shown

SECTIONS = {
    "elbows": tuple(
        field
        for row in zip(
            CONF_ELBOW_COUNT,
            CONF_ELBOW_ANGLE,
            CONF_ELBOW_RADIUS,
            CONF_ELBOW_CONSTRUCTION,
            strict=True,
        )
        for field in row
    )
}

TO_COLLECTOR = "collector"
"""What the form calls a duct that flows straight into the collector."""

CONSTRUCTIONS = (
    "stamped",
    "five_piece",
    "four_piece",
    "three_piece",
    "pleated",
    "mitered",
)

_ANGLES = (90.0, 45.0)
_RADIUS = 1.5
_QUANTITIES = (CONF_DIAMETER, CONF_LENGTH)

NEW = {
    CONF_INTO: TO_COLLECTOR,
    CONF_DUCT_MATERIAL: USUAL_MATERIAL,
    CONF_VERTICAL: False,
    **dict.fromkeys(CONF_ELBOW_CONSTRUCTION, CONSTRUCTIONS[0]),
}
"""What the form of a new duct shows."""


def duct_choice(
    entry: ConfigEntry, *, collector: bool, but: set[str] | None = None
) -> SelectSelector:
    """Return a choice of one of a system's ducts, or of its collector as well."""
    options = [
        SelectOptionDict(value=duct.subentry_id, label=duct.title)
        for duct in entry.get_subentries_of_type(SUBENTRY_DUCT)
        if duct.subentry_id not in (but or set())
    ]
    options.sort(key=lambda option: option["label"])
    if collector:
        options.insert(0, SelectOptionDict(value=TO_COLLECTOR, label=entry.title))
    return OfferedPart(
        SelectSelectorConfig(options=options, mode=SelectSelectorMode.DROPDOWN)
    )


class OfferedPart(SelectSelector):
    """Offers parts, but takes any, so that the form can say what is wrong."""

    @override
    def __call__(self, data: Any) -> str:
        """Return the chosen part."""
        return str(data)


def upstream_of(entry: ConfigEntry, duct_id: str) -> set[str]:
    """Return a duct and all that flows through it."""
    into = into_of(entry)
    found = {duct_id}
    for duct in into:
        path = [duct]
        while (following := into.get(path[-1])) is not None:
            path.append(following)
        if duct_id in path:
            found.update(path[: path.index(duct_id)])
    return found


def values_of(hass: HomeAssistant, entry: ConfigEntry, duct_id: str) -> dict[str, Any]:
    """Return what a form shows for a stored duct."""
    duct = entry.subentries[duct_id]
    rows = duct.data[CONF_ELBOWS]
    values: dict[str, Any] = {
        CONF_NAME: duct.title,
        # One that is gone counts as the collector until another is chosen.
        CONF_INTO: into_of(entry)[duct_id] or TO_COLLECTOR,
        CONF_DUCT_MATERIAL: duct.data[CONF_DUCT_MATERIAL],
        CONF_ENTRY_ANGLE: duct.data[CONF_ENTRY_ANGLE],
        CONF_VERTICAL: duct.data.get(CONF_VERTICAL, False),
        **dict.fromkeys(CONF_ELBOW_CONSTRUCTION, CONSTRUCTIONS[0]),
        **{field: shown(hass, field, duct.data[field]) for field in _QUANTITIES},
    }
    for number, row in enumerate(rows[: len(_ANGLES)]):
        values[CONF_ELBOW_COUNT[number]] = row["count"]
        values[CONF_ELBOW_ANGLE[number]] = row["angle"]
        values[CONF_ELBOW_RADIUS[number]] = row["radius"]
        values[CONF_ELBOW_CONSTRUCTION[number]] = row["construction"]
    return values


def duct_fields(hass: HomeAssistant, entry: ConfigEntry, duct_id: str) -> Fields:
    """Return the fields of a duct's form."""
    but = upstream_of(entry, duct_id) if duct_id else set()
    fields: Fields = {
        vol.Required(CONF_NAME): TextSelector(),
        vol.Required(CONF_INTO): duct_choice(entry, collector=True, but=but),
        vol.Optional(CONF_DIAMETER): quantity_field(hass, CONF_DIAMETER),
        vol.Optional(CONF_LENGTH): quantity_field(hass, CONF_LENGTH),
        vol.Required(CONF_DUCT_MATERIAL): choice_field(CONF_DUCT_MATERIAL, MATERIALS),
        vol.Optional(CONF_ENTRY_ANGLE): number_field(CONF_ENTRY_ANGLE),
        vol.Optional(CONF_VERTICAL): BooleanSelector(),
    }
    for number, construction in enumerate(CONF_ELBOW_CONSTRUCTION):
        for names in (CONF_ELBOW_COUNT, CONF_ELBOW_ANGLE, CONF_ELBOW_RADIUS):
            fields[vol.Optional(names[number])] = number_field(names[number])
        fields[vol.Required(construction)] = choice_field(
            "elbow_construction", CONSTRUCTIONS
        )
    return fields


def read_duct(
    hass: HomeAssistant,
    entry: ConfigEntry,
    typed: Mapping[str, Any],
    mistakes: Mistakes,
    before: Mapping[str, Any],
    duct_id: str = "",
) -> tuple[str, dict[str, Any]]:
    """Judge a typed duct; return its name and the data to store.

    `before` is what the form showed at first, empty for a new duct.
    """
    taken = taken_names(hass, entry.entry_id, duct_id)
    name = take_name(typed.get(CONF_NAME), taken, mistakes, CONF_NAME)
    stored = entry.subentries[duct_id].data if duct_id else {}
    data: dict[str, Any] = {}
    into = typed[CONF_INTO]
    if into != TO_COLLECTOR:
        if into not in into_of(entry):
            mistakes.add(CONF_INTO, "unknown_duct")
        elif duct_id and into in upstream_of(entry, duct_id):
            mistakes.add(CONF_INTO, "duct_cycle", entry.subentries[into].title)
        data[CONF_INTO] = into
    if typed.get(CONF_DIAMETER) is None:
        mistakes.add(CONF_DIAMETER, "diameter_missing")
    if typed.get(CONF_LENGTH) is None:
        mistakes.add(CONF_LENGTH, "length_missing")
    for field in _QUANTITIES:
        data[field] = quantity_of(hass, typed, field, mistakes, before, stored, 0.0)
    data[CONF_DUCT_MATERIAL] = typed[CONF_DUCT_MATERIAL]
    data[CONF_ENTRY_ANGLE] = number_of(typed, CONF_ENTRY_ANGLE, mistakes, 0.0)
    if typed.get(CONF_VERTICAL):
        data[CONF_VERTICAL] = True
    data[CONF_ELBOWS] = [
        row
        for number, angle in enumerate(_ANGLES)
        if (row := _read_row(typed, mistakes, number, angle))["count"]
    ]
    # A drawn duct may have elbows of more kinds than the form shows.
    data[CONF_ELBOWS] += stored.get(CONF_ELBOWS, [])[len(_ANGLES) :]
    return name, data


def _read_row(
    typed: Mapping[str, Any], mistakes: Mistakes, number: int, angle: float
) -> dict[str, Any]:
    """Judge one row of elbows."""
    count = number_of(typed, CONF_ELBOW_COUNT[number], mistakes, 0.0)
    if count % 1:
        mistakes.add(CONF_ELBOW_COUNT[number], "elbow_parts")
    return {
        "count": int(count),
        "angle": number_of(typed, CONF_ELBOW_ANGLE[number], mistakes, angle),
        "radius": number_of(typed, CONF_ELBOW_RADIUS[number], mistakes, _RADIUS),
        "construction": typed[CONF_ELBOW_CONSTRUCTION[number]],
    }


class DuctFlow(ConfigSubentryFlow):
    """Add or change a duct."""

    async def async_step_user(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Add a duct."""
        mistakes = Mistakes(SECTIONS)
        if user_input is not None:
            name, data = self._read(user_input, mistakes, {})
            if not mistakes:
                return self.async_create_entry(title=name, data=data)
        return self._show("user", user_input, mistakes, NEW)

    async def async_step_reconfigure(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Change a duct."""
        entry = self._get_entry()
        duct = self._get_reconfigure_subentry()
        before = values_of(self.hass, entry, duct.subentry_id)
        mistakes = Mistakes(SECTIONS)
        if user_input is not None:
            name, data = self._read(user_input, mistakes, before, duct.subentry_id)
            if not mistakes:
                kept = {k: v for k, v in duct.data.items() if k not in OWN_KEYS}
                return self.async_update_and_abort(
                    entry, duct, title=name, data=kept | data
                )
        return self._show("reconfigure", user_input, mistakes, before, duct.subentry_id)

    def _read(
        self,
        user_input: Mapping[str, Any],
        mistakes: Mistakes,
        before: Mapping[str, Any],
        duct_id: str = "",
    ) -> tuple[str, dict[str, Any]]:
        typed = flatten(user_input, SECTIONS)
        return read_duct(self.hass, self._get_entry(), typed, mistakes, before, duct_id)

    def _show(
        self,
        step: str,
        user_input: Mapping[str, Any] | None,
        mistakes: Mistakes,
        before: Mapping[str, Any],
        duct_id: str = "",
    ) -> SubentryFlowResult:
        entry = self._get_entry()
        values = before if user_input is None else flatten(user_input, SECTIONS)
        fields = duct_fields(self.hass, entry, duct_id)
        return self.async_show_form(
            step_id=step,
            data_schema=form(fields, values, SECTIONS, mistakes.places),
            errors=mistakes.errors,
            description_placeholders={
                "name": before.get(CONF_NAME, ""),
                "on_it": ", ".join(self._on_it(duct_id)) or "–",
                **mistakes.placeholders,
            },
        )

    def _on_it(self, duct_id: str) -> list[str]:
        """Return the names of what flows into a duct."""
        return sorted(
            part.title
            for part in self._get_entry().subentries.values()
            if duct_id
            and (
                (
                    part.subentry_type == SUBENTRY_DUCT
                    and part.data.get(CONF_INTO) == duct_id
                )
                or (
                    part.subentry_type == SUBENTRY_GATE
                    and part.data.get(CONF_DUCT) == duct_id
                )
            )
        )


OWN_KEYS = {
    CONF_INTO,
    CONF_DUCT_MATERIAL,
    CONF_ENTRY_ANGLE,
    CONF_ELBOWS,
    CONF_VERTICAL,
    *_QUANTITIES,
}
"""The keys of the stored data that the form decides; others stay as they are."""
