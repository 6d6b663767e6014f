"""A plan's problems and changes, in a user's language."""

from collections.abc import Iterable, Mapping
from typing import Any, Final, Self

from homeassistant.core import HomeAssistant
from homeassistant.helpers.translation import async_get_translations

from ...const import DOMAIN
from ...core.plan.changes import (
    DUCT_ADDED,
    GATE_MOVED,
    FieldChange,
    PlanChange,
    StoredParts,
)
from ...core.plan.checks import PlanProblem
from ...core.plan.document import COLLECTOR, ShopPlan
from ...core.plan.fields import PlanRefusal
from ...core.plan.stored import (
    DIAMETER,
    DROP_DIAMETER,
    DROP_LENGTH,
    DUCT,
    ELBOWS,
    ENTRY_ANGLE,
    HOOD,
    HOSE_DIAMETER,
    HOSE_LENGTH,
    HOSE_STATE,
    INTO,
    LENGTH,
    MATERIAL,
    PORT,
    SEAL,
    VERTICAL,
)
from ...core.plan.tree import DuctTree
from ...texts.texts import Texts
from ..airflow.data import Data
from ..airflow.units import units_of

_PROBLEM: Final = "plan_problem"
_CHANGE: Final = "plan_change"
_WIDTHS: Final = (DIAMETER, PORT, HOSE_DIAMETER, DROP_DIAMETER)
_LENGTHS: Final = (LENGTH, HOSE_LENGTH, DROP_LENGTH)
_USUAL: Final = {SEAL: "airtight", HOSE_STATE: "stretched"}
"""The default where nothing is stored about a gate's location."""
_CHOICES: Final = (MATERIAL, HOOD, SEAL, HOSE_STATE)


class PlanTexts(Texts):
    """The texts about plans in one language, with figures in Home Assistant's units."""

    def __init__(self, texts: Mapping[str, str], hass: HomeAssistant) -> None:
        super().__init__(texts)
        self._units = units_of(hass)

    @classmethod
    async def read(cls, hass: HomeAssistant, language: str | None) -> Self:
        """Load the texts in a language, by default Home Assistant's."""
        language = language or hass.config.language
        texts = await async_get_translations(hass, language, "selector", [DOMAIN])
        return cls(texts, hass)

    # What is wrong -----------------------------------------------------------------

    def refusal(self, found: PlanRefusal) -> Data:
        """Return why a file is no plan."""
        values = dict(found.values)
        wanted = values.get("wanted")
        if wanted is not None:
            values["wanted"] = self("plan_type", wanted)
        return {
            "code": found.code,
            "severity": "refused",
            "path": found.path,
            "values": dict(found.values),
            "text": self(_PROBLEM, found.code, path=found.path, **values),
        }

    def problems(self, found: Iterable[PlanProblem], plan: ShopPlan) -> list[Data]:
        """Return a drawing's problems."""
        names = self.names(plan)
        return [self._problem(problem, names) for problem in found]

    def names(self, plan: ShopPlan) -> dict[str, str]:
        """Return the name of everything drawn, by id."""
        found: dict[str, str] = {}
        for item in plan.items:
            unnamed = COLLECTOR if item.type == COLLECTOR else "unnamed_item"
            found[item.id] = item.name or self(_PROBLEM, unnamed)
        for duct in plan.ducts:
            found[duct.id] = duct.name or self(_PROBLEM, "unnamed_duct")
        for gate in plan.gates:
            found[gate.id] = gate.name or self(_PROBLEM, "unnamed_gate")
        return found

    def _problem(self, problem: PlanProblem, names: Mapping[str, str]) -> Data:
        values = {
            "name": names.get(problem.part, problem.part),
            "other": names.get(problem.other, problem.other),
        }
        if problem.distance is not None:
            values["distance"] = self._units.width.text(problem.distance)
        at: Data = {"kind": problem.kind, "id": problem.part}
        if problem.point is not None:
            at["point"] = problem.point
        return {
            "code": problem.code,
            "severity": problem.severity,
            "at": at,
            **({"other": problem.other} if problem.other else {}),
            "values": values,
            "text": self(_PROBLEM, problem.code, **values),
        }

    def impossible(self, at: Data, plan: ShopPlan) -> str:
        """Return that a part makes the figures impossible."""
        name = self.names(plan).get(at["id"], self(_PROBLEM, COLLECTOR))
        return self(_PROBLEM, "impossible", name=name)

    # What changes ------------------------------------------------------------------

    def changes(
        self,
        found: Iterable[PlanChange],
        tree: DuctTree,
        stored: StoredParts,
        system: str,
    ) -> list[Data]:
        """Return the changes from applying a plan; `system` is the collector's name."""
        names = {**stored.names, **tree.names}
        for key in tree.names:
            names[key] = names[key] or self(_PROBLEM, "unnamed_duct")

        def described(field: FieldChange, usual: Mapping[str, str]) -> Data:
            before, after = (
                self._value(field.field, value or usual.get(field.field), names, system)
                for value in (field.before, field.after)
            )
            label = self("plan_field", field.field)
            return {
                "field": field.field,
                "before": field.before,
                "after": field.after,
                "text": self(_CHANGE, "field", field=label, before=before, after=after),
            }

        rows: list[Data] = []
        for change in found:
            added = change.code == DUCT_ADDED
            data = tree.ducts.get(change.key, {})
            values = {
                "name": change.name or names.get(change.key, ""),
                DUCT: names.get(change.key, ""),
            }
            if added:
                values |= {
                    key: self._value(key, data.get(key), names, system)
                    for key in (DIAMETER, LENGTH, INTO)
                }
            rows.append(
                {
                    "code": change.code,
                    "part": change.part,
                    "drawn": change.drawn,
                    "name": change.name,
                    "fields": [
                        described(field, _USUAL if change.code == GATE_MOVED else {})
                        for field in change.fields
                    ],
                    "text": self(_CHANGE, change.code, **values),
                }
            )
        return rows

    def new_name(self, number: int) -> str:
        """Return the name of a duct that nobody named."""
        return self(_CHANGE, "new_duct", number=str(number))

    def _value(
        self, field: str, value: Any, names: Mapping[str, str], system: str
    ) -> str:
        if field == INTO and value is None:
            return system
        if value is None or value == []:
            return self(_CHANGE, "nothing")
        if field in (INTO, DUCT):
            return names.get(value, self(_CHANGE, "nothing"))
        if field in _WIDTHS:
            return self._units.width.text(value)
        if field in _LENGTHS:
            unit = self._units.length
            return f"{self.decimal(f'{value / unit.size:.2f}')} {unit.sign}"
        if field in _CHOICES:
            return self(field, value)
        if field == ENTRY_ANGLE:
            return f"{value:g}°"
        if field == VERTICAL:
            return self(_CHANGE, "yes" if value else "no")
        if field == ELBOWS:
            return self.join(
                self(
                    _CHANGE,
                    "elbows",
                    count=f"{row['count']}",
                    angle=f"{row['angle']:g}",
                )
                for row in value
            )
        return str(value)
