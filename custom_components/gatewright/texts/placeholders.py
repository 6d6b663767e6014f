"""Texts with placeholders, such as `{name}`."""

from collections.abc import Iterator, Mapping
import re

_PLACEHOLDER = re.compile(r"\{(\w+)\}")


def fill(text: str, values: Mapping[str, str]) -> str:
    """Return a text with its placeholders filled; one without a value stays.

    Values are inserted unchanged: a machine may be called "{name}".
    """
    return "".join(pieces(text, values))


def pieces(text: str, values: Mapping[str, str]) -> Iterator[str]:
    """Yield the pieces of a text, with values in place of placeholders."""
    for number, piece in enumerate(_PLACEHOLDER.split(text)):
        yield values.get(piece, f"{{{piece}}}") if number % 2 else piece
