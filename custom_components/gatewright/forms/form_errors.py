"""What is wrong with a form, each mistake where it was made."""

from collections.abc import Iterable, Mapping
from typing import cast


class FormErrors:
    """The mistakes of one form, all of them at once.

    Home Assistant shows a message above the field it belongs to, but shows none for
    a field inside a section: there the message goes above the section, so its text
    has to name the field.
    """

    def __init__(self, sections: Mapping[str, Iterable[str]] | None = None) -> None:
        """Start without mistakes; `sections` tells which fields each section holds."""
        self._section_of = {
            field: section
            for section, fields in (sections or {}).items()
            for field in fields
        }
        self._codes: dict[str, list[str]] = {}
        self._details: dict[str, list[str]] = {}

    def __bool__(self) -> bool:
        """Return whether there is any mistake."""
        return bool(self._codes)

    def add(self, field: str, code: str, detail: str = "") -> None:
        """Note a mistake at a field; `detail` fills the text's placeholder `{code}`."""
        codes = self._codes.setdefault(self._section_of.get(field, field), [])
        if code not in codes:
            codes.append(code)
        details = self._details.setdefault(code, [])
        if detail and detail not in details:
            details.append(detail)

    def fresh(self) -> FormErrors:
        """Return none, but for the same form."""
        other = FormErrors()
        other._section_of = self._section_of
        return other

    def forgive(self, others: FormErrors, fields: Iterable[str]) -> None:
        """Forget the mistakes at these fields that others have there as well."""
        for place in {self._section_of.get(field, field) for field in fields}:
            known = others._codes.get(place, ())
            left = [code for code in self._codes.pop(place, ()) if code not in known]
            if left:
                self._codes[place] = left

    @property
    def places(self) -> set[str]:
        """Return the fields and sections that have a mistake."""
        return set(self._codes)

    @property
    def errors(self) -> dict[str, str]:
        """Return the mistakes as a form shows them.

        A place with several mistakes gets a list, which the frontend shows line by
        line. Home Assistant's type knows only single ones, but it does send lists
        itself (for schema errors).
        """
        return cast(
            "dict[str, str]",
            {
                place: codes if len(codes) > 1 else codes[0]
                for place, codes in self._codes.items()
            },
        )

    @property
    def placeholders(self) -> dict[str, str]:
        """Return the details of each mistake, by its code."""
        return {code: ", ".join(details) for code, details in self._details.items()}
