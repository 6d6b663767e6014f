"""Takes a set-up file that was uploaded in a form."""

from dataclasses import dataclass
from typing import Any, override

from homeassistant.components.file_upload import process_uploaded_file
from homeassistant.core import HomeAssistant
from homeassistant.helpers.selector import FileSelector, FileSelectorConfig, Selector

from ...core.plan.fields import UnreadablePlanError
from ...core.setup_file.document import SetupFile
from ...core.setup_file.reading import read_setup_text
from ...features.setup_file.texts import refusals
from ...texts.texts import Texts
from ..field import Field, FormContext, Values


class UploadError(Exception):
    """Raised for a file that holds no set-up: a code to translate, and what is wrong."""

    def __init__(self, code: str, detail: str = "") -> None:
        """Say what is wrong; `detail` fills the text's placeholder `{code}`."""
        super().__init__(code)
        self.code = code
        self.detail = detail


@dataclass(frozen=True)
class SetupFileField(Field):
    """A set-up file to upload; nothing of it is stored as the field's value."""

    stored: bool = False

    faults = ("no_setup", "no_file")

    @override
    def selector(self, context: FormContext, values: Values) -> Selector[Any]:
        return setup_file_selector()


def setup_file_selector() -> FileSelector:
    """Return what takes a set-up file."""
    return FileSelector(FileSelectorConfig(accept=".json,application/json"))


async def read_upload(hass: HomeAssistant, file_id: str) -> SetupFile:
    """Return the set-up in an uploaded file, which is gone afterwards.

    Raises `UploadError`.
    """
    try:
        text = await hass.async_add_executor_job(_text_of, hass, file_id)
        return read_setup_text(text)
    except UnreadablePlanError as err:
        texts = await Texts.load(hass)
        reasons = " ".join(row["text"] for row in refusals(texts, err))
        raise UploadError("no_setup", reasons) from err
    except (OSError, ValueError) as err:
        raise UploadError("no_file") from err


def _text_of(hass: HomeAssistant, file_id: str) -> str:
    """Return the text of an uploaded file; raises `OSError` or `ValueError`."""
    with process_uploaded_file(hass, file_id) as path:
        return path.read_text("utf-8")
