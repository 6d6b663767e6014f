"""French punctuation follows a no-break space, so that no line begins with it."""

import re

import pytest

from .test_screen_words import screens

SPACE = "\N{NO-BREAK SPACE}"

FAULTS = {
    # Times, table rules and URLs have colons of their own, "(%)" is a unit.
    r"(?<![\s\d:|*/-]):(?![-:/])": "Nom: valeur",
    r"(?<![\s(])[;!?%»]": "Ouvrir la vanne?",
    r"«(?!\s)": "«Bac vidé »",
    rf"(?!{SPACE})\s[:;!?%»]": "Ouvrir la vanne ?",
    rf"«(?!{SPACE})\s": "« Bac vidé",
    r"\s…": "Chargement …",
    r"’": "L’atelier",
}
"""What is wrong, and a text that has it."""


@pytest.mark.parametrize("pattern", FAULTS)
def test_no_mark_stands_alone_on_a_line(pattern: str) -> None:
    assert re.search(pattern, FAULTS[pattern])
    wrong = {
        key: text for key, text in screens("fr").items() if re.search(pattern, text)
    }
    assert wrong == {}
