"""The form of a duct."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, ClassVar, override

from homeassistant.config_entries import ConfigEntry, SubentryFlowResult
from homeassistant.helpers.selector import (
    SelectOptionDict,
    Selector,
    SelectSelectorConfig,
    SelectSelectorMode,
)

from ... import const
from ...const import SUBENTRY_DUCT
from ...core.airflow import MATERIALS
from ...features.airflow.ducts import USUAL_MATERIAL, into_of
from ..field import Answers, Field, FormContext, Values
from ..form import Form, Group
from ..kinds import ChoiceField, NameField, SettingField
from ..numbers import RUN, WIDTH, FieldLimits, NumberField, QuantityField
from ..selectors import OfferedPart, part_options
from .part_steps import PartFlow, names_of

TO_COLLECTOR = "collector"
"""The form's value for a duct that flows straight into the collector."""

CONSTRUCTIONS = (
    "stamped",
    "five_piece",
    "four_piece",
    "three_piece",
    "pleated",
    "mitered",
)

ENTRY_ANGLE = FieldLimits(0, 90, "°")

_ROWS = {"elbows_1": 90.0, "elbows_2": 45.0}
"""The form's rows of elbows, and their default angle in degrees."""
_FIGURES = ("angle", "radius", "construction")


class DuctField(Field):
    """One of a system's ducts, for whatever is on it."""

    faults: ClassVar[tuple[str, ...]] = ("unknown_duct",)

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        options = part_options(self.ducts(context))
        return OfferedPart(
            SelectSelectorConfig(
                options=[*self.also(context), *options],
                mode=SelectSelectorMode.DROPDOWN,
            )
        )

    def ducts(self, context: FormContext) -> Mapping[str, str]:
        """Return the names of the ducts to choose from by their ids."""
        return names_of(context.system, SUBENTRY_DUCT)

    def also(self, context: FormContext) -> list[SelectOptionDict]:
        """Return the other choices."""
        return []

    @override
    def load(self, context: FormContext) -> str | None:
        duct: str | None = super().load(context)
        return duct if duct in self.ducts(context) else None


class _IntoField(DuctField):
    """What a duct flows into: the collector, or a duct that isn't upstream of it."""

    faults = (
        "unknown_duct",
        "duct_cycle",
    )

    @override
    def ducts(self, context: FormContext) -> Mapping[str, str]:
        but = upstream_of(context.system, context.part_id) if context.part_id else ()
        ducts = super().ducts(context)
        return {duct: name for duct, name in ducts.items() if duct not in but}

    @override
    def also(self, context: FormContext) -> list[SelectOptionDict]:
        return [SelectOptionDict(value=TO_COLLECTOR, label=context.system.title)]

    @override
    def load(self, context: FormContext) -> str:
        # A missing duct counts as the collector until another is chosen.
        return into_of(context.system)[context.part_id] or TO_COLLECTOR

    @override
    def dump(self, answers: Answers) -> str | None:
        entry, duct_id = answers.context.system, answers.context.part_id
        into: str = answers.typed[self.key]
        if into == TO_COLLECTOR:
            return None
        if into not in into_of(entry):
            answers.refuse(self.key, "unknown_duct")
        elif duct_id and into in upstream_of(entry, duct_id):
            answers.refuse(self.key, "duct_cycle", entry.subentries[into].title)
        return into


class _NeededField(QuantityField):
    """A quantity that every duct must have."""

    @property
    @override
    def errors(self) -> set[str]:
        return {*super().errors, f"{self.key}_missing"}

    @override
    def dump(self, answers: Answers) -> float | None:
        if answers.typed.get(self.key) is None:
            answers.refuse(self.key, f"{self.key}_missing")
        return super().dump(answers)


def _in_row(key: str, context: FormContext) -> Any:
    """Return the stored row of elbows, if it exists."""
    row, _, name = key.rpartition("_")
    number, rows = list(_ROWS).index(row), context.stored.get(const.CONF_ELBOWS, ())
    return rows[number][name] if number < len(rows) else None


class _ElbowField(NumberField):
    """One figure of a row of elbows."""

    @override
    def load(self, context: FormContext) -> Any:
        return _in_row(self.key, context)


class _ConstructionField(ChoiceField):
    """How the elbows of a row are made."""

    @override
    def load(self, context: FormContext) -> Any:
        return _in_row(self.key, context) or self.new


def _elbows(row: str, angle: float) -> tuple[Field, ...]:
    return (
        _ElbowField(f"{row}_count", FieldLimits(0, 20, None), usual=0.0, stored=False),
        _ElbowField(
            f"{row}_angle", FieldLimits(1, 180, "°"), usual=angle, stored=False
        ),
        _ElbowField(
            f"{row}_radius", FieldLimits(0.5, 5, "× D"), usual=1.5, stored=False
        ),
        _ConstructionField(
            f"{row}_construction",
            CONSTRUCTIONS,
            texts="elbow_construction",
            required=True,
            new=CONSTRUCTIONS[0],
            stored=False,
        ),
    )


def _read_elbows(answers: Answers) -> None:
    """Validate the rows of elbows, and keep those with any."""
    answers.data[const.CONF_ELBOWS] = []
    for row in _ROWS:
        count = answers.dump(f"{row}_count")
        if count % 1:
            answers.refuse(f"{row}_count", "elbow_parts")
        figures = {name: answers.dump(f"{row}_{name}") for name in _FIGURES}
        if count >= 1:
            answers.data[const.CONF_ELBOWS].append({"count": int(count)} | figures)
    # A drawn duct may have more kinds of elbows than the form has rows.
    more = answers.context.stored.get(const.CONF_ELBOWS, [])[len(_ROWS) :]
    answers.data[const.CONF_ELBOWS] += more


def upstream_of(entry: ConfigEntry[Any], duct_id: str) -> set[str]:
    """Return a duct and everything upstream of it."""
    into = into_of(entry)
    found = {duct_id}
    for duct in into:
        path = [duct]
        while (following := into.get(path[-1])) is not None:
            path.append(following)
        if duct_id in path:
            found.update(path[: path.index(duct_id)])
    return found


def _on_it(context: FormContext) -> dict[str, str]:
    """Return the names of what flows into a duct."""
    flows = ((SUBENTRY_DUCT, const.CONF_INTO), (const.SUBENTRY_GATE, const.CONF_DUCT))
    titles = sorted(
        part.title
        for part in context.system.subentries.values()
        if context.part_id
        and any(
            part.subentry_type == kind and part.data.get(key) == context.part_id
            for kind, key in flows
        )
    )
    return {"on_it": ", ".join(titles) or "–"}


DUCT = Form(
    Group(
        "duct",
        NameField(required=True),
        _IntoField(const.CONF_INTO, required=True, new=TO_COLLECTOR),
        _NeededField(const.CONF_DIAMETER, WIDTH, usual=0.0),
        _NeededField(const.CONF_LENGTH, RUN, usual=0.0),
        ChoiceField(
            const.CONF_DUCT_MATERIAL, MATERIALS, required=True, new=USUAL_MATERIAL
        ),
        NumberField(const.CONF_ENTRY_ANGLE, ENTRY_ANGLE, usual=0.0),
        SettingField(const.CONF_VERTICAL, new=False),
        collapsed=False,
        about=_on_it,
    ),
    Group(
        "elbows",
        *(field for row, angle in _ROWS.items() for field in _elbows(row, angle)),
        read=_read_elbows,
        errors=("elbow_parts",),
        owns=(const.CONF_ELBOWS,),
    ),
)


_DUCT, _ELBOWS = DUCT.groups
_BASICS = tuple(field.key for field in _DUCT.fields)

DUCT_PAGES: Mapping[str, Form] = {
    "user": DUCT.page("user", *_BASICS),
    "basics": DUCT.page("basics", *_BASICS, about=_on_it),
    "elbows": DUCT.page(
        "elbows",
        *(field.key for field in _ELBOWS.fields),
        errors=_ELBOWS.errors,
        owns=_ELBOWS.owned,
    ),
}
"""The form's pages, by their steps; at most ten fields each."""


class DuctFlow(PartFlow):
    """Add a duct and then its elbows, or change either."""

    form = DUCT
    pages = DUCT_PAGES

    _typed: Values = MappingProxyType({})

    async def async_step_elbows(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Add or change a duct's elbows."""
        if user_input is not None:
            user_input = {**self._typed, **user_input}
        return await self.answer("elbows", user_input)

    @override
    async def take(
        self, step: str, answers: Answers, user_input: Values
    ) -> SubentryFlowResult:
        if step == "user":
            self._typed = user_input
            return self.show("elbows")
        return await super().take(step, answers, user_input)
