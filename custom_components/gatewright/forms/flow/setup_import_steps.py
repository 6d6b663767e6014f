"""Adds a system from a set-up file, instead of asking for it page by page."""

from typing import Any, Final, override

from homeassistant.config_entries import (
    ConfigFlow,
    ConfigFlowResult,
    ConfigSubentryDataWithId,
)

from ...core.setup_file.document import SetupFile
from ...features.monitor_only.mode import is_monitor_only
from ...features.setup_file.importing import put_plan
from ...features.setup_file.review import SetupReview, candidate, review
from ...features.setup_file.texts import review_lines
from ...texts.texts import Texts
from ..entity_usage import EntityUsage
from ..field import FormContext
from ..form import Form, Group
from ..form_errors import FormErrors
from ..kinds import BooleanField
from .monitor_only import CONF_MONITOR_ONLY

REVIEW: Final = Form(
    Group(
        "review",
        BooleanField(CONF_MONITOR_ONLY, required=True, new=True),
        collapsed=False,
        errors=("setup_faults",),
    )
)


class SetupImportSteps(ConfigFlow):
    """Shows what a set-up file would add, and adds it once that was read."""

    _uploaded: SetupFile
    _added: SetupReview | None = None

    async def async_step_setup_review(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Show what importing would do, and import once that was read."""
        found = review(self.hass, self._uploaded, None, {})
        if user_input is not None and not found.faults:
            return await self._add(found, watch=user_input[CONF_MONITOR_ONLY])
        context = REVIEW.begun(
            FormContext(hass=self.hass, claims=EntityUsage(self.hass))
        )
        mistakes = FormErrors()
        if found.faults:
            mistakes.add("base", "setup_faults")
        shown = REVIEW.show(context, user_input, mistakes)
        shown["description_placeholders"] |= {
            "system": found.setup.name,
            "changes": review_lines(await Texts.load(self.hass), found),
        }
        return self.async_show_form(step_id="setup_review", **shown, last_step=True)

    async def _add(self, found: SetupReview, *, watch: bool) -> ConfigFlowResult:
        made = candidate(self.hass, found, monitor_only=watch)
        # Nobody else has this collector: that would be a fault.
        await self.async_set_unique_id(made.unique_id, raise_on_progress=False)
        self._added = found
        return self.async_create_entry(
            title=made.title,
            # The browser is sent all of it, so it has to be plain.
            data=dict(made.data),
            description="monitor_only" if is_monitor_only(made.data) else None,
            description_placeholders={"power": ""},
            subentries=[
                ConfigSubentryDataWithId(
                    subentry_id=part.subentry_id,
                    subentry_type=part.subentry_type,
                    title=part.title,
                    data=dict(part.data),
                    unique_id=None,
                )
                for part in made.subentries.values()
            ],
        )

    @override
    async def async_on_create_entry(self, result: ConfigFlowResult) -> ConfigFlowResult:
        if self._added is not None:
            await put_plan(self.hass, result["result"], self._added.setup.plan)
        return await super().async_on_create_entry(result)
