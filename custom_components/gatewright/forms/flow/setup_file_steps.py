"""The pages of the set-up file: download it, check another one, import it."""

from abc import abstractmethod
from typing import Any, Final

from homeassistant.config_entries import (
    ConfigEntryState,
    ConfigFlowResult,
    OptionsFlow,
)
import voluptuous as vol

from ...core.setup_file.document import SetupFile
from ...features.setup_file.download import download
from ...features.setup_file.importing import import_setup
from ...features.setup_file.review import review
from ...features.setup_file.texts import review_lines
from ...texts.texts import Texts
from .setup_upload import UploadError, read_upload, setup_file_selector

CONF_FILE: Final = "file"


class SetupFileSteps(OptionsFlow):
    """Export a system's set-up, or import one into it."""

    _uploaded: SetupFile

    @abstractmethod
    async def stored(self) -> ConfigFlowResult:
        """Continue after something was stored, or nothing had to be."""

    async def async_step_setup_file(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Offer the file, and take another one."""
        if self.config_entry.state is not ConfigEntryState.LOADED:
            return self.async_abort(reason="not_loaded")
        errors: dict[str, str] = {}
        reasons = ""
        texts = await Texts.load(self.hass)
        if user_input is not None:
            if CONF_FILE not in user_input:
                return await self.stored()
            try:
                self._uploaded = await read_upload(self.hass, user_input[CONF_FILE])
            except UploadError as err:
                errors[CONF_FILE], reasons = err.code, err.detail
            else:
                return await self.async_step_setup_review()
        return self.async_show_form(
            step_id="setup_file",
            data_schema=vol.Schema({vol.Optional(CONF_FILE): setup_file_selector()}),
            errors=errors,
            description_placeholders={
                "download": self._link(texts),
                "no_setup": reasons,
            },
            last_step=False,
        )

    async def async_step_setup_review(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Show what importing would do, and import once that was read."""
        if self.config_entry.state is not ConfigEntryState.LOADED:
            return self.async_abort(reason="not_loaded")
        found = review(self.hass, self._uploaded, self.config_entry, {})
        if user_input is not None and not found.faults:
            await import_setup(self.hass, found)
            return await self.stored()
        return self.async_show_form(
            step_id="setup_review",
            data_schema=vol.Schema({}),
            errors={"base": "setup_faults"} if found.faults else {},
            description_placeholders={
                "changes": review_lines(await Texts.load(self.hass), found)
            },
            last_step=True,
        )

    def _link(self, texts: Texts) -> str:
        """Return the download link, or its text where there's no server."""
        words = texts("setup_change", "download")
        address = download(self.hass, self.config_entry.entry_id)
        if address is None:
            return words
        # Without a target the frontend would treat it as one of its own pages.
        return f'<a href="{address}" target="_blank">{words}</a>'
