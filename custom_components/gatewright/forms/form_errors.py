"""The errors of a form, each at its field."""

from collections.abc import Iterable, Mapping
from typing import cast


class FormErrors:
    """All errors of one form.

    Home Assistant shows an error above its field, but none for a field inside a
    section. There it goes above the section, so its text has to name the field.
    """

    def __init__(self, sections: Mapping[str, Iterable[str]] | None = None) -> None:
        """Start without errors; `sections` has the fields of each section."""
        self._section_of = {
            field: section
            for section, fields in (sections or {}).items()
            for field in fields
        }
        self._codes: dict[str, list[str]] = {}
        self._details: dict[str, list[str]] = {}

    def __bool__(self) -> bool:
        """Return whether there is any error."""
        return bool(self._codes)

    def add(self, field: str, code: str, detail: str = "") -> None:
        """Add an error at a field; `detail` fills the text's placeholder `{code}`."""
        codes = self._codes.setdefault(self._section_of.get(field, field), [])
        if code not in codes:
            codes.append(code)
        details = self._details.setdefault(code, [])
        if detail and detail not in details:
            details.append(detail)

    def fresh(self) -> FormErrors:
        """Return an empty copy for the same form."""
        other = FormErrors()
        other._section_of = self._section_of
        return other

    def forgive(self, others: FormErrors, fields: Iterable[str]) -> None:
        """Remove the errors that `others` has at these fields as well."""
        for place in {self._section_of.get(field, field) for field in fields}:
            known = others._codes.get(place, ())
            left = [code for code in self._codes.pop(place, ()) if code not in known]
            if left:
                self._codes[place] = left

    @property
    def places(self) -> set[str]:
        """Return the fields and sections with an error."""
        return set(self._codes)

    @property
    def errors(self) -> dict[str, str]:
        """Return the errors as a form shows them.

        Several errors in one place become a list, which the frontend shows line by
        line. Home Assistant's type allows only single ones, but it sends lists itself
        (for schema errors).
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
        """Return the details of each error, by its code."""
        return {code: ", ".join(details) for code, details in self._details.items()}
