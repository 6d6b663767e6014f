"""The page of a new system about what the histories of its sensors tell."""

from typing import Any, override

from ... import const
from ...features.calibration.learning_texts import LearningTexts
from ..entity_usage import EntityUsage
from ..field import FormContext, Values
from ..form import Form, Group
from ..form_errors import FormErrors
from ..kinds import PartsField
from .setup_page import Page
from .system_draft import Draft

CONF_ACCEPTED = "accepted"


class LevelsPage(Page):
    """The results from the sensors' histories; not shown without any."""

    step = "levels"
    form = Form(Group("levels", PartsField(CONF_ACCEPTED), collapsed=False))

    def __init__(self, draft: Draft) -> None:
        super().__init__(draft)
        self._found: dict[str, dict[str, float | None]] = {}
        self.asked = False

    @override
    async def prepare(self) -> None:
        results = []
        for machine in self.draft.machines:
            if (unit := machine.data.get(const.CONF_UNIT)) is None:
                continue
            found = await self.draft.look(machine.entity_id, unit)
            results.append((machine.name, found))
            if (figures := found.figures) is not None:
                self._found[machine.part_id] = {**figures, **found.certain}
        self.asked = bool(self._found)
        words = await LearningTexts.load(self.hass)
        self.placeholders["found"] = words.overview(results)

    @override
    def values(self) -> dict[str, Any]:
        return {CONF_ACCEPTED: list(self._found)}

    @override
    def form_context(self, claims: EntityUsage) -> FormContext:
        context = super().form_context(claims)
        names = {machine.part_id: machine.name for machine in self.draft.machines}
        context.part_names = {part: names[part] for part in self._found}
        return context

    @override
    def read(self, typed: Values, mistakes: FormErrors) -> None:
        accepted = typed.get(CONF_ACCEPTED, [])
        for machine in self.draft.machines:
            if machine.part_id in accepted:
                machine.data |= self._found.get(machine.part_id, {})
